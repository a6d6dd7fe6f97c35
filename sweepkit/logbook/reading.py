"""A logged sweep as a Sweep: its raw file through the readers, with the hints it was added with."""

from __future__ import annotations

import tempfile
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from sweepkit.errors import SweepkitError
from sweepkit.logbook.computed import raw_bytes
from sweepkit.logbook.naming import harmless_name
from sweepkit.logbook.records import LoggedSweep
from sweepkit.logbook.store import Logbook

if TYPE_CHECKING:
    from sweepkit.sweep import Sweep


def read_logged_sweep(log: Logbook, logged: LoggedSweep) -> Sweep:
    """Read a sweep out of the logbook.

    Parameters
    ----------
    log : Logbook
        Open.
    logged : LoggedSweep
        One of its sweeps.

    Returns
    -------
    Sweep
        Measured at the place the logbook says; its source names the file as it was added.

    Raises
    ------
    UnreadableFile
        The logbook is damaged, or this version cannot read the file.
    """
    from sweepkit.readers import read_sweep

    with tempfile.TemporaryDirectory(prefix="sweepkit-") as folder:
        path = Path(folder) / harmless_name(logged.name)
        path.write_bytes(raw_bytes(log, logged))
        try:
            sweep = read_sweep(path, **logged.hints, measured_at=logged.facts.get("measured_at", "unknown"))
        except SweepkitError as error:
            error.path = f"{log.path}: sweep {logged.id}: {logged.name}"
            raise
    return replace(sweep, source=replace(sweep.source, path=logged.name))
