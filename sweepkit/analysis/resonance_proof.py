"""Could the points of a window be what an antenna does, swept too coarsely? A few resonances are tried."""

from __future__ import annotations

import numpy as np

from sweepkit.analysis.rational import Rational, fit_rational, window_coordinate
from sweepkit.conversions import ComplexArray, FloatArray

PASSIVE = 1.02  # a resonance does not reflect more than this, directivity error of 40 dB twice over [-]
NARROWEST = (
    1e-4  # loaded half-width over frequency: Q of 5000, which no antenna has; common practice, no source
)
REACH = 1.2  # poles within this many half-windows of the centre must be those of an antenna
BACKGROUND = 1.0  # poles at least as wide as half a window only bend it, either way
MOST_RESONANCES = 5
UNPAIRED = 1e-6  # distance from the real axis of a pole that stands alone, by rounding [-]
BETWEEN = 128  # places at which passivity is asked


def is_resonance(
    f_hz: FloatArray, values: ComplexArray, *, suspects: int, misfit: FloatArray, has_phase: bool
) -> bool:
    """Whether a few causal, passive resonances of believable width go through all points of a window, shape (m,).

    A narrow dip in a coarse sweep is a resonance on a curved background. An error of single points wants a resonance
    that is far too narrow, or none goes through.

    ``values`` is the reflection without its common delay; without phase the square of its magnitude, where a
    resonance has a pair of poles, and nothing tells a causal one. Half as many resonances as suspects are tried, and
    two at least: more would go through errors of single points by chance. ``misfit`` is the largest of each point
    that is believed.
    """
    x, half = window_coordinate(f_hz)
    for resonances in range(1, min(max(suspects // 2, 2), MOST_RESONANCES) + 1):
        poles = resonances if has_phase else 2 * resonances
        if f_hz.size < 2 * poles + 5:
            return False
        model = fit_rational(x, values, above=poles + 1, below=poles)
        if (np.abs(model.at(x) - values) <= misfit).all():
            return _is_antenna(model, half, PASSIVE + float(misfit.max()), has_phase=has_phase)
    return False


def _is_antenna(model: Rational, half: float, most: float, *, has_phase: bool) -> bool:
    """Poles near the window causal and not too narrow; no more than total reflection between points."""
    poles = model.poles()
    near = poles[(np.abs(poles.real) <= REACH) & (np.abs(poles.imag) < BACKGROUND)]
    half_width = near.imag * half / 2  # the coordinate is twice the relative offset
    if not has_phase:  # a single pole without its mirror image is one too many, and cancelled by a zero
        paired = np.abs(near.imag) > UNPAIRED
        return bool((np.abs(half_width[paired]) >= NARROWEST).all())
    fine = np.linspace(-1.0, 1.0, BETWEEN)
    return bool((half_width >= NARROWEST).all() and np.abs(model.at(fine)).max() <= most)
