"""Where the SWR passes a limit to both sides of a dip."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, NamedTuple

import numpy as np

from sweepkit.analysis import moebius
from sweepkit.analysis.dips import FIT_REACH, Dip
from sweepkit.analysis.local import Ensemble, LocalFit, Measured, fit_all_near
from sweepkit.conversions import FloatArray

SETTLING = 3
SETTLED_SHARE = (
    0.03  # an edge so near the middle of its window, over the window's width, is in the middle [-]
)
SUSTAINED_SHARE = 0.1  # a crossing counts once the curve stays above for this share of the dip's own width


Side = Literal["low", "high"]


class Edge(NamedTuple):
    """One end of an SWR bandwidth: a fit near it, or ``None`` with what stands in the way."""

    fit: LocalFit | None
    missing: Literal["", "never-below", "leaves-sweep"]


class Wanted(NamedTuple):
    """An edge to look for: outward from a dip, where the reflection passes a magnitude."""

    dip: Dip
    limit_gamma: float
    side: Side


def find_edges(curve: Measured, wanted: Sequence[Wanted]) -> list[Edge]:
    """Fit the curve near the places where it passes limits, all of them side by side.

    Parameters
    ----------
    curve : Measured
        The measured curve.
    wanted : sequence of Wanted
        Edges.

    Returns
    -------
    list of Edge
        For each a fit centred on the crossing, or why there is none.
    """
    answers = [_start(curve, each) for each in wanted]
    centres_hz = {k: start for k, start in enumerate(answers) if isinstance(start, float)}
    edges = [answer if isinstance(answer, Edge) else Edge(None, "leaves-sweep") for answer in answers]
    for _ in range(SETTLING):
        if not centres_hz:
            break
        halves_hz = [FIT_REACH * wanted[k].dip.reach_hz / 2 for k in centres_hz]
        fits = fit_all_near(curve, list(centres_hz.values()), halves_hz)
        for (k, centre_hz), fit in zip(list(centres_hz.items()), fits, strict=True):
            u = moebius.nearest(moebius.magnitude_crossings(fit.model, wanted[k].limit_gamma), 0.0)
            found_hz = float(moebius.frequency(u, centre_hz))
            inside = curve.f_hz[0] <= found_hz <= curve.f_hz[-1]
            edges[k] = Edge(fit, "") if inside else Edge(None, "leaves-sweep")
            centres_hz[k] = found_hz
            if not inside or abs(found_hz - centre_hz) < SETTLED_SHARE * float(
                np.ptp(curve.f_hz[fit.points])
            ):
                del centres_hz[k]
    return edges


def _start(curve: Measured, wanted: Wanted) -> float | Edge:
    """Where the first fit is centred, or why there is none. [Hz]"""
    dip, limit_gamma, side = wanted
    bottom = moebius.value(dip.fit.model, moebius.smallest_magnitude(dip.fit.model))
    if not np.abs(bottom) < limit_gamma:
        return Edge(None, "never-below")
    centre_hz = _crossing_of_fit_hz(dip, limit_gamma, side)
    if centre_hz is None:
        centre_hz = _first_crossing_hz(curve, dip, limit_gamma, side)
    if centre_hz is None or not curve.f_hz[0] <= centre_hz <= curve.f_hz[-1]:
        return Edge(None, "leaves-sweep")
    return centre_hz


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


def _crossing_of_fit_hz(dip: Dip, limit_gamma: float, side: Side) -> float | None:
    """The crossing where it lies inside the window of the dip's own fit."""
    fit = dip.fit
    bottom = moebius.smallest_magnitude(fit.model)
    roots = moebius.magnitude_crossings(fit.model, limit_gamma)
    outward = roots[roots < bottom] if side == "low" else roots[roots > bottom]
    inside = outward[(outward >= fit.u[0]) & (outward <= fit.u[-1])]
    if not inside.size:
        return None
    return float(moebius.frequency(inside[np.argmin(np.abs(inside - bottom))], fit.centre_hz))


def _first_crossing_hz(curve: Measured, dip: Dip, limit_gamma: float, side: Side) -> float | None:
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
