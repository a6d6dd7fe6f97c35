"""Dips of a sweep at the feedpoint, as trim sees them."""

from __future__ import annotations

from sweepkit.kit import Analyzer
from sweepkit.reviews.planes import lay_out_planes
from sweepkit.sweep import Sweep
from sweepkit.trim.dips_of_view import dips_of_view


def dips_at_feedpoint(f_hz, gamma, *, draws):
    """The dips of a reflection read by an analyzer nobody told anything of."""
    (planes,) = lay_out_planes(
        [Sweep.from_gamma(f_hz, gamma)],
        chain=None,
        measured_at="feedpoint",
        analyzer=Analyzer(),
        reference_ohm=50.0,
        draws=draws,
        seed=0,
    )
    return dips_of_view(planes.measured)
