"""The whole way from sweeps to the plan for several places."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from sweepkit.errors import BadInput
from sweepkit.instrument import DEFAULT_DRAWS
from sweepkit.kit import Kit
from sweepkit.lines import LinePiece
from sweepkit.reviews.review import file_json
from sweepkit.several_bands.answer import BandsPlan
from sweepkit.several_bands.earlier import EarlierLength
from sweepkit.several_bands.one_wire import WireWish, plan_one_wire
from sweepkit.several_bands.parts import EarlierPart, PartsWish, plan_parts, refuse_untold
from sweepkit.several_bands.places import Place
from sweepkit.several_bands.random_wire import RandomWish, plan_random_wire
from sweepkit.several_bands.seen import MOST_DRAWS, see_all
from sweepkit.several_bands.whip import EarlierSetting, WhipWish, plan_whip
from sweepkit.sweep import Place as MeasuredAt
from sweepkit.sweep import Sweep
from sweepkit.trim.folds import draw_folds
from sweepkit.trim.seen import SeenSweep
from sweepkit.trim.wire import EarlierState, reconstruct


def plan_bands(
    sweeps: Sequence[Sweep],
    places: Sequence[Place],
    wish: WireWish,
    *,
    earlier: Sequence[tuple[EarlierState, Sweep]] = (),
    kit: Kit,
    lines: Sequence[LinePiece | str] | None = None,
    measured_at: MeasuredAt = "unknown",
    draws: int = DEFAULT_DRAWS,
    seed: int = 0,
) -> BandsPlan:
    """What to do with one wire for several places.

    Parameters
    ----------
    sweeps : sequence of Sweep
        Of the antenna as it stands: one wide, one per band, or both.
    places : sequence of Place
        What it is to serve.
    wish : WireWish
        What is told of the wire and wanted of it.
    earlier : sequence of (EarlierState, Sweep)
        Earlier sweeps at other lengths, behind the same line.
    kit, lines, measured_at, draws, seed
        As for :func:`sweepkit.reviews.review`.

    Raises
    ------
    BadInput
        What cannot be: a length that belongs to no dip, lengths that contradict.
    """
    look = {"kit": kit, "lines": lines, "measured_at": measured_at, "draws": draws, "seed": seed}
    with _named_after(sweeps):
        seen = see_all(sweeps, places, look)
        return plan_one_wire(
            seen,
            wish,
            earlier=_earlier(earlier, wish, look),
            kit=kit,
            files=[file_json(sweep) for sweep in sweeps],
            limit_swr=seen.files[0].seen.review.limit_swr,
            with_interval=draws > 0,
            seed=seed,
        )


def plan_parts_from_sweeps(
    sweeps: Sequence[Sweep],
    places: Sequence[Place],
    wish: PartsWish,
    *,
    earlier: Sequence[tuple[str, float, Sweep]] = (),
    kit: Kit,
    lines: Sequence[LinePiece | str] | None = None,
    measured_at: MeasuredAt = "unknown",
    draws: int = DEFAULT_DRAWS,
    seed: int = 0,
) -> BandsPlan:
    """What to do with an antenna of several parts.

    Parameters
    ----------
    sweeps, places, kit, lines, measured_at, draws, seed
        As for :func:`plan_bands`.
    wish : PartsWish
        What is told of the antenna and wanted of it.
    earlier : sequence of (str, float, Sweep)
        The part that was different, how long one leg of it was [m], and the sweep then.

    Raises
    ------
    BadInput
        What cannot be: one place alone, a pair without a length, a length that belongs to no dip.
    """
    look = {"kit": kit, "lines": lines, "measured_at": measured_at, "draws": draws, "seed": seed}
    few = look | {"draws": min(draws, MOST_DRAWS)}
    with _named_after(sweeps):
        refuse_untold(places, wish)
        seen = see_all(sweeps, places, look)
        return plan_parts(
            seen,
            wish,
            earlier=[
                EarlierPart(SeenSweep.of(sweep, few).dips, part, length_m)
                for part, length_m, sweep in earlier
            ],
            kit=kit,
            files=[file_json(sweep) for sweep in sweeps],
            limit_swr=seen.files[0].seen.review.limit_swr,
            with_interval=draws > 0,
            seed=seed,
        )


def plan_whip_from_sweeps(
    sweeps: Sequence[Sweep],
    places: Sequence[Place],
    wish: WhipWish,
    *,
    earlier: Sequence[tuple[float | None, float, Sweep]] = (),
    kit: Kit,
    lines: Sequence[LinePiece | str] | None = None,
    measured_at: MeasuredAt = "unknown",
    draws: int = DEFAULT_DRAWS,
    seed: int = 0,
) -> BandsPlan:
    """Settings of a whip.

    Parameters
    ----------
    sweeps, places, kit, lines, measured_at, draws, seed
        As for :func:`plan_bands`.
    wish : WhipWish
        What is told of the whip and wanted of it.
    earlier : sequence of (float or None, float, Sweep)
        Turns in use and whip then [m], and the sweep.

    Raises
    ------
    BadInput
        A length that belongs to no dip.
    """
    look = {"kit": kit, "lines": lines, "measured_at": measured_at, "draws": draws, "seed": seed}
    few = look | {"draws": min(draws, MOST_DRAWS)}
    with _named_after(sweeps):
        seen = see_all(sweeps, places, look, slid=False)
        return plan_whip(
            seen,
            wish,
            earlier=[
                EarlierSetting(SeenSweep.of(sweep, few).dips, tap, whip_m) for tap, whip_m, sweep in earlier
            ],
            kit=kit,
            files=[file_json(sweep) for sweep in sweeps],
            limit_swr=seen.files[0].seen.review.limit_swr,
            with_interval=draws > 0,
            seed=seed,
        )


def plan_random_from_sweeps(
    sweeps: Sequence[Sweep],
    places: Sequence[Place],
    wish: RandomWish,
    *,
    kit: Kit,
    lines: Sequence[LinePiece | str] | None = None,
    measured_at: MeasuredAt = "unknown",
    draws: int = DEFAULT_DRAWS,
    seed: int = 0,
) -> BandsPlan:
    """What the tuner can take of a random wire, and lengths to avoid.

    Parameters
    ----------
    sweeps, places, kit, lines, measured_at, draws, seed
        As for :func:`plan_bands`.
    wish : RandomWish
        What is told of the wire.
    """
    look = {"kit": kit, "lines": lines, "measured_at": measured_at, "draws": draws, "seed": seed}
    seen = see_all(sweeps, places, look, slid=False)
    return plan_random_wire(
        seen,
        wish,
        kit=kit,
        files=[file_json(sweep) for sweep in sweeps],
        limit_swr=seen.files[0].seen.review.limit_swr,
        with_interval=draws > 0,
        seed=seed,
    )


@contextmanager
def _named_after(sweeps: Sequence[Sweep]) -> Iterator[None]:
    """A complaint that names no file is about the first."""
    try:
        yield
    except BadInput as error:
        error.path = error.path or sweeps[0].source.path or None
        raise


def _earlier(
    earlier: Sequence[tuple[EarlierState, Sweep]], wish: WireWish, look: dict[str, Any]
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
    look = look | {"draws": min(look["draws"], MOST_DRAWS)}
    now_m = float(median(history.present.acting_m(folds)))
    answer = []
    for (_, sweep), wire in zip(earlier, history.states, strict=True):
        then_m = float(median(wire.acting_m(folds)))
        answer.append(EarlierLength(SeenSweep.of(sweep, look).dips, wish.length_m * then_m / now_m))
    return answer
