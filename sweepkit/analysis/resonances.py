"""Where the reactance passes zero, with R and Q there."""

from __future__ import annotations

from typing import Literal, NamedTuple

import numpy as np

from sweepkit.analysis import moebius
from sweepkit.analysis.dips import FIT_REACH
from sweepkit.analysis.local import Ensemble, LocalFit, Measured, fit_near
from sweepkit.conversions import FloatArray, z_from_gamma

HYSTERESIS_IN_NOISE = 3.0  # a crossing counts when both sides get this far from zero
WIDEST_WINDOW = 0.15  # first half-width of the fit over the frequency; the fit narrows it [-]


Q_REACH = 0.45  # half-width of a second, narrower window for Q, which is a slope, over the first [-]
NARROWED_ENOUGH = 0.7  # windows nearer in width than this tell noise, not what the model leaves out [-]


class Resonance(NamedTuple):
    """A zero of the reactance of the measured curve, the fit round it and a narrower one for its Q."""

    fit: LocalFit
    slope_fit: LocalFit
    kind: Literal["series", "parallel"]


class ResonanceDraws(NamedTuple):
    """Frequency [Hz], resistance [ohm] and Q [-] on every draw, NaN where a draw has no zero there."""

    f_hz: FloatArray
    r_ohm: FloatArray
    q: FloatArray


def find_resonances(curve: Measured) -> list[Resonance]:
    """Zeros of the reactance that are crossed with more than noise.

    Parameters
    ----------
    curve : Measured
        The measured curve, at the feedpoint.

    Returns
    -------
    list of Resonance
        In rising frequency.
    """
    found: list[Resonance] = []
    f_hz = curve.f_hz
    for start_hz in _crossings_hz(f_hz, curve.gamma.imag, HYSTERESIS_IN_NOISE * curve.noise):
        fit = _settled_fit(curve, start_hz)
        u = moebius.nearest(moebius.reactance_zeros(fit.model), 0.0)
        if not np.isfinite(u) or not f_hz[0] <= moebius.frequency(u, fit.centre_hz) <= f_hz[-1]:
            continue
        x_slope = (moebius.slope(fit.model, u) / (1 - moebius.value(fit.model, u)) ** 2).imag
        half_width_hz = Q_REACH * float(np.ptp(f_hz[fit.points])) / 2
        slope_fit = fit_near(curve, fit.centre_hz, half_width_hz)
        found.append(Resonance(fit, slope_fit, "series" if x_slope > 0 else "parallel"))
    return found


def resonance_draws(resonance: Resonance, reference_ohm: float, ensemble: Ensemble) -> ResonanceDraws:
    """Frequency, R and Q = f/(2R) |dZ/df| on every draw.

    Q is Q_Z of Yaghjian and Best, IEEE Trans. Antennas Propag. 53(4), 1298-1324, 2005, eq. 96, at resonance.
    What the model leaves out grows with the square of the window, so Q of two windows is carried on to a
    window of no width.

    Parameters
    ----------
    resonance : Resonance
        A resonance of the measured curve.
    reference_ohm : float
        Reference of the reflection. [ohm]
    ensemble : Ensemble
        Reflection of every draw at the feedpoint.

    Returns
    -------
    ResonanceDraws
        Arrays of shape (draws,).
    """
    fit = resonance.fit
    model = fit.on(ensemble)
    nominal = moebius.nearest(moebius.reactance_zeros(fit.model), 0.0)
    u = moebius.nearest(moebius.reactance_zeros(model), float(nominal))
    u = np.where(np.abs(u) <= 2 * float(np.max(np.abs(fit.u))), u, np.nan)
    f_hz = moebius.frequency(u, fit.centre_hz)
    r_ohm = z_from_gamma(moebius.value(model, u), reference_ohm).real
    narrow = resonance.slope_fit
    q_wide, q_narrow = (_q(m, u, fit.centre_hz) for m in (model, narrow.on(ensemble)))
    share = float(np.ptp(narrow.u) / np.ptp(fit.u))
    if share < NARROWED_ENOUGH:
        q_narrow = q_narrow + (q_narrow - q_wide) * share**2 / (1 - share**2)
    return ResonanceDraws(f_hz, r_ohm, q_narrow)


def _q(model: moebius.Moebius, u: FloatArray, centre_hz: float) -> FloatArray:
    """Q of a fit at its coordinates u, shape (draws,)."""
    f_hz = moebius.frequency(u, centre_hz)
    du_df = 1 / centre_hz + centre_hz / f_hz**2
    gamma = moebius.value(model, u)
    with np.errstate(divide="ignore", invalid="ignore"):  # NaN stays NaN, an open has no Q
        dz_df = 2 * moebius.slope(model, u) / (1 - gamma) ** 2 * du_df  # over the reference, as is R below
        return np.asarray(f_hz / (2 * z_from_gamma(gamma, 1.0).real) * np.abs(dz_df))


def _crossings_hz(f_hz: FloatArray, values: FloatArray, hysteresis: FloatArray) -> list[float]:
    """Frequencies at which the values change sign for good."""
    side = 0
    crossings = []
    last = 0
    for i in np.flatnonzero(np.abs(values) > hysteresis).tolist():
        sign = 1 if values[i] > 0 else -1
        if side and sign != side:
            between = values[last : i + 1]
            crossing = last + int(np.argmax(np.sign(between) == sign))
            crossings.append(float(f_hz[max(crossing - 1, 0)] + f_hz[crossing]) / 2)
        side, last = sign, i
    return crossings


def _settled_fit(curve: Measured, start_hz: float) -> LocalFit:
    """A fit no wider than one SWR-2 bandwidth to each side, centred on the zero."""
    half_width_hz = WIDEST_WINDOW * start_hz
    fit = fit_near(curve, start_hz, half_width_hz)
    for _ in range(3):
        own_hz = FIT_REACH * float(moebius.loaded_half_width(fit.model)) * fit.centre_hz / 2
        used_hz = float(np.ptp(curve.f_hz[fit.points])) / 2
        u = moebius.nearest(moebius.reactance_zeros(fit.model), 0.0)
        centre_hz = float(moebius.frequency(u, fit.centre_hz)) if np.isfinite(u) else start_hz
        if not abs(centre_hz - start_hz) <= 2 * used_hz:
            centre_hz = start_hz
        fit = fit_near(curve, centre_hz, min(own_hz, max(used_hz, 1.0)))
    return fit
