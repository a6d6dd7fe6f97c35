"""The logbook: every setup with its raw files in one SQLite file that never loses a sweep.

``store`` opens the file and makes transactions, ``schema`` holds its tables, ``values`` says how the facts of
``facts.py`` are written. ``setup_file``, ``defaults``, ``outing`` and ``adding`` bring sweeps in;
``finding``, ``listing``, ``reading`` and ``editing`` are its daily use; ``reviewed`` gives the figures of its sweeps,
with what ``sharing`` tells of their outing, and ``computed`` keeps them; ``exporting`` and ``importing`` move it;
``checking`` proves it. Nothing here loads numpy before a sweep is read.
"""

from sweepkit.logbook.adding import Added
from sweepkit.logbook.checking import check_logbook
from sweepkit.logbook.defaults import Last, find_last
from sweepkit.logbook.editing import Edit, edit_setup, edit_sweep, read_history
from sweepkit.logbook.export_file import read_export
from sweepkit.logbook.exporting import export_logbook
from sweepkit.logbook.finding import find_setup, find_sweep, list_sweeps
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
from sweepkit.logbook.reading import read_if_whole, read_logged_kit
from sweepkit.logbook.records import LoggedSweep, Setup
from sweepkit.logbook.reviewed import refresh_figures, summary_of
from sweepkit.logbook.store import Logbook, open_logbook

__all__ = [
    "Added",
    "Edit",
    "Imported",
    "Last",
    "Listed",
    "Logbook",
    "LoggedSweep",
    "Outcome",
    "Request",
    "Setup",
    "accept_record",
    "add_outing",
    "check_logbook",
    "edit_setup",
    "edit_sweep",
    "export_logbook",
    "find_last",
    "find_setup",
    "find_sweep",
    "import_logbook",
    "list_lines",
    "list_sweeps",
    "open_logbook",
    "parse_facts",
    "read_export",
    "read_history",
    "read_if_whole",
    "read_logged_kit",
    "refresh_figures",
    "refuse_exact_place",
    "setup_number",
    "summary_of",
]
