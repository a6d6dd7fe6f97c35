"""A sweep as trimming looks at it: reviewed, and its dips at the plane that is tuned."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from sweepkit.errors import BadInput
from sweepkit.feedline.likely import guess_line
from sweepkit.kit import Analyzer
from sweepkit.reviews.review import Review, review
from sweepkit.sweep import Sweep
from sweepkit.trim.dip import DipEnsemble
from sweepkit.trim.dips_of_view import dips_of_view
from sweepkit.trim.wire import EarlierState
from sweepkit.trim.wish import EarlierSweep

# What a matched line of unknown length does to the dip: 0.06 % in the middle, 0.3 % for one in ten (wire
# models behind 15 to 30 m); much less where the sweep shows no delay.
UNKNOWN_LINE_SIGMA = 0.002
NO_LINE_SEEN_SIGMA = 0.0005


@dataclass(frozen=True, eq=False)
class SeenSweep:
    """A sweep reviewed, and its dips at the plane that is tuned."""

    review: Review
    dips: tuple[DipEnsemble, ...]
    analyzer: Analyzer

    @classmethod
    def of(cls, sweep: Sweep, look: dict[str, Any]) -> SeenSweep:
        """Review a sweep and find its dips.

        ``look``: ``kit`` and the other options of :func:`sweepkit.reviews.review`.
        """
        reviewed = review(sweep, bands=(), **look)
        view = reviewed.planes.feedpoint
        sigma = 0.0
        if view is None:
            view = reviewed.planes.measured
            none_seen = view.phase == "signed" and guess_line(view.f_hz, view.gamma).answer == "none seen"
            sigma = NO_LINE_SEEN_SIGMA if none_seen else UNKNOWN_LINE_SIGMA
        dips = dips_of_view(view, extra_sigma=sigma, seed=look["seed"])
        if sigma == UNKNOWN_LINE_SIGMA:
            dips = tuple(dip.without_shape() for dip in dips)
        return cls(reviewed, dips, look["kit"].analyzer)

    @property
    def span_hz(self) -> tuple[float, float]:
        """Ends of the sweep. [Hz]"""
        f_hz = self.review.planes.measured.f_hz
        return float(f_hz[0]), float(f_hz[-1])

    def swr_at(self, f_hz: float) -> float | None:
        """SWR of the measured curve where it is measured; ``None`` outside the sweep."""
        view = self.review.planes.measured
        if not view.f_hz[0] <= f_hz <= view.f_hz[-1]:
            return None
        size = min(float(np.interp(f_hz, view.f_hz, np.abs(view.gamma))), 0.999)
        return (1 + size) / (1 - size)


def see_earlier(state: EarlierState, sweep: Sweep, look: dict[str, Any]) -> EarlierSweep:
    """An earlier sweep of the same antenna behind the same line.

    Raises ``BadInput``: it shows no dip.
    """
    dips = SeenSweep.of(sweep, look).dips
    if not dips:
        raise BadInput(
            f"--earlier {state.name}: no dip stands out in this sweep; leave it out, or take a better one",
            path=sweep.source.path or None,
        )
    return EarlierSweep(dips, state)
