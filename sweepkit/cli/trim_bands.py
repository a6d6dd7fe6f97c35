"""``sweepkit trim`` for several places, or for an antenna of several parts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

from sweepkit.cli import log_place
from sweepkit.cli.delivery import deliver_page
from sweepkit.cli.exits import Exit

if TYPE_CHECKING:
    from sweepkit.cli.trim_options import Told
    from sweepkit.kit import AntennaNote, Kit
    from sweepkit.several_bands.answer import Aim, BandsPlan
    from sweepkit.several_bands.places import Place
    from sweepkit.several_bands.whip import WhipWish
    from sweepkit.sweep import Sweep

OF_PARTS = ("fan", "linked", "trap")
# Keys of the kit that have no part in trimming for several places.
NOT_USED = ("radio.power_w", "radio.power_at_swr", "tuner.loss_db")


def is_for_several(told: Told, gear: Kit, *, start: bool) -> bool:
    """Whether the answer is one for several places, or comes from the records alone."""
    if told.antenna is not None and not told.files and not start:
        return True
    wanted = told.wanted
    kind = None if start else kind_of(told, gear)
    return (
        max(len(wanted.places), places_of_kit(told, gear)) > 1
        or len(told.files) > 1
        or kind in (*OF_PARTS, "random-wire")
        or bool(told.tapped)
        or bool(wanted.weights)
        or wanted.aim is not None
        or any("=" in text for text in told.wire.lengths or ())
    )


def kind_of(told: Told, gear: Kit) -> str | None:
    """The kind of the option, else the kit's, else the logbook's."""
    if told.wire.kind is not None or told.antenna is None:
        return told.wire.kind
    from sweepkit.cli.logged_antenna import known_antenna

    return known_antenna(told.antenna, gear, told.log).facts.get("kind")


def places_of_kit(told: Told, gear: Kit) -> int:
    """How many places the kit names for this antenna, where the options name none."""
    note = gear.antennas.get(told.antenna or "")
    named = told.wanted.places
    return 0 if note is None or named else len(note.places)


def refuse_for_several(*, start: bool, must_work: str | None) -> None:
    """What goes with one place only.

    Raises ``BadInput``: one of these was asked for.
    """
    from sweepkit.errors import BadInput

    for option, asked in (("--start", start), ("--must-work", must_work is not None)):
        if asked:
            raise BadInput(f"{option} is for one place; several are named; ask for each by itself")


def trim_bands(told: Told, gear: Kit) -> Exit:
    """Plan for several places, and print it."""
    from sweepkit.cli.logged_antenna import known_antenna, line_and_place
    from sweepkit.cli.logged_bands import band_change_card
    from sweepkit.errors import BadInput
    from sweepkit.readers import read_sweep
    from sweepkit.reviews.heat import box_of

    if not told.files and told.antenna is not None:
        facts = known_antenna(told.antenna, gear, told.log).facts
        return _show(told, band_change_card(told, gear, facts, None), [], gear)
    places = places_told(told, gear)
    if not told.files:
        raise BadInput("no sweep is named; one of the antenna as it stands was expected; name a file")
    sweeps = [read_sweep(file, **told.reading.hints(gear)) for file in told.files]
    known = known_antenna(told.antenna, gear, told.log, present=sweeps[0].source.sha256)
    if _is_today(told, known.facts):
        plan = band_change_card(told, gear, known.facts, sweeps[0])
        return _show(told, plan, sweeps, gear)
    pieces, place = line_and_place(known, gear, told.gear)
    box = box_of(gear.antennas.get(told.antenna or ""), gear.boxes)
    look = {"kit": gear, "lines": pieces, "measured_at": place, "box": box, **told.drawn.both()}
    plan, before = _plan(_Asked(told, sweeps, places, known.facts, look))
    return _show(told, plan, [*sweeps, *before], gear)


def _is_today(told: Told, facts: Mapping[str, Any]) -> bool:
    """One sweep of a whip with two settings or more on record: its card, moved by what today differs."""
    from sweepkit.cli.logged_bands import settings_of
    from sweepkit.records.settings import settings_apart

    kind = told.wire.kind or facts.get("kind")
    alone = (
        len(told.files) == 1 and not told.wire.earlier and told.antenna is not None and kind == "loaded-whip"
    )
    return alone and settings_apart(settings_of(told)) >= 2


def places_told(told: Told, gear: Kit) -> tuple[Place, ...]:
    """The places of the options.

    Raises ``BadInput``: none, one twice, or a weight for one that is not named.
    """
    from sweepkit.errors import BadInput
    from sweepkit.several_bands.places import places_of

    note = gear.antennas.get(told.antenna or "")
    named = bool(told.wanted.places)
    places = places_of(
        bands=told.wanted.bands or () if named or note is None else note.places,
        segments=told.wanted.segments or (),
        targets=told.wanted.targets or (),
        weights=told.wanted.weights or ({} if named or note is None else note.weights),
        region=gear.region if told.region is None else told.region,
    )
    if not places:
        raise BadInput("no place is named; say where it is to work, with --band, --segment or --target")
    return places


def aim_of(text: str | None) -> Aim:
    """``--aim`` as written.

    Raises ``BadInput``: another word than mean or worst.
    """
    from sweepkit.errors import BadInput

    if text not in (None, "mean", "worst"):
        raise BadInput(f"--aim is {text!r}; it is mean or worst")
    return cast("Aim", text or "mean")


def choke_m_of(text: str | None, facts: Mapping[str, Any]) -> float | None:
    """How far down the coax the choke sits; ``None`` for none, or where nobody told. [m]"""
    from sweepkit.errors import BadInput
    from sweepkit.quantities import parse_length_m

    text = text if text is not None else facts.get("choke_at")
    if text is None or text == "none":
        return None
    length_m = parse_length_m(text)
    if length_m < 0:
        raise BadInput(f"--choke-at is {text!r}; it is 0 m at the box, or how far down the coax, or none")
    return length_m


def one_length_m(told: Told, facts: Mapping[str, Any]) -> float:
    """The length of the one wire.

    Raises ``BadInput``: none, two, or one for a place.
    """
    from sweepkit.cli.trim_options import length_m_of
    from sweepkit.errors import BadInput

    lengths: Sequence[str | None] = told.wire.lengths or [None]
    if len(lengths) > 1:
        raise BadInput("--length is given twice and takes one value; leave one out")
    if lengths[0] and "=" in lengths[0]:
        raise BadInput(
            f"--length is {lengths[0]!r}; one length of the whole part was expected; lengths by place are for "
            f"{', '.join(OF_PARTS)}"
        )
    return length_m_of(lengths[0], facts, needed=True)


@dataclass(frozen=True)
class _Asked:
    """The options, what was swept, where it is to work, what is known of it, and how it is looked at."""

    told: Told
    sweeps: Sequence[Sweep]
    places: Sequence[Place]
    facts: Mapping[str, Any]
    look: dict[str, Any]

    def read(self, path: str) -> Sweep:
        """An earlier sweep."""
        from sweepkit.readers import read_sweep

        return read_sweep(path, **self.told.reading.hints(self.look["kit"]))


def _plan(asked: _Asked) -> tuple[BandsPlan, list[Sweep]]:
    """The plan, and the earlier sweeps it rests on."""
    from sweepkit.antennas.catalogue import kind_named
    from sweepkit.errors import BadInput
    from sweepkit.several_bands.from_sweeps import plan_bands
    from sweepkit.several_bands.one_wire import WireWish
    from sweepkit.trim.request import parse_earlier, parse_lie, parse_move, parse_positive_m

    told, facts = asked.told, asked.facts
    name = told.wire.kind or facts.get("kind")
    if name is None:
        raise BadInput("the kind of antenna is not told; add --kind, such as --kind end-fed")
    if name in OF_PARTS:
        return _plan_parts(asked, name)
    kind = kind_named(name)
    if name == "loaded-whip":
        return _plan_whip(asked)
    if kind.answer is None:
        return _plan_random(asked), []
    by = parse_move(told.wire.by, kind)
    tail_m = (
        facts.get("tail_m", 0.0) if told.wire.tail is None else parse_positive_m(told.wire.tail, "--tail")
    )
    wish = WireWish(
        kind,
        one_length_m(told, facts),
        by,
        aim_of(told.wanted.aim),
        told.beside.known(facts),
        choke_m_of(told.beside.choke_at, facts),
        float(tail_m or 0.0),
        parse_lie(told.wire.tail_lies),
    )
    earlier = [parse_earlier(text, by) for text in told.wire.earlier or ()]
    before = [(state, asked.read(path)) for state, path in earlier]
    plan = plan_bands(asked.sweeps, asked.places, wish, earlier=before, **asked.look)
    return plan, [sweep for _, sweep in before]


def _plan_parts(asked: _Asked, kind: str) -> tuple[BandsPlan, list[Sweep]]:
    """The plan for a fan, a linked or a trap dipole."""
    from sweepkit.errors import BadInput
    from sweepkit.several_bands.from_sweeps import plan_parts_from_sweeps
    from sweepkit.several_bands.parts import PartsWish
    from sweepkit.several_bands.places import by_place, parse_lengths_m
    from sweepkit.several_bands.told import parse_logged_lengths_m, parse_part_state
    from sweepkit.trim.request import MOVES, parse_lie

    told, facts = asked.told, asked.facts
    by = told.wire.by or "fold"
    if by not in MOVES:
        raise BadInput(f"--by is {by!r}; it is one of {', '.join(MOVES)}")
    lengths = (
        parse_lengths_m(told.wire.lengths)
        if told.wire.lengths
        else parse_logged_lengths_m(facts.get("lengths", ""))
    )
    lengths = by_place(lengths, asked.places, "--length")
    wish = PartsWish(
        cast(Any, kind), lengths, cast(Any, by), aim_of(told.wanted.aim), parse_lie(told.wire.tail_lies)
    )
    earlier = [parse_part_state(text, asked.places) for text in told.wire.earlier or ()]
    before = [asked.read(path) for _, _, path in earlier]
    states = [(part, length_m, sweep) for (part, length_m, _), sweep in zip(earlier, before, strict=True)]
    return plan_parts_from_sweeps(asked.sweeps, asked.places, wish, earlier=states, **asked.look), before


def _plan_whip(asked: _Asked) -> tuple[BandsPlan, list[Sweep]]:
    """Settings of a whip."""
    from sweepkit.several_bands.from_sweeps import plan_whip_from_sweeps
    from sweepkit.several_bands.told import parse_whip_state

    told, facts = asked.told, asked.facts
    wish = whip_wish(told, facts, asked.look["kit"].antennas.get(told.antenna or ""))
    earlier = [parse_whip_state(text, tap=wish.tap, whip_m=wish.length_m) for text in told.wire.earlier or ()]
    before = [asked.read(path) for _, _, path in earlier]
    states = [(tap, whip_m, sweep) for (tap, whip_m, _), sweep in zip(earlier, before, strict=True)]
    return plan_whip_from_sweeps(asked.sweeps, asked.places, wish, earlier=states, **asked.look), before


def whip_wish(told: Told, facts: Mapping[str, Any], note: AntennaNote | None) -> WhipWish:
    """The whip as told.

    Raises ``BadInput``: a tap above the turns or between the steps, a whip outside its range, or what cannot be
    read.
    """
    from sweepkit.several_bands.told import parse_logged_tap, parse_range_m
    from sweepkit.several_bands.whip import WhipWish
    from sweepkit.several_bands.whip_model import Coil, Ground
    from sweepkit.trim.request import parse_positive_m

    known, coil = told.beside.known(facts), vars(told.tapped)

    def length_m(key: str, option: str) -> float | None:
        text = coil[key]
        return getattr(note, f"{key}_m", None) if text is None else parse_positive_m(text, option)

    def number(key: str) -> float | None:
        value = coil[key] if coil[key] is not None else getattr(note, key, None)
        return parse_logged_tap(facts) if value is None and key == "tap" else value

    reach = coil["whip_range"]
    return WhipWish(
        one_length_m(told, facts),
        aim_of(told.wanted.aim),
        number("tap"),
        number("turns"),
        number("tap_step") or 1.0,
        getattr(note, "whip_range_m", None) if reach is None else parse_range_m(reach),
        Coil(
            length_m("coil_diameter", "--coil-diameter"),
            length_m("coil_pitch", "--coil-pitch"),
            known.coil_h if number("tap") is None else None,
        ),
        Ground(known.radials, known.radial_length_m, known.many_on_ground),
        bool(coil["one_length"]),
    )


def _plan_random(asked: _Asked) -> BandsPlan:
    """What the tuner can take of a random wire."""
    from sweepkit.several_bands.from_sweeps import plan_random_from_sweeps
    from sweepkit.several_bands.random_wire import RandomWish

    told, facts = asked.told, asked.facts
    known = told.beside.known(facts)
    length_m = one_length_m(told, facts) if told.wire.lengths or "length_m" in facts else None
    wish = RandomWish(length_m, aim_of(told.wanted.aim), known.counterpoise_m)
    return plan_random_from_sweeps(asked.sweeps, asked.places, wish, **asked.look)


def _show(told: Told, plan: BandsPlan, sweeps: Sequence[Sweep], gear: Kit) -> Exit:
    """The page, then the answer on stdout."""
    from sweepkit.kit import assumed_in_short, list_assumptions
    from sweepkit.report.bands_page import bands_page

    inputs = [Path(sweep.source.path) for sweep in sweeps if sweep.source.path]
    inputs += [*([told.gear.kit] if told.gear.kit else []), *log_place.as_input(told.log)]
    told.output.check(inputs)
    known = (*NOT_USED, *(("region",) if told.region is not None else ()))
    page = partial(
        bands_page,
        plan,
        sweeps,
        made=told.drawn.made(told.gear.kit),
        assumed=list_assumptions(gear, told=known),
        assumed_in_short=assumed_in_short(gear, told=known),
        imperial=told.imperial,
    )

    def card() -> str:
        from sweepkit.report.bands_card import bands_card

        return bands_card(plan, imperial=told.imperial)

    return deliver_page(
        told.output,
        lambda pictures: page(pictures=pictures),
        plan.to_json,
        inputs,
        card=card if told.card else None,
    )
