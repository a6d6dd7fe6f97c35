"""Where the SWR passes a limit to both sides of a dip."""

from __future__ import annotations

from typing import Literal, NamedTuple

import numpy as np

from sweepkit.analysis import moebius
from sweepkit.analysis.dips import FIT_REACH, Dip
from sweepkit.analysis.local import Ensemble, LocalFit, Measured, fit_near
from sweepkit.conversions import FloatArray

SETTLING = 3
SETTLED_SHARE = (
    0.03  # an edge so near the middle of its window, over the window's width, is in the middle [-]
)
SUSTAINED_SHARE = 0.1  # a crossing counts once the curve stays above for this share of the dip's own width


class Edge(NamedTuple):
    """One end of an SWR bandwidth: a fit near it, or ``None`` with what stands in the way."""

    fit: LocalFit | None
    missing: Literal["", "never-below", "leaves-sweep"]


def find_edge(curve: Measured, dip: Dip, *, limit_gamma: float, side: Literal["low", "high"]) -> Edge:
    """Fit the curve near the place where it passes a limit, outward from a dip.

    Parameters
    ----------
    curve : Measured
        The measured curve.
    dip : Dip
        The dip to start from.
    limit_gamma : float
        Magnitude of the reflection at the SWR limit. [-]
    side : {"low", "high"}
        Which end.

    Returns
    -------
    Edge
        A fit centred on the crossing, or why there is none.
    """
    f_hz = curve.f_hz
    bottom = moebius.value(dip.fit.model, moebius.smallest_magnitude(dip.fit.model))
    if not np.abs(bottom) < limit_gamma:
        return Edge(None, "never-below")
    half_width_hz = FIT_REACH * dip.reach_hz / 2
    centre_hz = _crossing_of_fit_hz(dip, limit_gamma, side)
    if centre_hz is None:
        centre_hz = _first_crossing_hz(curve, dip, limit_gamma, side)
    if centre_hz is None or not f_hz[0] <= centre_hz <= f_hz[-1]:
        return Edge(None, "leaves-sweep")
    for _ in range(SETTLING):
        fit = fit_near(curve, centre_hz, half_width_hz)
        u = moebius.nearest(moebius.magnitude_crossings(fit.model, limit_gamma), 0.0)
        found_hz = float(moebius.frequency(u, centre_hz))
        if not f_hz[0] <= found_hz <= f_hz[-1]:
            return Edge(None, "leaves-sweep")
        settled = abs(found_hz - centre_hz) < SETTLED_SHARE * float(np.ptp(f_hz[fit.points]))
        centre_hz = found_hz
        if settled:
            break
    return Edge(fit, "")


def edge_frequencies(edge: Edge, limit_gamma: float, ensemble: Ensemble) -> FloatArray:
    """The crossing on every draw.

    Parameters
    ----------
    edge : Edge
        An edge with a fit.
    limit_gamma : float
        Magnitude of the reflection at the SWR limit. [-]
    ensemble : Ensemble
        Reflection of every draw.

    Returns
    -------
    float array, shape (draws,)
        Frequency, NaN where a draw does not cross near the measured crossing. [Hz]
    """
    if edge.fit is None:
        raise ValueError("this edge has no fit; ask edge.missing first")
    roots = moebius.magnitude_crossings(edge.fit.on(ensemble), limit_gamma)
    nominal = moebius.nearest(moebius.magnitude_crossings(edge.fit.model, limit_gamma), 0.0)
    u = moebius.nearest(roots, float(nominal))
    reach = 2 * float(np.max(np.abs(edge.fit.u)))
    return moebius.frequency(np.where(np.abs(u) <= reach, u, np.nan), edge.fit.centre_hz)


def _crossing_of_fit_hz(dip: Dip, limit_gamma: float, side: Literal["low", "high"]) -> float | None:
    """The crossing where it lies inside the window of the dip's own fit."""
    fit = dip.fit
    bottom = moebius.smallest_magnitude(fit.model)
    roots = moebius.magnitude_crossings(fit.model, limit_gamma)
    outward = roots[roots < bottom] if side == "low" else roots[roots > bottom]
    inside = outward[(outward >= fit.u[0]) & (outward <= fit.u[-1])]
    if not inside.size:
        return None
    return float(moebius.frequency(inside[np.argmin(np.abs(inside - bottom))], fit.centre_hz))


def _first_crossing_hz(
    curve: Measured, dip: Dip, limit_gamma: float, side: Literal["low", "high"]
) -> float | None:
    """First sample outward that starts a sustained stay above the limit, or one to the end of the valley."""
    f_hz = curve.f_hz
    step_hz = float(np.quantile(np.diff(f_hz[dip.fit.points]), 0.5)) if dip.fit.points.size > 1 else 1.0
    end, step = (dip.last, 1) if side == "high" else (dip.first, -1)
    outward = np.arange(dip.sample, end + step, step)
    above = np.abs(curve.gamma[outward]) > limit_gamma
    sustained = max(1, round(SUSTAINED_SHARE * dip.reach_hz / step_hz))
    padded = np.append(above, np.full(sustained - 1, above[-1]))  # no longer than the valley itself
    stays = np.convolve(padded, np.ones(sustained), "valid") == sustained
    return float(f_hz[outward[int(np.argmax(stays))]]) if stays.any() else None
