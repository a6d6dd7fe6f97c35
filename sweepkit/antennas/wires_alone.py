"""Answers of antennas that are trimmed as a whole: close to 1/length, with what height and soil add."""

from __future__ import annotations

import numpy as np

from sweepkit.antennas.kind import Answer, Known, LengthAnswer, Seen
from sweepkit.antennas.trend import trends

ODD_SHARE = 0.2  # of antennas: models of our own, tests/data/models/length_answers.csv


def answer_from_trend(name: str, *, odd: float, unmodelled: float = 0.0) -> Answer:
    """An answer that follows the trend of this name of modelled antennas and nothing else.

    ``odd``: spread of the slope of the one antenna in five whose coax is near a resonance of its own; ``unmodelled``:
    that by what else the models of the trend lack.
    """

    def answer(seen: Seen, known: Known, dice: np.random.Generator) -> LengthAnswer:
        """Slope and curvature for each draw; behind a transformer depth and width of the dip say nothing known."""
        n = seen.f_hz.size
        boxed = known.transformer not in (None, 1) or not np.isfinite(seen.loaded_q).any()
        trend = trends()[f"{name}-by-band" if boxed else name]
        spread = np.where(dice.random(n) < ODD_SHARE, odd, unmodelled)
        slope = trend.draw(seen, dice) + dice.normal(0, spread)
        return LengthAnswer(slope, trend.draw_curvature(n, dice), np.zeros(n))

    return answer
