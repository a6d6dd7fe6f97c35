"""A setup without any dip, though its sweep covers the place where another has its own: how far it went at least."""

from __future__ import annotations

import math
from collections.abc import Mapping

from sweepkit.antennas.rungs import RUNGS
from sweepkit.comparison.differences import (
    Difference,
    Gap,
    Scale,
    in_words,
    limit_sds,
    on_rung,
    place_on_ladder,
)
from sweepkit.comparison.setups import ComparedSetup
from sweepkit.comparison.spread import Usual
from sweepkit.figures import Figure

STEPS_IN_WIDTH = 3  # steps inside the dip's width with which no sweep could jump it; our choice

Figures = Mapping[str, Mapping[str, Figure]]


def judge_gone(
    a: ComparedSetup, b: ComparedSetup, figures: Figures, usual: Usual | None, gap: Gap
) -> Difference | None:
    """The difference in dip of two setups of which one shows none; ``None`` where nothing follows from that."""
    for seen, other in ((a, b), (b, a)):
        dip_hz = figures[seen.id]["dip_hz"].value
        if dip_hz is None or figures[other.id]["dip_hz"].value is not None:
            continue
        least = least_move(other, dip_hz, _width_hz(figures[seen.id]))
        if usual is not None and least is not None:
            return _judged(a.id, b.id, other.id, dip_hz, least, usual, gap)
    return None


def least_move(setup: ComparedSetup, dip_hz: float, width_hz: float | None) -> tuple[float, float] | None:
    """How far a dip from here went at least to be in none of the sweeps: of the natural logarithm, and in Hz."""
    if width_hz is None or any(any(sweep.planes.values()) for sweep in setup.sweeps):
        return None
    reach = [
        (
            min(math.log(dip_hz / max(sweep.start_hz, 1.0)), math.log(sweep.stop_hz / dip_hz)),
            min(dip_hz - sweep.start_hz, sweep.stop_hz - dip_hz),
        )
        for sweep in setup.sweeps
        if sweep.start_hz < dip_hz < sweep.stop_hz and sweep.step_hz * STEPS_IN_WIDTH <= width_hz
    ]
    return max(reach, default=None)


def _width_hz(figures: Mapping[str, Figure]) -> float | None:
    """The dip's width, or the one its Q gives where it stays above 2:1."""
    if figures["bandwidth_hz"].value is not None:
        return figures["bandwidth_hz"].value
    dip_hz, q = figures["dip_hz"].value, figures["q"].value
    return None if dip_hz is None or not q else dip_hz / q


def _judged(
    a: str, b: str, without: str, dip_hz: float, least: tuple[float, float], usual: Usual, gap: Gap
) -> Difference:
    spreads = {rung: on_rung(rung, usual, (1.0, 1.0), (1, 1)) for rung in RUNGS}
    limits = {
        rung: limit_sds("dip_hz", usual.body, rung, spread) * spread.sd for rung, spread in spreads.items()
    }
    scales = tuple(
        Scale(rung, dip_hz * math.expm1(limit), least[0] > limit) for rung, limit in limits.items()
    )
    gone = (
        f"{without} has no dip near {dip_hz / 1e6:.3f} MHz, nor anywhere in its sweep: it went more than "
        f"{in_words('dip_hz', least[1])} or is gone"
    )
    is_beyond = gap.told is not None and least[0] > limits[gap.told]
    place = place_on_ladder(tuple(scale for scale in scales if scale.beyond))
    return Difference(
        quantity="dip_hz",
        a=a,
        b=b,
        difference=Figure.none(gone),
        scales=scales,
        told=gap.told,
        verdict="different" if is_beyond else "cannot_say",
        why="; ".join(part for part in (gone, place, f"held against {usual.words}") if part),
    )
