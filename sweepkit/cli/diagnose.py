"""``sweepkit diagnose``: what is wrong, as text or JSON."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sweepkit.cli import log_place, options
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
    from sweepkit.diagnosis.answer import Diagnosis
    from sweepkit.records.nearest import Baseline
    from sweepkit.report.page import Page
    from sweepkit.sweep import Sweep


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
    units: options.Units = "metric",
    reading: Reading,
) -> Exit:
    """Say what is wrong: did anything change, which causes live on, and the one test that splits them."""
    from sweepkit.answers.diagnosis import hold_against
    from sweepkit.cli.files import read_named
    from sweepkit.diagnosis.answer import told_end
    from sweepkit.diagnosis.answered import TEST_CODES
    from sweepkit.diagnosis.diagnose import diagnose as find_causes
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
    held = hold_against(
        sweeps,
        good,
        known,
        kit,
        lines=pieces,
        measured_at=place,
        kind=asked.kind,
        changed=asked.changed,
        rung=rung,
        antenna=asked.antenna,
        site=asked.site,
        open_log=partial(log_place.open_named, asked.log),
    )
    for note in (*held.notes, *_of_logbook(held.logged)):
        log_place.say(note)
    look: dict[str, Any] = {"kit": kit, "checks": checks.read(kit), **drawn.both()}
    diagnosis = find_causes(
        held.now, changed=asked.changed, far_end=end, test=tested.read(**hints), **held.told, **look
    )
    look |= {name: held.told[name] for name in ("lines", "measured_at")}

    def page(*, pictures: bool) -> Page:
        reviews = [review(sweep, **_fitting(look, sweep)) for sweep in held.all] if pictures else []
        made, imperial = drawn.made(gear.kit), units == "imperial"
        return diagnose_page(diagnosis, held.all, made=made, reviews=reviews, imperial=imperial)

    return deliver_page(output, page, lambda: _document(diagnosis), inputs)


def _document(diagnosis: Diagnosis) -> dict[str, Any]:
    """The JSON; what people should know beside it goes to stderr."""
    for note in diagnosis.notes:
        log_place.say(note)
    return diagnosis.to_json()


def _of_logbook(found: Baseline | None) -> Iterator[str]:
    """What the logbook has for a baseline; it is none where it was measured at another connector."""
    if found is None:
        return
    from sweepkit.antennas.rungs import WORDS
    from sweepkit.records.nearest import words_of

    name = f"sweep {found.logged.id}"
    if found.sweep is None:
        yield f"{name} would be a baseline, but was measured at: {found.measured_at}; --measured-at tells"
        return
    held = f"held against what {WORDS[found.rung]} does; --kept, --rejoined and --put-up-again tell it better"
    other = f", which had another {words_of(found.differs)}" if found.differs else ""
    yield f"the baseline is {name}, {found.logged.name}{other}, {held}"


def _fitting(told: dict[str, Any], sweep: Sweep) -> dict[str, Any]:
    """What is told, without a line for a sweep that has no phase to be moved along it; its own place where told."""
    place = sweep.measured_at if told["measured_at"] == "unknown" else told["measured_at"]
    return told | {"measured_at": place} | ({} if sweep.phase == "signed" else {"lines": None})
