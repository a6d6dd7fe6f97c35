"""A logged sweep as a Sweep, through the readers with the hints it was added with; a logged kit as a Kit."""

from __future__ import annotations

import tempfile
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from sweepkit.errors import SweepkitError, UnreadableFile
from sweepkit.logbook.computed import raw_bytes
from sweepkit.logbook.finding import LEFT_OUT
from sweepkit.logbook.raw import get_raw, harmless_name
from sweepkit.logbook.records import LoggedSweep, Setup
from sweepkit.logbook.store import Logbook

if TYPE_CHECKING:
    from sweepkit.kit import Kit
    from sweepkit.sweep import Sweep


def read_logged_sweep(log: Logbook, logged: LoggedSweep) -> Sweep:
    """Read a sweep, measured where the logbook says; its source names the file as it was added."""
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


def read_if_whole(log: Logbook, logged: LoggedSweep) -> Sweep | None:
    """As ``read_logged_sweep``; a sweep whose raw file is damaged is left out by name."""
    try:
        raw_bytes(log, logged)
    except UnreadableFile as error:
        log.leave_out(f"sweep {logged.id}", f"{error.text}; {LEFT_OUT}")
        return None
    return read_logged_sweep(log, logged)


def raw_kit(log: Logbook, setup: Setup) -> bytes | None:
    """The kit file that was kept with a setup, byte for byte; ``None`` where none was."""
    sha256 = setup.kit_sha256
    return None if sha256 is None else log.read(lambda connection: get_raw(connection, sha256))


def read_logged_kit(log: Logbook, setup: Setup) -> Kit:
    """The gear that was kept with a setup; the stated defaults where none was."""
    from sweepkit.kit import Kit, read_kit

    data = raw_kit(log, setup)
    if data is None:
        return Kit()
    with tempfile.TemporaryDirectory(prefix="sweepkit-") as folder:
        path = Path(folder) / "kit.toml"
        path.write_bytes(data)
        try:
            return replace(read_kit(path), path=f"kit of setup {setup.id}")
        except SweepkitError as error:
            error.path = f"{log.path}: kit of setup {setup.id}"
            raise
