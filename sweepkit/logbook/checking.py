"""Check that the logbook is whole: the file itself, every raw file against its hash, every record by its digest."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sweepkit.errors import SweepkitError
from sweepkit.logbook.computed import opened_figures
from sweepkit.logbook.connections import LogConnection
from sweepkit.logbook.digests import digest_sql
from sweepkit.logbook.editing import history_of
from sweepkit.logbook.finding import leave_out_damaged, setups_where, sweeps_where
from sweepkit.logbook.raw import get_raw
from sweepkit.logbook.store import THE_FILE, Logbook

_SPOKEN_OF = "SELECT sha256 FROM sweep UNION SELECT kit_sha256 FROM setup"
MOST_OF_THE_FILE = 100  # faults of the file told one by one; common practice, no source


@dataclass(frozen=True)
class Check:
    """How many records are whole, the size of the whole raw files, not compressed, and what is wrong."""

    sweeps: int
    setups: int
    raw_files: int
    raw_bytes: int
    problems: tuple[str, ...]


def check_logbook(log: Logbook) -> Check:
    """Read everything once, write nothing, prove what can be proven, and name every record that is not whole."""
    faults = log.faults(MOST_OF_THE_FILE)
    if faults:
        log.turn_to_pages()
    raw_files, raw_bytes, sweeps, setups = log.read(_look_at_all)
    left_out = [f"{what}: {problem}" for what, problem in log.left_out.items() if what != THE_FILE]
    problems = [*faults, *left_out]
    return Check(sweeps, setups, raw_files, raw_bytes, tuple(problems))


def _look_at_all(connection: LogConnection) -> tuple[int, int, int, int]:
    """Count and size of the raw files, count of the sweeps and setups; what is damaged is left out by name."""
    leave_out_damaged(connection)
    setups, sweeps = setups_where(connection, {}), sweeps_where(connection, {})
    users: dict[str, str] = {s.kit_sha256: f"the kit of setup {s.id}" for s in setups if s.kit_sha256}
    users |= {sweep.sha256: f"sweep {sweep.id}" for sweep in sweeps}
    spoken_of = {name for (name,) in connection.execute(_SPOKEN_OF).fetchall()}
    lost, count, size = set(), 0, 0
    kept = [str(sha256) for (sha256,) in connection.execute("SELECT sha256 FROM raw").fetchall()]
    for sha256 in dict.fromkeys([*kept, *users]):
        user = users.get(sha256)
        try:
            size += len(get_raw(connection, sha256))
            count += 1
            if user is None and sha256 not in spoken_of:
                connection.leave_out(f"raw file {sha256[:12]}", "no whole record speaks of it")
        except SweepkitError as error:
            lost.add(user)
            if user is not None or sha256 not in spoken_of:
                connection.leave_out(user or f"raw file {sha256[:12]}", error.text)
    for what, problem in _of_figures_and_edits(connection):
        connection.leave_out(what, problem)
    return count, size, sum(f"sweep {sweep.id}" not in lost for sweep in sweeps), len(setups)


def _of_figures_and_edits(connection: LogConnection) -> Iterator[tuple[str, str]]:
    """Figures that are not as they were written, and rows that point nowhere; edits name themselves."""
    history_of(connection)
    for number, answer, is_as_written in connection.execute(
        f"SELECT sweep_id, answer, digest = {digest_sql('computed')} FROM computed"
    ).fetchall():
        if not is_as_written or opened_figures(answer) is None:
            yield f"figures of sweep {number}", "they are damaged; they are computed again when asked for"
    for table, row, parent, _ in connection.execute("PRAGMA foreign_key_check").fetchall():
        if table in ("computed", "history"):  # what a sweep or setup lacks is named with it
            yield f"row {row} of {table}", f"it points to a {parent} that is not there"
