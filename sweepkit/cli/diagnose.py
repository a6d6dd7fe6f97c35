"""``sweepkit diagnose``: what is wrong, as text or JSON."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sweepkit.cli import log_place
from sweepkit.cli.exits import Exit
from sweepkit.cli.log_place import known_antenna, line_and_place
from sweepkit.cli.option_groups import (
    Between,
    Checks,
    Drawn,
    Gear,
    OptionGroup,
    Output,
    Reading,
    TestMade,
    command,
)
from sweepkit.cli.options import argument, option
from sweepkit.cli.reporting import deliver_page

if TYPE_CHECKING:
    from sweepkit.antennas.rungs import Rung
    from sweepkit.diagnosis.answer import Diagnosis
    from sweepkit.kit.known import KnownAntenna
    from sweepkit.report.page import Page
    from sweepkit.sweep import Place, Sweep


@dataclass(frozen=True, kw_only=True)
class Asked(OptionGroup):
    """What the sweeps are held against, and what is known of them."""

    baseline: Path | None = option(
        "--baseline", "The same antenna when it was good; FILE is then how it is now.", "FILE"
    )
    changed: str | None = option("--changed", 'What was changed, in your words: "moved coax, rain".', "WORDS")
    kind: str | None = option(
        "--kind",
        "dipole, inverted-vee, vertical, loaded-whip, end-fed, loop, random-wire, fan, linked or trap.",
        "KIND",
    )
    far_end: str = option(
        "--far-end", "What is at the far end of the line.", "antenna|open|short", default="antenna"
    )
    antenna: str | None = option("--antenna", "Kind and line from your kit or logbook.", "NAME")
    site: log_place.Site = None
    log: log_place.Log = None


@command
def diagnose(
    *,
    files: list[Path] = argument("FILE [SECOND [THIRD]]", "A sweep; or A and B; or A, B and A again."),
    asked: Asked,
    between: Between,
    tested: TestMade,
    gear: Gear,
    checks: Checks,
    drawn: Drawn,
    output: Output,
    reading: Reading,
) -> Exit:
    """Say what is wrong: did anything change, which causes live on, and the one test that splits them."""
    from sweepkit.answers.told import read_beside_all
    from sweepkit.cli.files import read_named
    from sweepkit.diagnosis.answer import told_end
    from sweepkit.diagnosis.answered import TEST_CODES
    from sweepkit.diagnosis.diagnose import diagnose as find_causes
    from sweepkit.diagnosis.told_words import read_told
    from sweepkit.kit import as_kit
    from sweepkit.report.diagnose_page import diagnose_page
    from sweepkit.reviews import review

    rung, end = between.rung(), told_end(asked.far_end)
    tested.check(TEST_CODES)
    kit = as_kit(gear.kit)
    known = known_antenna(asked.antenna, kit, asked.log)
    pieces, place = line_and_place(known, kit, gear)
    own = (asked.baseline, *files, *tested.inputs, *checks.inputs, gear.kit)
    inputs = [*(path for path in own if path is not None), *log_place.as_input(asked.log)]
    output.check(inputs)
    hints = reading.hints(kit)
    sweeps = [read_named(file, **hints) for file in files]
    good = None if asked.baseline is None else read_named(asked.baseline, **hints)
    kind, by_words = asked.kind or known.facts.get("kind"), rung or read_told(asked.changed).rung
    told = {"kind": kind, "line": pieces, "measured_at": None if place == "unknown" else place}
    beside = read_beside_all([*([] if good is None else [good]), *sweeps], told | {"rung": by_words})
    if beside is not None:
        for note in beside.notes:
            log_place.say(note)
        good, sweeps = beside.split(good)
        kind, pieces = kind or beside.facts.get("kind"), pieces or beside.line(kit)
        place = beside.measured_at if place == "unknown" else place
        rung = rung or beside.rung_between(good)
    if good is None and asked.antenna is not None and len(sweeps) == 1:
        now_facts = dict(beside.each[0]) if beside is not None else {}
        now_facts |= {} if asked.site is None else {"site": asked.site}
        at = "radio" if place == "unknown" and pieces else place  # as a review takes it
        good, since = _logged_baseline(known, asked.antenna, asked.log, sweeps[0], place=at, beside=now_facts)
        rung = rung or (since if by_words is None else None)
    look: dict[str, Any] = {"kit": kit, "lines": pieces, "measured_at": place, **drawn.both()}
    look["checks"] = checks.read(kit)
    diagnosis = find_causes(
        sweeps,
        baseline=good,
        changed=asked.changed,
        kind=kind,
        rung=rung,
        far_end=end,
        test=tested.read(**hints),
        **look,
    )
    ordered = sweeps if good is None else [good, *sweeps]

    def page(*, pictures: bool) -> Page:
        reviews = [review(sweep, **_fitting(look, sweep)) for sweep in ordered] if pictures else []
        return diagnose_page(diagnosis, ordered, made=drawn.made(gear.kit), reviews=reviews)

    return deliver_page(output, page, lambda: _document(diagnosis), inputs)


def _document(diagnosis: Diagnosis) -> dict[str, Any]:
    """The JSON; what people should know beside it goes to stderr."""
    for note in diagnosis.notes:
        log_place.say(note)
    return diagnosis.to_json()


def _logged_baseline(
    known: KnownAntenna, antenna: str, log: Path | None, now: Sweep, *, place: Place, beside: dict[str, Any]
) -> tuple[Sweep | None, Rung | None]:
    """The baseline and what lies between; none where it was measured at another connector."""
    if not known.setup:
        return None, None
    from sweepkit.antennas.rungs import WORDS
    from sweepkit.records.nearest import find_baseline, words_of

    with log_place.open_named(log) as opened:
        found = find_baseline(opened, known, antenna, now, place=place, beside=beside)
    if found is None:
        return None, None
    name = f"sweep {found.logged.id}"
    if found.sweep is None:
        log_place.say(
            f"{name} would be a baseline, but was measured at: {found.measured_at}; --measured-at tells"
        )
        return None, None
    held = f"held against what {WORDS[found.rung]} does; --kept, --rejoined and --put-up-again tell it better"
    other = f", which had another {words_of(found.differs)}" if found.differs else ""
    log_place.say(f"the baseline is {name}, {found.logged.name}{other}, {held}")
    return found.sweep, found.rung


def _fitting(told: dict[str, Any], sweep: Sweep) -> dict[str, Any]:
    """What is told, without a line for a sweep that has no phase to be moved along it; its own place where told."""
    place = sweep.measured_at if told["measured_at"] == "unknown" else told["measured_at"]
    return told | {"measured_at": place} | ({} if sweep.phase == "signed" else {"lines": None})
