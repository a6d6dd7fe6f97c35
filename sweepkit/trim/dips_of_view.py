"""Dips of a review's plane as the trim answer needs them, also one a little outside the sweep."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

import numpy as np

from sweepkit.analysis import moebius
from sweepkit.analysis.dips import PROMINENCE_LEAST, SWR_2_DETUNING, matched_widths_hz
from sweepkit.analysis.fits import LocalFit
from sweepkit.analysis.local import fit_near
from sweepkit.conversions import ComplexArray, FloatArray, swr_from_gamma_abs, z_from_gamma
from sweepkit.reviews.plane import LARGEST_GAMMA, DrawnDip, find_dips
from sweepkit.reviews.view import View
from sweepkit.trim.dip import DipEnsemble

FARTHEST_OUTSIDE = 0.06  # of the frequency: how far beyond the sweep a dip is followed ...
OF_SPAN = 0.7  # ... and of the span; models go wrong beyond
EDGE_WINDOW = 0.4  # of the span, from the edge on, that the extrapolation rests on
STEP = 1e-4  # of the resonator coordinate, to tell whether the reactance rises
AGREED = 0.8  # share of draws that must agree on it
NOISE_DRAWS = 100  # good to a tenth of the spread they size
FALL = 0.02  # the reflection must fall towards the end by this much over the window [-]
INSIDE_END = 0.2  # of the span: a dip so near an end may not stand out from it
SAME_DIP = 0.08  # of the span: one found twice, inside and from the end
LEAST_BEYOND = 1e-6  # marks a dip at an end that does not stand out inside


def dips_of_view(view: View, *, extra_sigma: float = 0.0, seed: int = 0) -> tuple[DipEnsemble, ...]:
    """Dips of a plane, rising in SWR, and one just outside where the sweep ends on a slope."""
    dice = np.random.default_rng([seed, 5])
    inside = [_inside(view, drawn) for drawn in find_dips(view)]
    ends = [_at_end(view, inside, at_low=at_low) for at_low in (True, False)]
    found = (*inside, *(dip for dip in ends if dip is not None))
    return tuple(_widened(dip, extra_sigma, dice) for dip in found)


def _inside(view: View, drawn: DrawnDip) -> DipEnsemble:
    model = drawn.dip.fit.on(view.kept_turned)
    return _ensemble(view, drawn.dip.fit, model, drawn.f_hz, drawn.gamma, 0.0)


def _at_end(view: View, inside: list[DipEnsemble], *, at_low: bool) -> DipEnsemble | None:
    """The dip beyond an end, or so near it inside that it does not stand out there."""
    span_hz = float(view.f_hz[-1] - view.f_hz[0])
    end = 0 if at_low else -1
    end_hz = float(view.f_hz[end])
    fit = fit_near(view.curve, end_hz, EDGE_WINDOW * span_hz)
    model = fit.on(view.kept_turned)
    u = moebius.smallest_magnitude(model)
    f_hz = moebius.frequency(u, fit.centre_hz)
    gamma = moebius.value(model, u)
    beyond_hz = end_hz - f_hz[0] if at_low else f_hz[0] - end_hz
    if not -INSIDE_END * span_hz < beyond_hz < min(FARTHEST_OUTSIDE * end_hz, OF_SPAN * span_hz):
        return None
    # A curve that turns inside the window is that of the dip which was found there.
    apart_hz = (SAME_DIP if beyond_hz > 0 else EDGE_WINDOW) * span_hz
    if any(abs(f_hz[0] - dip.measured_hz) < apart_hz for dip in inside):
        return None
    window = np.abs(view.gamma[fit.points])
    falls = np.abs(gamma[0]) < np.abs(view.gamma[end]) + PROMINENCE_LEAST
    if not (falls and float(window.max() - np.abs(view.gamma[end])) > FALL):
        return None
    near = np.abs(np.log(np.where(np.isfinite(f_hz), f_hz, end_hz) / f_hz[0])) < FARTHEST_OUTSIDE
    f_hz = np.where(near & np.isfinite(f_hz), f_hz, np.nan)
    beyond = max(float(beyond_hz / end_hz), LEAST_BEYOND)
    return _ensemble(view, fit, model, f_hz, view.turned_back(f_hz, gamma), beyond)


def _ensemble(
    view: View,
    fit: LocalFit,
    model: moebius.Moebius,
    f_hz: FloatArray,
    gamma: ComplexArray,
    extrapolated: float,
) -> DipEnsemble:
    magnitude = np.minimum(np.abs(gamma), LARGEST_GAMMA)
    z_ohm, slope_ohm = _impedance(view, fit, model)
    with np.errstate(divide="ignore", invalid="ignore"):
        # From the width over which the power taken in falls by a ninth: it holds for series and parallel alike.
        loaded_q = f_hz / (SWR_2_DETUNING * matched_widths_hz(model, fit.centre_hz))
        width = np.sqrt(np.maximum(1 - 9 * magnitude[0] ** 2, 0)) / (SWR_2_DETUNING * loaded_q[0])
        matched = 1 / (SWR_2_DETUNING * loaded_q[0])
    unknown = np.full(f_hz.shape, np.nan)
    signed = view.phase == "signed"
    reach = matched if extrapolated else matched / 2
    inside = np.count_nonzero(np.abs(np.log(view.f_hz / f_hz[0])) <= reach)
    return DipEnsemble(
        f_hz=f_hz,
        swr=swr_from_gamma_abs(magnitude),
        r_ohm=z_ohm.real if signed else unknown,
        loaded_q=loaded_q if signed else unknown,
        resonance=_resonance(slope_ohm.imag) if signed else None,
        bandwidth=float(width) if width > 0 else float("nan"),
        extrapolated=extrapolated,
        points_inside=int(inside),
        own_sigma=_own_sigma(view, fit, float(f_hz[0])),
    )


def _own_sigma(view: View, fit: LocalFit, dip_hz: float) -> float:
    """Spread of ln f by noise and misfit alone."""
    if not view.noise[fit.points].any() and not fit.excess.any():
        return 0.0
    dice = np.random.default_rng([fit.points.size, 9])
    parts = dice.standard_normal((NOISE_DRAWS, fit.points.size, 2)).view(np.complex128)[..., 0] / np.sqrt(2)
    noise = np.hypot(view.noise[fit.points], fit.excess) * parts
    model = moebius.fit(fit.u, view.turned[fit.points] + noise, fit.weights)
    ln_f = np.log(moebius.frequency(moebius.smallest_magnitude(model), fit.centre_hz) / dip_hz)
    known = ln_f[np.isfinite(ln_f)]
    return float(np.sqrt(np.mean(np.minimum(np.square(known), FARTHEST_OUTSIDE**2)))) if known.size else 0.0


def _impedance(view: View, fit: LocalFit, model: moebius.Moebius) -> tuple[ComplexArray, ComplexArray]:
    """Impedance at the dip and its derivative with respect to ln f on every draw, shape (draws,) each. [ohm]"""
    u = moebius.smallest_magnitude(model)
    sides = []
    for side in (-STEP, STEP):
        f_hz = moebius.frequency(u + side, fit.centre_hz)
        gamma = view.turned_back(f_hz, moebius.value(model, u + side))
        sides.append((np.log(f_hz), z_from_gamma(gamma, view.reference_ohm)))
    (low_ln, low), (high_ln, high) = sides
    return (low + high) / 2, (high - low) / (high_ln - low_ln)


def _resonance(x_slope_ohm: FloatArray) -> Literal["series", "parallel"] | None:
    """Whether the reactance rises or falls through the dip; ``None`` where the draws do not agree."""
    rising = float(np.mean(x_slope_ohm[np.isfinite(x_slope_ohm)] > 0))
    if max(rising, 1 - rising) > AGREED:
        return "series" if rising > 0.5 else "parallel"
    return None


def _widened(dip: DipEnsemble, sigma: float, dice: np.random.Generator) -> DipEnsemble:
    """The same dip with the spread of an unknown line on its draws."""
    if not sigma or dip.f_hz.size < 2:
        return dip
    factor = np.exp(np.concatenate([[0.0], dice.normal(0, sigma, dip.f_hz.size - 1)]))
    return replace(dip, f_hz=dip.f_hz * factor)
