"""Files of one folder, what is said of them, and what the last setup gives: one setup, one transaction."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from sweepkit.errors import BadInput
from sweepkit.facts import BY_NAME, Level, fact_of
from sweepkit.kit import Kit
from sweepkit.logbook.adding import Added, NewSetup, NewSweep, add_sweeps, utc_now
from sweepkit.logbook.defaults import Last, find_last, kit_defaults, setup_defaults, sweep_defaults
from sweepkit.logbook.finding import find_setup
from sweepkit.logbook.raw import sha256_of
from sweepkit.logbook.reading import raw_kit, read_logged_kit
from sweepkit.logbook.records import Setup, moment_of
from sweepkit.logbook.setup_file import SetupFile, read_setup_file
from sweepkit.logbook.store import Logbook
from sweepkit.logbook.values import COARSE_LOCATOR, parse_value

SAME_OUTING = timedelta(hours=12)  # a longer pause was likely a take-down; common practice, no source
WANTED = ("antenna", "site", "when", "measured_at", "kind", "length_m", "line")  # what every answer asks for
WANTED_OF_PIECE = ("when",)  # of a piece of line swept by itself
Facts = dict[str, Any]
RELATIVE_TIMES = ("now", "file")  # words for a time: this moment, or when the file was written


@dataclass(frozen=True)
class Request:
    """What the operator says of some files.

    ``facts`` are by name of ``facts.py``, where ``when`` may be a word of ``RELATIVE_TIMES``; ``hints`` are for the
    reader. ``fresh`` takes nothing over, ``exact_place`` keeps a locator finer than the square, ``setup`` (``S4`` or
    ``last``) adds to a setup that is there; ``kit`` is the kit file, ``gear`` what it says.
    """

    facts: Mapping[str, Any]
    hints: Mapping[str, Any] = field(default_factory=dict)
    fresh: bool = False
    exact_place: bool = False
    setup: str | None = None
    kit: bytes | None = None
    gear: Kit | None = None


@dataclass(frozen=True)
class Outcome:
    """What became of the files, and what to tell the operator.

    ``taken_over`` are facts that nobody stated, ``source`` where they come from: ``setup S4``, ``the kit``, or both.
    ``may_still_stand`` is the last setup, where the new one has the same antenna and site within ``SAME_OUTING``;
    ``unknown`` names ``WANTED`` facts that are not known.
    """

    added: tuple[Added, ...]
    taken_over: Mapping[str, Any]
    source: str
    may_still_stand: Setup | None
    unknown: tuple[str, ...]


def setup_number(text: str) -> int:
    """The number of a setup from ``S4``; ``BadInput`` for anything else."""
    digits = text[1:]
    if text[:1] not in ("S", "s") or not (digits.isascii() and digits.isdigit()) or len(digits) > 18:
        raise BadInput(f"{text!r} is no setup; one that log list shows was expected; write it like S4")
    return int(digits)


def add_outing(log: Logbook, files: Sequence[tuple[Path, bytes]], request: Request) -> Outcome:
    """Add files that lie in one folder, in the order they were swept, to one setup, in one transaction.

    What the request says goes before ``setup.toml``, which goes before the last setup and the kit.
    """
    note = read_setup_file(files[0][0].parent)
    stated = {**note.facts, **request.facts}
    if not request.exact_place:
        refuse_exact_place(stated)
    last = _last(log, stated.get("antenna"), request)
    from_kit = kit_defaults(request.gear, stated.get("antenna")) if request.gear and not request.setup else {}
    before = last.sweep.facts if last and last.sweep and not request.fresh else _of("sweep", from_kit)
    if request.setup is None:
        setup: NewSetup | int = _new_setup(log, _of("setup", stated), _of("setup", from_kit), last, request)
    else:
        setup = _standing(last, _of("setup", stated), request)
    by_line = "measured_at" not in before and _has_line(setup, last)
    if by_line:  # as for every command: at the radio unless told
        before = {**before, "measured_at": "radio"}
    sweeps = _new_sweeps(files, _of("sweep", stated), note, before, request.hints)
    added = add_sweeps(log, sweeps, setup=setup)
    if stated.get("when") in RELATIVE_TIMES:  # another moment each time it is asked, so no other fact
        added = [replace(one, differs=tuple(name for name in one.differs if name != "when")) for one in added]
    sources = [f"setup {last.setup.id}"] if last else []
    sources += ["the kit"] if from_kit else []
    sources += ["the line"] if by_line and "measured_at" not in stated else []
    return _outcome(tuple(added), setup, sweeps[0], last, sources)


def _has_line(setup: NewSetup | int, last: Last | None) -> bool:
    """Whether a line lies between the radio and the antenna of this setup."""
    if isinstance(setup, NewSetup):
        shared = {**setup.taken_over, **setup.facts}
    else:
        shared = {} if last is None else dict(last.setup.facts)
    return shared.get("line") not in (None, [], ["none"])


def _of(level: Level, facts: Mapping[str, Any]) -> Facts:
    return {name: value for name, value in facts.items() if BY_NAME[name].level == level}


def _last(log: Logbook, antenna: str | None, request: Request) -> Last | None:
    """The setup to take over from, or to add to."""
    if request.setup is None:
        return find_last(log, antenna=antenna) if antenna and not request.fresh else None
    if request.setup == "last":
        last = find_last(log, antenna=antenna) if antenna else None
        if last is None:
            found = f"there is no setup of {antenna!r} yet" if antenna else "no antenna was named"
            raise BadInput(f"--setup last: {found}; name an antenna of the logbook, or leave --setup out")
        return last
    setup, own = find_setup(log, setup_number(request.setup))
    return Last(setup, own[-1] if own else None)


def _new_setup(log: Logbook, stated: Facts, from_kit: Facts, last: Last | None, request: Request) -> NewSetup:
    """A setup with its defaults; names of lines must be in its kit, or nobody will know what they meant."""
    defaults = {**from_kit, **(setup_defaults(last, site=stated.get("site")) if last else {})}
    kit = request.kit or (raw_kit(log, last.setup) if last else None)
    if stated.get("line"):
        from sweepkit.kit import Kit
        from sweepkit.kit.choosing import resolve_pieces

        gear = request.gear or (read_logged_kit(log, last.setup) if last else Kit())
        resolve_pieces(stated["line"], gear.lines)
    return NewSetup(stated, defaults, kit)


def _standing(last: Last | None, stated: Facts, request: Request) -> int:
    """Number of a setup that is there; what is said of it must be so, changing it is an edit."""
    assert last is not None  # _last has refused a setup that is not there
    name = last.setup.id
    if request.kit is not None and sha256_of(request.kit) != last.setup.kit_sha256:
        raise BadInput(
            f"setup {name} was added with another kit; leave --kit out, or --setup for a new setup"
        )
    for fact, value in stated.items():
        if last.setup.facts.get(fact) != value:
            key = BY_NAME[fact].key
            raise BadInput(
                f"setup {name} has another {key} than stated, and all its sweeps share it; "
                f"change it with log edit {name} --set {key}=..., or leave --setup out for a new setup"
            )
    return last.setup.number


def _new_sweeps(
    files: Sequence[tuple[Path, bytes]],
    stated: Facts,
    note: SetupFile,
    before: Mapping[str, Any],
    hints: Mapping[str, Any],
) -> list[NewSweep]:
    """Each file with what is said of it and what it takes over from the one before."""
    later = {name: value for name, value in stated.items() if not BY_NAME[name].first_only}
    sweeps: list[NewSweep] = []
    for path, data in files:
        facts = with_time({**(later if sweeps else stated), **note.of_file.get(path.name, {})}, path)
        taken_over = sweep_defaults(before, facts)
        sweeps.append(NewSweep(path.name, data, facts, taken_over, hints))
        before = {name: value for name, value in {**taken_over, **facts}.items() if value is not None}
    return sweeps


def _outcome(
    added: tuple[Added, ...],
    setup: NewSetup | int,
    first: NewSweep,
    last: Last | None,
    sources: Sequence[str],
) -> Outcome:
    """What there is to tell, once all is on disk."""
    if not any(one.new for one in added):
        return Outcome(added, {}, "", None, ())
    shared = setup if isinstance(setup, NewSetup) else NewSetup(last.setup.facts if last else {})
    assumed = {**shared.taken_over, **first.taken_over}
    stated = {**shared.facts, **first.facts}
    known = {name for name, value in {**assumed, **stated}.items() if value is not None}
    known |= {"length_m"} if "lengths" in known else set()
    known |= {"line"} if {**assumed, **stated}.get("measured_at") == "feedpoint" else set()
    return Outcome(
        added,
        {name: value for name, value in assumed.items() if name not in stated},
        " and ".join(sources) or "the sweep before",
        last.setup if isinstance(setup, NewSetup) and last and _same_outing(last, stated) else None,
        tuple(name for name in (WANTED_OF_PIECE if "piece" in known else WANTED) if name not in known),
    )


def _same_outing(last: Last, stated: Facts) -> bool:
    """Whether the last setup of this antenna was swept at the same site within the same outing."""
    if last.sweep is None or not last.is_at(stated.get("site")):
        return False
    now = moment_of(stated.get("when") or utc_now())
    return abs(now - last.sweep.order[0]) < SAME_OUTING


def parse_facts(settings: Sequence[str]) -> dict[str, Any]:
    """Facts from ``key=value`` texts, as after ``--set``, by name of ``facts.py``; a list grows with each one.
    ``when`` may still be a word of ``RELATIVE_TIMES``.
    """
    facts: dict[str, Any] = {}
    for setting in settings:
        key, equals, written = setting.partition("=")
        if not equals:
            raise BadInput(
                f"--set {setting!r} has no '='; a word and its value were expected; write ground=wet"
            )
        known = fact_of(key)
        if known.kind == "when" and written in RELATIVE_TIMES:
            facts[known.name] = written
            continue
        value = parse_value(known, written)
        more = known.kind in ("texts", "words") and value is not None and facts.get(known.name)
        facts[known.name] = [*facts[known.name], *value] if more else value
    return facts


def with_time(facts: Mapping[str, Any], path: Path) -> dict[str, Any]:
    """``now`` and ``file`` as times with zone."""
    word = facts.get("when")
    if word not in RELATIVE_TIMES:
        return dict(facts)
    if word == "file" and not path.is_file():
        raise BadInput(
            "when=file takes the time at which a file was written, and this is none; tell when=now"
        )
    moment = datetime.now() if word == "now" else datetime.fromtimestamp(path.stat().st_mtime)
    return {**facts, "when": moment.astimezone().isoformat(timespec="seconds")}


def refuse_exact_place(facts: Mapping[str, Any]) -> None:
    """Refuse a place that tells more than its square."""
    grid = facts.get("grid")
    if grid and len(grid) > COARSE_LOCATOR:
        raise BadInput(
            f"grid: {grid!r} tells the place more exactly than its square; "
            f"write {grid[:COARSE_LOCATOR]}, or add --exact-place to keep it"
        )
