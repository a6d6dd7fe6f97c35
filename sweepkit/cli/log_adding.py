"""``log add``: files, what is said of them and the last setup's defaults, in one transaction per folder."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sweepkit.errors import BadInput
from sweepkit.logbook.adding import Added, NewSetup, NewSweep, add_sweeps, utc_now
from sweepkit.logbook.defaults import Last, find_last, setup_defaults, sweep_defaults
from sweepkit.logbook.fields import BY_NAME, field_of
from sweepkit.logbook.finding import setup_numbered, sweeps_where
from sweepkit.logbook.raw import read_file, sha256_of
from sweepkit.logbook.records import moment_of
from sweepkit.logbook.setup_file import SetupFile, read_setup_file
from sweepkit.logbook.values import COARSE_LOCATOR, parse_value

if TYPE_CHECKING:
    from sweepkit.logbook import Logbook, Setup

RELATIVE_TIMES = ("now", "file")  # words for --when: this moment, or the time the file was written
SAME_OUTING = timedelta(hours=12)  # a longer pause was likely a take-down; common practice, no source
WANTED = (
    "antenna",
    "site",
    "when",
    "measured_at",
    "kind",
    "length_m",
    "line",
)  # what review, trim, compare use
Facts = dict[str, Any]


@dataclass(frozen=True)
class Request:
    """What the command line says.

    Parameters
    ----------
    facts : mapping
        By name of ``fields.py``; ``when`` may be a word of ``RELATIVE_TIMES``.
    hints : mapping
        For the reader.
    fresh : bool
        Take nothing over.
    exact_place : bool
        Keep a locator finer than the square.
    setup : str or None
        ``S4`` or ``last``: add to a setup that is there.
    kit : bytes or None
        The kit file.
    """

    facts: Mapping[str, Any]
    hints: Mapping[str, Any] = field(default_factory=dict)
    fresh: bool = False
    exact_place: bool = False
    setup: str | None = None
    kit: bytes | None = None


@dataclass(frozen=True)
class GoodFile:
    """A file that can be read as a sweep, with its bytes."""

    path: Path
    data: bytes


@dataclass(frozen=True)
class Outcome:
    """What became of the files of one folder, and what to tell the user.

    Parameters
    ----------
    added : tuple
        Each file with what was done.
    taken_over : mapping
        Facts that nobody stated, from the setup ``source``.
    source : Setup or None
        ``None`` where nothing was taken over.
    may_still_stand : Setup or None
        The last setup, where the new one has the same antenna and site within ``SAME_OUTING``.
    unknown : tuple of str
        Names of ``WANTED`` facts that are not known.
    """

    added: tuple[tuple[GoodFile, Added], ...]
    taken_over: Mapping[str, Any]
    source: Setup | None
    may_still_stand: Setup | None
    unknown: tuple[str, ...]


def parse_facts(settings: Sequence[str]) -> Facts:
    """Facts from ``key=value`` texts; a list grows with each one.

    Parameters
    ----------
    settings : sequence of str
        As after ``--set``.

    Raises
    ------
    BadInput
        No such field, or no such value.
    """
    facts: Facts = {}
    for setting in settings:
        key, equals, written = setting.partition("=")
        if not equals:
            raise BadInput(f"--set {setting!r} has no '='; write it like --set ground=wet")
        known = field_of(key)
        if known.kind == "when" and written in RELATIVE_TIMES:
            facts[known.name] = written
            continue
        value = parse_value(known, written)
        more = known.kind in ("texts", "words") and value is not None and facts.get(known.name)
        facts[known.name] = [*facts[known.name], *value] if more else value
    return facts


def read_good_file(path: Path, hints: Mapping[str, Any]) -> GoodFile:
    """A file's bytes, once the readers have made a sweep of them.

    Parameters
    ----------
    path : Path
        The file.
    hints : mapping
        For the reader.

    Raises
    ------
    SweepkitError
        It cannot be read as a sweep.
    """
    from sweepkit.readers import read_sweep

    data = read_file(path)
    if read_sweep(path, **hints).source.sha256 != sha256_of(data):
        raise BadInput("the file changed while it was read; add it again", path=str(path))
    return GoodFile(path, data)


def by_folder(files: Sequence[GoodFile]) -> list[list[GoodFile]]:
    """Files that lie together, in order: each folder has its own ``setup.toml``."""
    return [list(group) for _, group in groupby(files, key=lambda file: file.path.parent)]


def add_folder(log: Logbook, files: Sequence[GoodFile], request: Request) -> Outcome:
    """Add files that lie in one folder to one setup, in one transaction.

    Parameters
    ----------
    log : Logbook
        Open for writing.
    files : sequence of GoodFile
        In the order they were swept.
    request : Request
        What the command line says; it goes before ``setup.toml``, which goes before the last setup.

    Returns
    -------
    Outcome
        All on disk.

    Raises
    ------
    SweepkitError
        Nothing of it was added.
    """
    note = read_setup_file(files[0].path.parent)
    stated = {**note.facts, **request.facts}
    keep_place_coarse(stated, exact=request.exact_place)
    of_setup = {name: value for name, value in stated.items() if BY_NAME[name].level == "setup"}
    of_sweep = {name: value for name, value in stated.items() if BY_NAME[name].level == "sweep"}
    last = _last(log, of_setup.get("antenna"), request)
    if request.setup is not None and last is not None:
        _refuse_other_facts(last, of_setup, request.kit)
        setup: NewSetup | int = last.setup.number
        defaults: Facts = {}
    else:
        defaults = setup_defaults(last, site=of_setup.get("site")) if last else {}
        setup = NewSetup(of_setup, defaults, request.kit)
    before = last.sweep.facts if last and last.sweep and not request.fresh else {}
    sweeps = _new_sweeps(files, of_sweep, note, before, request.hints)
    added = add_sweeps(log, sweeps, setup=setup)
    if stated.get("when") in RELATIVE_TIMES:
        added = [replace(one, differs=tuple(name for name in one.differs if name != "when")) for one in added]
    return _outcome(tuple(zip(files, added, strict=True)), setup, sweeps[0], last)


def _outcome(
    added: tuple[tuple[GoodFile, Added], ...], setup: NewSetup | int, first: NewSweep, last: Last | None
) -> Outcome:
    """What there is to tell, once all is on disk."""
    if not any(one.new for _, one in added):
        return Outcome(added, {}, None, None, ())
    shared = setup if isinstance(setup, NewSetup) else NewSetup(last.setup.facts if last else {})
    assumed = {**shared.taken_over, **first.taken_over}
    stated = {**shared.facts, **first.facts}
    taken_over = {name: value for name, value in assumed.items() if name not in stated}
    known = {name for name, value in {**assumed, **stated}.items() if value is not None}
    return Outcome(
        added,
        taken_over,
        last.setup if last and taken_over else None,
        last.setup if isinstance(setup, NewSetup) and last and _same_outing(last, stated) else None,
        tuple(name for name in WANTED if name not in known),
    )


def _same_outing(last: Last, stated: Facts) -> bool:
    """Whether the last setup of this antenna was swept at the same site within the same outing."""
    if last.sweep is None or not last.is_at(stated.get("site")):
        return False
    now = moment_of(stated.get("when") or utc_now())
    return abs(now - last.sweep.order[0]) < SAME_OUTING


def _last(log: Logbook, antenna: str | None, request: Request) -> Last | None:
    """The setup to take over from, or to add to."""
    if request.setup is None:
        return find_last(log, antenna=antenna) if antenna and not request.fresh else None
    if request.setup == "last":
        if not antenna:
            raise BadInput("--setup last needs --antenna to know whose last setup is meant")
        last = find_last(log, antenna=antenna)
        if last is None:
            raise BadInput(f"there is no setup of {antenna!r} yet; leave --setup out to make the first")
        return last
    number = setup_number(request.setup)
    with log.reading() as connection:
        setup = setup_numbered(connection, number)
        own = sweeps_where(connection, {"setup.id": number})
    return Last(setup, own[-1] if own else None)


def setup_number(text: str) -> int:
    """The number of a setup from ``S4``; ``BadInput`` for anything else."""
    digits = text[1:]
    if text[:1] not in ("S", "s") or not (digits.isascii() and digits.isdigit()) or len(digits) > 18:
        raise BadInput(f"{text!r} is no setup; write it like S4, as log list shows it")
    return int(digits)


def _refuse_other_facts(last: Last, stated: Facts, kit: bytes | None) -> None:
    """What is said of a setup that is there must be so; changing it is an edit."""
    if kit is not None and sha256_of(kit) != last.setup.kit_sha256:
        raise BadInput(f"setup {last.setup.id} was added with another kit file; leave --kit or --setup out")
    for name, value in stated.items():
        if last.setup.facts.get(name) != value:
            key = BY_NAME[name].key
            raise BadInput(
                f"setup {last.setup.id} does not have {key} as stated; its sweeps share it; "
                f"change it with log edit {last.setup.id} --set {key}=..., or leave --setup out for a new one"
            )


def _new_sweeps(
    files: Sequence[GoodFile],
    stated: Facts,
    note: SetupFile,
    before: Mapping[str, Any],
    hints: Mapping[str, Any],
) -> list[NewSweep]:
    """Each file with what is said of it and what it takes over from the one before."""
    sweeps = []
    for position, file in enumerate(files):
        shared = {
            name: value for name, value in stated.items() if position == 0 or not BY_NAME[name].first_only
        }
        facts = {**shared, **note.of_file.get(file.path.name, {})}
        facts = _with_time(facts, file.path)
        taken_over = sweep_defaults(before, facts)
        sweeps.append(NewSweep(file.path.name, file.data, facts, taken_over, hints))
        before = {name: value for name, value in {**taken_over, **facts}.items() if value is not None}
    return sweeps


def _with_time(facts: Facts, path: Path) -> Facts:
    """``now`` and ``file`` as times with zone."""
    word = facts.get("when")
    if word not in RELATIVE_TIMES:
        return facts
    moment = datetime.now() if word == "now" else datetime.fromtimestamp(path.stat().st_mtime)
    return {**facts, "when": moment.astimezone().isoformat(timespec="seconds")}


def keep_place_coarse(facts: Facts, *, exact: bool) -> None:
    """A place finer than its square is kept only when asked for."""
    grid = facts.get("grid")
    if grid and len(grid) > COARSE_LOCATOR and not exact:
        raise BadInput(
            f"grid: {grid!r} tells the place more exactly than its square; "
            f"write {grid[:COARSE_LOCATOR]}, or add --exact-place to keep it"
        )
