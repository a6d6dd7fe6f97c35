"""An end-fed that shows no half wave of its wire, but a low SWR far from where that must be."""

from __future__ import annotations

import numpy as np

from sweepkit.analysis.quantile import quantile
from sweepkit.antennas.end_fed import WIRE_LENGTH
from sweepkit.antennas.radiation import ShownDip
from sweepkit.conversions import FloatArray, gamma_abs_from_swr, swr_from_gamma_abs
from sweepkit.quantities import SPEED_OF_LIGHT_M_S, frequency_text
from sweepkit.reviews.plane import LARGEST_GAMMA, Plane
from sweepkit.reviews.view import View

HALF_WAVE_SPREAD = 0.05  # of the frequency of the half wave: box, counterpoise, insulation; trade: up to 5 %
NEAR = 0.10  # of that frequency: a dip nearer is that of the wire
# Of ln f from there: sound ones dip up to 0.2 below in models of our own, and again at 0.72.
FAR = (0.20, 0.30)
LOW_SWR = 4.0  # beyond it nothing there asks for an explanation; common practice, no source
LEAST_TURNS = 0.1  # as low there as at the dip: all of it is wide
USUAL_SWR = (1.0, 3.0)  # at a dip that was not seen: even; common practice, no source


def half_wave_hz(length_m: float) -> float:
    """Where a wire is half a wave, as end-feds dip."""
    return WIRE_LENGTH * SPEED_OF_LIGHT_M_S / length_m


def seen_far_off(
    view: View, plane: Plane, length_m: float, dice: np.random.Generator, n: int
) -> ShownDip | None:
    """The dip that the wire would have if its SWR far from its half wave came from its own width.

    Nothing where the half wave lies outside the sweep, or the SWR far from it is higher than near it, or high at all.
    """
    own_hz = half_wave_hz(length_m)
    least = _least_far_off(view, own_hz)
    if not view.f_hz[0] < own_hz < view.f_hz[-1] or least is None:
        return None
    size = min(float(np.abs(view.gamma[least])), LARGEST_GAMMA)
    at_home = float(np.abs(view.gamma[_off(view, own_hz) <= NEAR]).min(initial=1.0))
    if float(swr_from_gamma_abs(size)) > LOW_SWR or size > at_home:
        return None
    drawn_hz = own_hz * np.exp(HALF_WAVE_SPREAD * np.append(0.0, dice.standard_normal(n - 1)))
    swr = _swr_at_dip(plane, own_hz, dice, n)
    taken = (1 - gamma_abs_from_swr(swr) ** 2) / (1 - size**2)
    turns = np.sqrt(np.maximum(taken - 1, LEAST_TURNS**2))
    off_hz = np.abs(view.f_hz[least] - drawn_hz)
    return ShownDip(drawn_hz, None, swr, (turns * drawn_hz / (2 * off_hz))[np.newaxis], view.reference_ohm)


def far_off_words(view: View, length_m: float) -> str:
    """What is seen there, for a finding."""
    own_hz = half_wave_hz(length_m)
    least = _least_far_off(view, own_hz)
    assert least is not None  # it was seen
    swr = float(swr_from_gamma_abs(np.abs(view.gamma[least])))
    return (
        f"SWR {swr:.1f} at {frequency_text(float(view.f_hz[least]))}, far from the half wave of its wire near "
        f"{frequency_text(own_hz)}"
    )


def _off(view: View, own_hz: float) -> FloatArray:
    """How far each point is from the half wave, of ln f."""
    return np.asarray(np.abs(np.log(view.f_hz / own_hz)))


def _least_far_off(view: View, own_hz: float) -> int | None:
    """The point of the lowest SWR among those far off; ``None`` where none was swept."""
    off = _off(view, own_hz)
    index = np.flatnonzero((off >= FAR[0]) & (off <= FAR[1]))
    return int(index[np.argmin(np.abs(view.gamma[index]))]) if index.size else None


def _swr_at_dip(plane: Plane, own_hz: float, dice: np.random.Generator, n: int) -> FloatArray:
    """As seen, where the wire's own dip shows at all."""
    near = [
        dip.swr.value
        for dip in plane.dips
        if dip.f_hz.value is not None
        and dip.swr.value is not None
        and abs(dip.f_hz.value / own_hz - 1) < NEAR
    ]
    if near:
        return np.full(n, min(near))
    drawn = dice.uniform(*USUAL_SWR, n)
    drawn[0] = quantile(drawn, 0.5)
    return drawn
