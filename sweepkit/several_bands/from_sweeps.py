"""The whole way from sweeps to the plan for several places."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from typing import Any, Required, TypedDict, Unpack

from sweepkit.errors import BadInput
from sweepkit.instrument import DEFAULT_DRAWS
from sweepkit.kit import Box, Kit
from sweepkit.lines import LinePiece
from sweepkit.reviews.review import file_json
from sweepkit.several_bands.answer import BandsPlan
from sweepkit.several_bands.earlier import EarlierLength
from sweepkit.several_bands.notices import notice_box
from sweepkit.several_bands.one_wire import plan_one_wire
from sweepkit.several_bands.parts import plan_parts
from sweepkit.several_bands.parts_told import EarlierPart, PartsWish, refuse_untold
from sweepkit.several_bands.places import Place
from sweepkit.several_bands.random_wire import RandomWish, plan_random_wire
from sweepkit.several_bands.seen import MOST_DRAWS, Around, SeenAll, see_all
from sweepkit.several_bands.whip import plan_whip
from sweepkit.several_bands.whip_told import EarlierSetting, WhipWish
from sweepkit.several_bands.wire_drawn import WireWish
from sweepkit.sweep import Place as MeasuredAt
from sweepkit.sweep import Sweep
from sweepkit.trim.folds import draw_folds
from sweepkit.trim.seen import SeenSweep
from sweepkit.trim.wire import EarlierState, reconstruct


class Look(TypedDict, total=False):
    """How sweeps are looked at, as for :func:`sweepkit.reviews.review`, and what is told of the antenna's box."""

    kit: Required[Kit]
    lines: Sequence[LinePiece | str] | None
    measured_at: MeasuredAt
    draws: int
    seed: int
    box: Box | None


def plan_bands(
    sweeps: Sequence[Sweep],
    places: Sequence[Place],
    wish: WireWish,
    *,
    earlier: Sequence[tuple[EarlierState, Sweep]] = (),
    **look: Unpack[Look],
) -> BandsPlan:
    """What to do with one wire for several places, from one wide sweep, one per band, or both.

    ``earlier`` are sweeps at other lengths behind the same line. Lengths that contradict or belong to no dip are a
    ``BadInput``.
    """
    with _named_after(sweeps):
        seen, around, few = _seen(sweeps, places, look)
        return _beside_box(
            plan_one_wire(seen, wish, around, earlier=_earlier(earlier, wish, few)), seen, around
        )


def plan_parts_from_sweeps(
    sweeps: Sequence[Sweep],
    places: Sequence[Place],
    wish: PartsWish,
    *,
    earlier: Sequence[tuple[str, float, Sweep]] = (),
    **look: Unpack[Look],
) -> BandsPlan:
    """What to do with an antenna of several parts; earlier: part, length of a leg then [m], and the sweep."""
    with _named_after(sweeps):
        refuse_untold(places, wish)
        seen, around, few = _seen(sweeps, places, look)
        then = [
            EarlierPart(SeenSweep.of(sweep, few).dips, part, length_m) for part, length_m, sweep in earlier
        ]
        return _beside_box(plan_parts(seen, wish, around, earlier=then), seen, around)


def plan_whip_from_sweeps(
    sweeps: Sequence[Sweep],
    places: Sequence[Place],
    wish: WhipWish,
    *,
    earlier: Sequence[tuple[float | None, float, Sweep]] = (),
    **look: Unpack[Look],
) -> BandsPlan:
    """Settings of a whip."""
    with _named_after(sweeps):
        seen, around, few = _seen(sweeps, places, look, slid=False)
        then = [EarlierSetting(SeenSweep.of(sweep, few).dips, tap, whip_m) for tap, whip_m, sweep in earlier]
        return _beside_box(plan_whip(seen, wish, around, earlier=then), seen, around)


def plan_random_from_sweeps(
    sweeps: Sequence[Sweep], places: Sequence[Place], wish: RandomWish, **look: Unpack[Look]
) -> BandsPlan:
    """What the tuner can take of a random wire, and lengths to avoid."""
    seen, around, _ = _seen(sweeps, places, look, slid=False)
    return _beside_box(plan_random_wire(seen, wish, around), seen, around)


def _beside_box(plan: BandsPlan, seen: SeenAll, around: Around) -> BandsPlan:
    """The plan, and what the told box says to it."""
    noticed = notice_box(around.box, [place.place for place in seen.places])
    return replace(plan, findings=(*plan.findings, *noticed)) if noticed else plan


def _seen(
    sweeps: Sequence[Sweep], places: Sequence[Place], look: Look, *, slid: bool = True
) -> tuple[SeenAll, Around, dict[str, Any]]:
    """The sweeps as they are seen, what a plan is made with beside them, and how earlier ones are looked at."""
    whole: dict[str, Any] = {
        "lines": None,
        "measured_at": "unknown",
        "draws": DEFAULT_DRAWS,
        "seed": 0,
        **look,
    }
    box = whole.pop("box", None)
    seen = see_all(sweeps, places, whole, slid=slid)
    files = tuple(file_json(sweep) for sweep in sweeps)
    limit_swr = seen.files[0].seen.review.limit_swr
    around = Around(look["kit"], files, limit_swr, whole["draws"] > 0, whole["seed"], box)
    return seen, around, whole | {"draws": min(whole["draws"], MOST_DRAWS)}


@contextmanager
def _named_after(sweeps: Sequence[Sweep]) -> Iterator[None]:
    """A complaint that names no file is about the first."""
    try:
        yield
    except BadInput as error:
        error.path = error.path or sweeps[0].source.path or None
        raise


def _earlier(
    earlier: Sequence[tuple[EarlierState, Sweep]], wish: WireWish, few: dict[str, Any]
) -> list[EarlierLength]:
    """Earlier sweeps with the length that acted then; a fold by its middle worth."""
    if not earlier:
        return []
    from numpy import median
    from numpy.random import default_rng

    history = reconstruct(
        tuple(state for state, _ in earlier), length_m=wish.length_m, tail_m=wish.tail_m or None
    )
    folds = draw_folds(wish.lies, 1000, default_rng(0))
    now_m = float(median(history.present.acting_m(folds)))
    answer = []
    for (state, sweep), wire in zip(earlier, history.states, strict=True):
        then_m = float(median(wire.acting_m(folds)))
        acting_m = wish.length_m * then_m / now_m
        answer.append(EarlierLength(SeenSweep.of(sweep, few).dips, acting_m, state.name))
    return answer
