"""``sweepkit trim`` for several places, or for an antenna of several parts."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from sweepkit.antennas.catalogue import OF_DIPOLES
from sweepkit.cli import log_place
from sweepkit.cli.exits import Exit
from sweepkit.cli.log_place import known_antenna, line_and_place
from sweepkit.cli.option_groups import measured_place, resolve_lines
from sweepkit.cli.trim_told import deliver_plan
from sweepkit.errors import BadInput

if TYPE_CHECKING:
    from sweepkit.answers.bands_asked import BandsAsked
    from sweepkit.cli.trim_told import Told
    from sweepkit.kit import Kit
    from sweepkit.several_bands.answer import BandsPlan
    from sweepkit.several_bands.from_sweeps import Look
    from sweepkit.sweep import Sweep

SEVERAL_PARTS = (*OF_DIPOLES, "random-wire")  # kinds that are planned by places
# Keys of the kit that have no part in trimming for several places.
NOT_USED = ("radio.power_w", "radio.power_at_swr", "tuner.loss_db")


def is_for_several(told: Told, gear: Kit) -> bool:
    """Whether the answer is one for several places, or comes from the records alone."""
    if told.antenna is not None and not told.files and not told.start:
        return True
    wanted = told.wanted
    kind = None if told.start else kind_of(told, gear)
    return (
        max(len(wanted.places), places_of_kit(told, gear)) > 1
        or len(told.files) > 1
        or kind in SEVERAL_PARTS
        or bool(told.tapped)
        or bool(wanted.weights)
        or wanted.aim is not None
        or any("=" in text for text in told.wire.lengths or ())
    )


def kind_of(told: Told, gear: Kit) -> str | None:
    """The kind of the option, else the kit's, else the logbook's."""
    if told.wire.kind is not None or told.antenna is None:
        return told.wire.kind

    return known_antenna(told.antenna, gear, told.log).facts.get("kind")


def places_of_kit(told: Told, gear: Kit) -> int:
    """How many places the kit names for this antenna, where the options name none."""
    note = gear.antennas.get(told.antenna or "")
    named = told.wanted.places
    return 0 if note is None or named else len(note.places)


def refuse_for_several(told: Told) -> None:
    """Refuse what goes with one place only."""

    for option, asked in (
        ("--start", told.start),
        ("--must-work", told.wanted.must_work is not None),
        ("a check sweep", bool(told.checks.inputs)),
    ):
        if asked:
            raise BadInput(f"{option} is for one place; several are named; ask for each by itself")


def trim_bands(told: Told, gear: Kit) -> Exit:
    """Plan for several places, and print it."""
    from sweepkit.answers.bands_asked import plan_asked
    from sweepkit.reviews.heat import box_of

    asked = _asked(told, gear)
    look: Look = {"kit": gear, "draws": told.drawn.draws, "seed": told.drawn.seed}
    if told.antenna is not None:  # the logbook is loaded only then
        from sweepkit.answers.band_card import band_change_card, is_today
    if not told.files and told.antenna is not None:
        facts = known_antenna(told.antenna, gear, told.log).facts
        if not log_place.meant(told.log).exists():
            text = "no sweep is named and there is no logbook; name a file, or the logbook with --log"
            raise BadInput(text)
        return _show(told, band_change_card(asked, facts, None, look), [], gear)
    asked.places()
    if not told.files:
        raise BadInput("no sweep is named; one of the antenna as it stands was expected; name a file")
    sweeps = [_read(told, gear, file) for file in told.files]
    known = known_antenna(told.antenna, gear, told.log, present=sweeps[0].source.sha256)
    if not told.wire.lengths:
        log_place.say_state(known)
    if told.antenna is not None and is_today(asked, sweeps, known.facts):
        look["lines"] = resolve_lines(told.gear.line, gear)
        look["measured_at"] = measured_place(told.gear.measured_at)
        return _show(told, band_change_card(asked, known.facts, sweeps[0], look), sweeps, gear)
    look["lines"], look["measured_at"] = line_and_place(known, gear, told.gear)
    look["box"] = box_of(asked.note, gear.boxes)
    plan, before = plan_asked(asked, sweeps, known, look)
    return _show(told, plan, [*sweeps, *before], gear)


def _asked(told: Told, gear: Kit) -> BandsAsked:
    """The options as the floor below takes them."""
    from sweepkit.answers.bands_asked import BandsAsked

    words = {**vars(told.wire), **vars(told.wanted), **vars(told.tapped)}
    taken = {name: value for name, value in words.items() if name != "must_work" and value is not None}
    return BandsAsked(
        gear=gear,
        known=told.beside.known,
        read=lambda path: _read(told, gear, path),
        log=partial(log_place.open_named, told.log) if log_place.is_there(told.log) else None,
        antenna=told.antenna,
        region=told.region,
        choke_at=told.beside.choke_at,
        say=log_place.say,
        **told.drawn.both(),
        **taken,
    )


def _read(told: Told, gear: Kit, file: str | Path) -> Sweep:
    from sweepkit.cli.files import read_named

    return read_named(Path(file), **told.reading.hints(gear))


def _show(told: Told, plan: BandsPlan, sweeps: Sequence[Sweep], gear: Kit) -> Exit:
    """The page, then the answer on stdout."""
    from sweepkit.report.bands_page import bands_page

    inputs = [Path(sweep.source.path) for sweep in sweeps if sweep.source.path]
    inputs += [*([told.gear.kit] if told.gear.kit else []), *log_place.as_input(told.log)]
    told.output.check(inputs)
    known = (*NOT_USED, *(("region",) if told.region is not None else ()))
    return deliver_plan(
        told, gear, plan, partial(bands_page, plan, sweeps), plan.to_json, inputs, known=known
    )
