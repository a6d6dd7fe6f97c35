"""Dips of a review's plane as the trim answer needs them, also one a little outside the sweep."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

import numpy as np

from sweepkit.analysis import moebius
from sweepkit.analysis.local import LocalFit, fit_near
from sweepkit.conversions import ComplexArray, FloatArray, swr_from_gamma_abs, z_from_gamma
from sweepkit.reviews.adequacy import dip_width_hz
from sweepkit.reviews.plane import LARGEST_GAMMA, DrawnDip, find_dips
from sweepkit.reviews.view import View
from sweepkit.trim.dip import DipEnsemble

FARTHEST_OUTSIDE = (
    0.05  # of the frequency: how far beyond the sweep a dip is followed; half a bandwidth or so
)
EDGE_WINDOW = 0.4  # of the span, from the edge on, that the extrapolation rests on
STEP = 1e-4  # of the resonator coordinate, to tell whether the reactance rises
AGREED = 0.8  # share of draws that must agree on it
DEEPER = 0.02  # the dip outside must be deeper than the edge by this much of the reflection [-]


def dips_of_view(view: View, *, extra_sigma: float = 0.0, seed: int = 0) -> tuple[DipEnsemble, ...]:
    """Dips of a plane, rising in SWR, and one just outside where the sweep ends on a slope.

    Parameters
    ----------
    view : View
        The plane at the feedpoint, or the measured one where no line is known.
    extra_sigma : float
        Spread of ln f that an unknown line adds. [-]
    seed : int
        Same seed, same draws.
    """
    dice = np.random.default_rng([seed, 5])
    inside = [_inside(view, drawn) for drawn in find_dips(view)]
    outside = [dip for dip in (_outside(view, at_low=True), _outside(view, at_low=False)) if dip is not None]
    return tuple(_widened(dip, extra_sigma, dice) for dip in (*inside, *outside))


def _inside(view: View, drawn: DrawnDip) -> DipEnsemble:
    model = drawn.dip.fit.on(view.turned_ensemble)
    half_hz = dip_width_hz(drawn) / 2
    inside = int(np.count_nonzero(np.abs(view.f_hz - drawn.f_hz[0]) <= half_hz))
    seen = _ensemble(view, drawn.dip.fit, model, drawn.f_hz, drawn.gamma, 0.0)
    return replace(seen, points_inside=inside)


def _outside(view: View, *, at_low: bool) -> DipEnsemble | None:
    """The dip beyond an end, if the curve there still falls towards it and it is near."""
    span_hz = float(view.f_hz[-1] - view.f_hz[0])
    end = 0 if at_low else -1
    end_hz = float(view.f_hz[end])
    half_hz = EDGE_WINDOW * span_hz
    fit = fit_near(view.f_hz, view.turned, view.trust, end_hz, half_hz, view.noise)
    model = fit.on(view.turned_ensemble)
    u = moebius.smallest_magnitude(model)
    f_hz = moebius.frequency(u, fit.centre_hz)
    gamma = moebius.value(model, u)
    distance = (end_hz - f_hz[0]) / end_hz if at_low else (f_hz[0] - end_hz) / end_hz
    deeper = np.abs(view.gamma[end]) - np.abs(gamma[0])
    if not (0 < distance < min(FARTHEST_OUTSIDE, span_hz / end_hz) and deeper > DEEPER):
        return None
    near = np.abs(np.log(np.where(np.isfinite(f_hz), f_hz, end_hz) / f_hz[0])) < FARTHEST_OUTSIDE
    f_hz = np.where(near & np.isfinite(f_hz), f_hz, np.nan)
    return _ensemble(view, fit, model, f_hz, view.turned_back(f_hz, gamma), float(distance))


def _ensemble(
    view: View,
    fit: LocalFit,
    model: moebius.Moebius,
    f_hz: FloatArray,
    gamma: ComplexArray,
    extrapolated: float,
) -> DipEnsemble:
    magnitude = np.minimum(np.abs(gamma), LARGEST_GAMMA)
    half_width = moebius.loaded_half_width(model)
    signed = view.phase == "signed"
    with np.errstate(divide="ignore", invalid="ignore"):
        # u is twice the relative detuning, so the loaded Q is 1 / (2 * half_width / 2)
        loaded_q = 1 / half_width if signed else np.full(f_hz.shape, np.nan)
        least = magnitude[0]
        width = np.sqrt(np.maximum(1 / 9 - least**2, 0) / (8 / 9)) * half_width[0]
    return DipEnsemble(
        f_hz=f_hz,
        swr=swr_from_gamma_abs(magnitude),
        r_ohm=z_from_gamma(gamma, view.reference_ohm).real if signed else np.full(f_hz.shape, np.nan),
        loaded_q=loaded_q,
        resonance=_resonance(view, fit, model) if signed else None,
        bandwidth=float(width) if width > 0 else float("nan"),
        extrapolated=extrapolated,
    )


def _resonance(view: View, fit: LocalFit, model: moebius.Moebius) -> Literal["series", "parallel"] | None:
    """Whether the reactance rises or falls through the dip; ``None`` where the draws do not agree."""
    u = moebius.smallest_magnitude(model)
    rise = np.zeros(u.shape)
    for side in (-1.0, 1.0):
        at = u + side * STEP
        gamma = view.turned_back(moebius.frequency(at, fit.centre_hz), moebius.value(model, at))
        rise += side * z_from_gamma(gamma, view.reference_ohm).imag
    rising = float(np.mean(rise[np.isfinite(rise)] > 0))
    if max(rising, 1 - rising) > AGREED:
        return "series" if rising > 0.5 else "parallel"
    return None


def _widened(dip: DipEnsemble, sigma: float, dice: np.random.Generator) -> DipEnsemble:
    """The same dip with the spread of an unknown line on its draws."""
    if not sigma or dip.f_hz.size < 2:
        return dip
    factor = np.exp(np.concatenate([[0.0], dice.normal(0, sigma, dip.f_hz.size - 1)]))
    return replace(dip, f_hz=dip.f_hz * factor)
