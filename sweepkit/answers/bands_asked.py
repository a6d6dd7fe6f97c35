"""What is asked for several places, as people write it, and the plan from sweeps that follows."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any, cast

from sweepkit.antennas.catalogue import kind_named
from sweepkit.antennas.kind import Known
from sweepkit.errors import BadInput
from sweepkit.kit import AntennaNote, Kit
from sweepkit.kit.known import KnownAntenna
from sweepkit.quantities import parse_length_m
from sweepkit.several_bands.answer import Aim, BandsPlan
from sweepkit.several_bands.from_sweeps import (
    Look,
    plan_bands,
    plan_parts_from_sweeps,
    plan_random_from_sweeps,
    plan_whip_from_sweeps,
)
from sweepkit.several_bands.parts_told import TITLES, PartsWish
from sweepkit.several_bands.places import Place, by_place, parse_lengths_m, places_of
from sweepkit.several_bands.random_wire import RandomWish
from sweepkit.several_bands.told import (
    parse_logged_lengths_m,
    parse_logged_tap,
    parse_part_state,
    parse_range_m,
    parse_whip_state,
)
from sweepkit.several_bands.whip_model import Coil, Ground
from sweepkit.several_bands.whip_told import WhipWish
from sweepkit.several_bands.wire_drawn import WireWish
from sweepkit.sweep import Sweep
from sweepkit.trim.request import (
    MOVES,
    length_m_of,
    parse_earlier,
    parse_lie,
    parse_move,
    parse_positive_m,
)

if TYPE_CHECKING:
    from sweepkit.logbook import Logbook

Facts = Mapping[str, Any]
NO_PLACE = "no place is named; say where it is to work, with --band, --segment or --target"


@dataclass(frozen=True, kw_only=True)
class BandsAsked:
    """All that was written, by the names of ``sweepkit trim``; ``None`` and empty for what was not."""

    gear: Kit
    known: Callable[[Facts], Known]  # what a kind takes beside its length, as told, else as the facts have it
    read: Callable[[str], Sweep]  # an earlier sweep, by what stands behind its length
    log: Callable[[], AbstractContextManager[Logbook]] | None  # opens the logbook, where there is one
    draws: int
    seed: int
    antenna: str | None = None
    region: int | None = None
    bands: Sequence[str] = ()
    segments: Sequence[str] = ()
    targets: Sequence[str] = ()
    weights: Sequence[str] | Mapping[str, float] = ()
    aim: str | None = None
    kind: str | None = None
    lengths: Sequence[str] = ()
    by: str | None = None
    tail: str | None = None
    tail_lies: str | None = None
    earlier: Sequence[str] = ()
    choke_at: str | None = None
    tap: float | None = None
    turns: float | None = None
    tap_step: float | None = None
    coil_diameter: str | None = None
    coil_pitch: str | None = None
    whip_range: str | None = None
    one_length: bool = False
    say: Callable[[str], None] = lambda text: None  # what the logbook gave

    @property
    def note(self) -> AntennaNote | None:
        """The antenna in the kit."""
        return self.gear.antennas.get(self.antenna or "")

    @property
    def least(self) -> Aim:
        """What is aimed at."""
        if self.aim not in (None, "mean", "worst"):
            raise BadInput(f"--aim is {self.aim!r}; it is mean or worst")
        return cast("Aim", self.aim or "mean")

    @property
    def band_region(self) -> int | None:
        """Whose bands."""
        return self.gear.region if self.region is None else self.region

    def places(self) -> tuple[Place, ...]:
        """Those that are named, else those of the kit; none is a ``BadInput``, as is a weight for another one."""
        note = self.note
        named = bool([*self.bands, *self.segments, *self.targets]) or note is None
        places = places_of(
            bands=self.bands if named or note is None else note.places,
            segments=self.segments,
            targets=self.targets,
            weights=self.weights or ({} if named or note is None else note.weights),
            region=self.band_region,
        )
        if not places:
            raise BadInput(NO_PLACE)
        return places

    def length_m(self, facts: Facts) -> float:
        """The length of the one wire, as told, else as it is known."""
        if len(self.lengths) > 1:
            raise BadInput("--length is given twice and takes one value; leave one out")
        text = self.lengths[0] if self.lengths else None
        if text and "=" in text:
            raise BadInput(
                f"--length is {text!r}; one length of the whole part was expected; lengths by place are for "
                f"{', '.join(TITLES)}"
            )
        return length_m_of(text, facts)

    def earlier_with(self, parse: Callable[[str], tuple[Any, ...]]) -> list[tuple[Any, ...]]:
        """Earlier states with the sweep of each in place of its name."""
        return [(*state, self.read(name)) for *state, name in map(parse, self.earlier)]


def plan_asked(
    asked: BandsAsked, sweeps: Sequence[Sweep], antenna: KnownAntenna, look: Look
) -> tuple[BandsPlan, list[Sweep]]:
    """The plan from sweeps, and the earlier ones it rests on; ``antenna`` is what is known of it."""
    facts = antenna.facts
    places = asked.places()
    name = asked.kind or facts.get("kind")
    if name is None:
        raise BadInput("the kind of antenna is not told; add --kind, such as --kind end-fed")
    if name in TITLES:
        return _plan_parts(asked, sweeps, places, name, facts, look)
    if name == "loaded-whip":
        wish = whip_wish(asked, facts)
        then = asked.earlier_with(lambda text: parse_whip_state(text, tap=wish.tap, whip_m=wish.length_m))
        plan = plan_whip_from_sweeps(sweeps, places, wish, earlier=cast(Any, then), **look)
        return plan, [state[-1] for state in then]
    if kind_named(name).answer is None:
        length_m = asked.length_m(facts) if asked.lengths or "length_m" in facts else None
        random = RandomWish(length_m, asked.least, asked.known(facts).counterpoise_m)
        return plan_random_from_sweeps(sweeps, places, random, **look), []
    return _plan_wire(asked, sweeps, places, name, antenna, look)


def _plan_wire(
    asked: BandsAsked,
    sweeps: Sequence[Sweep],
    places: Sequence[Place],
    name: str,
    antenna: KnownAntenna,
    look: Look,
) -> tuple[BandsPlan, list[Sweep]]:
    """One wire for them all, with its earlier sweeps as told, else as the logbook has them."""
    kind, facts = kind_named(name), antenna.facts
    by = parse_move(asked.by, kind)
    tail_m = facts.get("tail_m", 0.0) if asked.tail is None else parse_positive_m(asked.tail, "--tail")
    wish = WireWish(
        kind,
        asked.length_m(facts),
        by,
        asked.least,
        asked.known(facts),
        _choke_m(asked.choke_at, facts),
        float(tail_m or 0.0),
        parse_lie(asked.tail_lies),
    )
    plan = partial(plan_bands, sweeps, places, wish, **look)
    then: Sequence[tuple[Any, ...]] = asked.earlier_with(lambda text: parse_earlier(text, by))
    if then or asked.log is None or asked.antenna is None or not antenna.setup:
        return plan(earlier=cast(Any, then)), [sweep for _, sweep in then]
    from sweepkit.records.past import past_of, plan_with, used_text

    with asked.log() as opened:
        past = past_of(opened, antenna, sweeps[0], antenna=asked.antenna, length_m=wish.length_m, by=by)
    answer, used, why_not = plan_with(plan, past.earlier)
    if past.earlier:
        asked.say(used_text(past.earlier, why_not))
    return answer, [sweep for _, sweep in used]


def _choke_m(text: str | None, facts: Facts) -> float | None:
    """How far down the coax the choke sits; ``None`` for none, or where nobody told. [m]"""
    text = text if text is not None else facts.get("choke_at")
    if text is None or text == "none":
        return None
    length_m = parse_length_m(text)
    if length_m < 0:
        raise BadInput(f"--choke-at is {text!r}; it is 0 m at the box, or how far down the coax, or none")
    return length_m


def _plan_parts(
    asked: BandsAsked, sweeps: Sequence[Sweep], places: Sequence[Place], kind: str, facts: Facts, look: Look
) -> tuple[BandsPlan, list[Sweep]]:
    """A fan, a linked or a trap dipole."""
    by = asked.by or "fold"
    if by not in MOVES:
        raise BadInput(f"--by is {by!r}; it is one of {', '.join(MOVES)}")
    told = (
        parse_lengths_m(asked.lengths) if asked.lengths else parse_logged_lengths_m(facts.get("lengths", ""))
    )
    lengths = by_place(told, places, "--length")
    wish = PartsWish(cast(Any, kind), lengths, cast(Any, by), asked.least, parse_lie(asked.tail_lies))
    then = asked.earlier_with(lambda text: parse_part_state(text, places))
    plan = plan_parts_from_sweeps(sweeps, places, wish, earlier=cast(Any, then), **look)
    return plan, [state[-1] for state in then]


def whip_wish(asked: BandsAsked, facts: Facts) -> WhipWish:
    """The whip as told, else as the kit has it; a tap that its coil has not, or a length outside, is a ``BadInput``."""
    known, note = asked.known(facts), asked.note

    def length_m(key: str, option: str) -> float | None:
        text = getattr(asked, key)
        return getattr(note, f"{key}_m", None) if text is None else parse_positive_m(text, option)

    def number(key: str) -> float | None:
        value = getattr(asked, key)
        return getattr(note, key, None) if value is None else value

    tap = parse_logged_tap(facts) if asked.tap is None else asked.tap
    tap = number("tap") if tap is None else tap
    reach = asked.whip_range
    return WhipWish(
        asked.length_m(facts),
        asked.least,
        tap,
        number("turns"),
        number("tap_step") or 1.0,
        getattr(note, "whip_range_m", None) if reach is None else parse_range_m(reach),
        Coil(
            length_m("coil_diameter", "--coil-diameter"),
            length_m("coil_pitch", "--coil-pitch"),
            known.coil_h if tap is None else None,
        ),
        Ground(known.radials, known.radial_length_m, known.many_on_ground),
        asked.one_length,
    )
