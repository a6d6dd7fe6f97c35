"""Answers of antennas that are trimmed as a whole: close to 1/length, with what height and soil add."""

from __future__ import annotations

import numpy as np

from sweepkit.antennas.kind import Answer, Known, LengthAnswer, Seen
from sweepkit.antennas.trend_values import TRENDS


def answer_from_trend(name: str) -> Answer:
    """An answer that follows a trend of modelled antennas and nothing else.

    Parameters
    ----------
    name : str
        Key of ``TRENDS``.
    """

    def answer(seen: Seen, known: Known, dice: np.random.Generator) -> LengthAnswer:
        """Slope and curvature for each draw; nothing of what else is known bears on it."""
        n, trend = seen.f_hz.size, TRENDS[name]
        return LengthAnswer(trend.draw(seen, dice), trend.draw_curvature(n, dice), np.zeros(n))

    return answer
