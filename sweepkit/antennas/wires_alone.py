"""Answers of antennas that are trimmed as a whole: close to 1/length, with what height and soil add."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sweepkit.antennas.kind import Answer, Known, LengthAnswer, Seen
from sweepkit.antennas.trend import trends

ODD_SHARE = 0.2  # of antennas: models of our own, tests/data/models/length_answers.csv


def answer_from_trend(name: str, *, unmodelled: float, odd: float | None = None) -> Answer:
    """An answer that follows the trend of this name of modelled antennas and nothing else.

    ``unmodelled``: spread of the slope by what the models lack: insulation, current on the coax; ``odd``: that of the
    one antenna in five whose coax is near a resonance of its own.
    """

    def answer(seen: Seen, known: Known, dice: np.random.Generator) -> LengthAnswer:
        """Slope and curvature for each draw; behind a transformer depth and width of the dip say nothing known."""
        n, trend = seen.f_hz.size, trends()[name]
        if known.transformer not in (None, 1):
            unknown = np.full(n, np.nan)
            seen = replace(seen, swr=unknown, loaded_q=unknown)
        spread = np.where(dice.random(n) < ODD_SHARE, odd or unmodelled, unmodelled)
        slope = trend.draw(seen, dice) + dice.normal(0, spread)
        return LengthAnswer(slope, trend.draw_curvature(n, dice), np.zeros(n))

    return answer
