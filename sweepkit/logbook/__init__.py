"""The logbook: every setup with its raw files in one SQLite file that never loses a sweep.

``store`` opens the file and makes transactions, ``schema`` holds its tables, ``values`` says how the facts of
``facts.py`` are written. ``setup_file``, ``defaults``, ``outing`` and ``adding`` bring sweeps in;
``finding``, ``listing``, ``reading`` and ``editing`` are its daily use; ``reviewed`` gives the figures of its sweeps,
which ``computed`` keeps; ``exporting`` and ``importing`` move it; ``checking`` proves it. Nothing here loads
numpy before a sweep is read.
"""

from sweepkit.logbook.adding import Added, NewSetup, NewSweep, add_setup, add_sweeps
from sweepkit.logbook.checking import Check, check_logbook
from sweepkit.logbook.computed import raw_bytes
from sweepkit.logbook.defaults import Last, find_last, setup_defaults, sweep_defaults
from sweepkit.logbook.editing import Edit, edit_setup, edit_sweep, read_history
from sweepkit.logbook.export_file import read_export
from sweepkit.logbook.exporting import export_logbook
from sweepkit.logbook.finding import find_setup, find_sweep, list_setups, list_sweeps
from sweepkit.logbook.importing import Imported, import_logbook
from sweepkit.logbook.listing import Listed, list_lines
from sweepkit.logbook.mending import accept_record
from sweepkit.logbook.outing import (
    Outcome,
    Request,
    add_outing,
    parse_facts,
    refuse_exact_place,
    setup_number,
)
from sweepkit.logbook.reading import raw_kit, read_if_whole, read_logged_kit, read_logged_sweep
from sweepkit.logbook.records import LoggedSweep, Setup
from sweepkit.logbook.reviewed import refresh_figures, summaries, summary_of
from sweepkit.logbook.setup_file import SetupFile, read_setup_file
from sweepkit.logbook.store import Logbook, open_logbook

__all__ = [
    "Added",
    "Check",
    "Edit",
    "Imported",
    "Last",
    "Listed",
    "Logbook",
    "LoggedSweep",
    "NewSetup",
    "NewSweep",
    "Outcome",
    "Request",
    "Setup",
    "SetupFile",
    "accept_record",
    "add_outing",
    "add_setup",
    "add_sweeps",
    "check_logbook",
    "edit_setup",
    "edit_sweep",
    "export_logbook",
    "find_last",
    "find_setup",
    "find_sweep",
    "import_logbook",
    "list_lines",
    "list_setups",
    "list_sweeps",
    "open_logbook",
    "parse_facts",
    "raw_bytes",
    "raw_kit",
    "read_export",
    "read_history",
    "read_if_whole",
    "read_logged_kit",
    "read_logged_sweep",
    "read_setup_file",
    "refresh_figures",
    "refuse_exact_place",
    "setup_defaults",
    "setup_number",
    "summaries",
    "summary_of",
    "sweep_defaults",
]
