"""Where the SWR passes a limit to both sides of a dip."""

from __future__ import annotations

from typing import Literal, NamedTuple

import numpy as np

from sweepkit.analysis import moebius
from sweepkit.analysis.dips import FIT_REACH, Dip, loaded_reach_hz
from sweepkit.analysis.local import Ensemble, LocalFit, fit_near
from sweepkit.conversions import ComplexArray, FloatArray

SETTLING = 3
SETTLED_SHARE = (
    0.03  # an edge so near the middle of its window, over the window's width, is in the middle [-]
)
SUSTAINED_SHARE = 0.1  # a crossing counts once the curve stays above for this share of the dip's own width


class Edge(NamedTuple):
    """One end of an SWR bandwidth: a fit near it, or ``None`` with what stands in the way."""

    fit: LocalFit | None
    missing: Literal["", "never-below", "leaves-sweep"]


def find_edge(
    f_hz: FloatArray,
    gamma: ComplexArray,
    trust: FloatArray,
    dip: Dip,
    *,
    limit_gamma: float,
    side: Literal["low", "high"],
    noise: FloatArray,
) -> Edge:
    """Fit the curve near the place where it passes a limit, outward from a dip.

    Parameters
    ----------
    f_hz, gamma, trust
        As for :func:`sweepkit.analysis.local.fit_window`.
    dip : Dip
        The dip to start from.
    limit_gamma : float
        Magnitude of the reflection at the SWR limit. [-]
    side : {"low", "high"}
        Which end.
    noise : float array, shape (n,)
        Rms of the complex noise at each point. [-]

    Returns
    -------
    Edge
        A fit centred on the crossing, or why there is none.
    """
    bottom = moebius.value(dip.fit.model, moebius.smallest_magnitude(dip.fit.model))
    if not np.abs(bottom) < limit_gamma:
        return Edge(None, "never-below")
    half_width_hz = FIT_REACH * loaded_reach_hz(dip.fit) / 2
    centre_hz = _crossing_of_fit_hz(dip, limit_gamma, side)
    if centre_hz is None:
        centre_hz = _first_crossing_hz(f_hz, np.abs(gamma), dip, limit_gamma, side)
    if centre_hz is None or not f_hz[0] <= centre_hz <= f_hz[-1]:
        return Edge(None, "leaves-sweep")
    for _ in range(SETTLING):
        fit = fit_near(f_hz, gamma, trust, centre_hz, half_width_hz, noise)
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
    f_hz: FloatArray, magnitude: FloatArray, dip: Dip, limit_gamma: float, side: Literal["low", "high"]
) -> float | None:
    """First sample outward that starts a sustained stay above the limit."""
    step_hz = float(np.quantile(np.diff(f_hz[dip.fit.points]), 0.5)) if dip.fit.points.size > 1 else 1.0
    sustained = max(1, round(SUSTAINED_SHARE * loaded_reach_hz(dip.fit) / step_hz))
    outward = magnitude[dip.sample :] if side == "high" else magnitude[dip.sample :: -1]
    above = outward > limit_gamma
    stays = np.convolve(above, np.ones(sustained), "valid") == sustained
    if not stays.any():
        return None
    first = int(np.argmax(stays))
    return float(f_hz[dip.sample + first] if side == "high" else f_hz[dip.sample - first])
