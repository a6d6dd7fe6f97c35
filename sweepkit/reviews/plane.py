"""The figures of one plane: dips, resonances, SWR bandwidths."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from sweepkit.analysis.dips import Dip, dip_frequencies, find_dip_samples, fit_dip
from sweepkit.analysis.edges import Edge, Wanted, edge_frequencies, find_edges
from sweepkit.analysis.resonances import find_resonances, resonance_draws
from sweepkit.conversions import (
    ComplexArray,
    FloatArray,
    gamma_abs_from_swr,
    return_loss_db_from_gamma_abs,
    swr_from_gamma_abs,
    z_from_gamma,
)
from sweepkit.figures import Figure
from sweepkit.quantities import frequency_text
from sweepkit.reviews.view import View

SWR_LIMITS = (1.5, 2.0, 3.0)  # widths that are always given
LARGEST_GAMMA = 0.999  # a drawn reflection above it counts as it; keeps SWR finite (about 2000) [-]
NO_IMPEDANCE = {
    "none": "the file has no phase, so no impedance",
    "unsigned": "the sign of the reactance is not in the file; --recover-sign tries to find it",
}


@dataclass(frozen=True, eq=False)
class DrawnDip:
    """A dip on every draw: frequency and reflection, shape (draws,), the measured one first; NaN for none."""

    dip: Dip
    f_hz: FloatArray
    gamma: ComplexArray

    @property
    def gamma_abs(self) -> FloatArray:
        """Magnitude of the reflection on every draw, held below 1. [-]"""
        return np.minimum(np.abs(self.gamma), LARGEST_GAMMA)


@dataclass(frozen=True)
class DipFigures:
    """What is said of one dip."""

    f_hz: Figure
    swr: Figure
    return_loss_db: Figure
    r_ohm: Figure
    x_ohm: Figure


@dataclass(frozen=True)
class ResonanceFigures:
    """What is said of one zero of the reactance at the feedpoint."""

    f_hz: Figure
    r_ohm: Figure
    kind: Literal["series", "parallel"]
    q: Figure


@dataclass(frozen=True)
class SwrBandwidth:
    """Where the SWR stays within a limit round one dip."""

    dip: int
    limit_swr: float
    low_hz: Figure
    high_hz: Figure
    bandwidth_hz: Figure


@dataclass(frozen=True)
class Plane:
    """Figures at one plane: dips deepest first, resonances rising, bandwidths by dip and limit."""

    dips: tuple[DipFigures, ...]
    resonances: tuple[ResonanceFigures, ...]
    swr_bandwidths: tuple[SwrBandwidth, ...]


def find_dips(view: View) -> tuple[DrawnDip, ...]:
    """Dips of a plane on every draw, deepest first.

    Parameters
    ----------
    view : View
        The plane.
    """
    drawn = []
    for place in find_dip_samples(np.abs(view.gamma), noise=view.noise):
        dip = fit_dip(view.curve, place)
        f_hz, turned = dip_frequencies(dip, view.f_hz, view.turned_ensemble)
        drawn.append(DrawnDip(dip, f_hz, view.turned_back(f_hz, turned)))
    answered = [dip for dip in drawn if np.isfinite(dip.f_hz[0])]
    return tuple(sorted(answered, key=lambda dip: float(np.abs(dip.gamma[0]))))


def describe_plane(
    view: View, drawn: tuple[DrawnDip, ...], *, limits_swr: tuple[float, ...], is_feedpoint: bool
) -> Plane:
    """Figures of a plane.

    Parameters
    ----------
    view : View
        The plane.
    drawn : tuple of DrawnDip
        Its dips, from :func:`find_dips`.
    limits_swr : tuple of float
        Limits at which bandwidths are given. [-]
    is_feedpoint : bool
        Only there a zero of the reactance is a resonance.
    """
    levels = {limit: float(gamma_abs_from_swr(limit)) for limit in limits_swr}
    wanted = [
        Wanted(one.dip, level, side) for one in drawn for level in levels.values() for side in ("low", "high")
    ]
    edges = iter(find_edges(view.curve, wanted))
    widths = [
        _bandwidth(view, dip, number, limit, (next(edges), next(edges)))
        for number, dip in enumerate(drawn)
        for limit in limits_swr
    ]
    resonances = _resonances(view) if is_feedpoint and view.phase == "signed" else ()
    return Plane(tuple(_dip_figures(view, dip) for dip in drawn), resonances, tuple(widths))


def swr_figure(gamma_abs: FloatArray, *, reason: str) -> Figure:
    """SWR with its interval, which reaches 1 where the sweep cannot tell the reflection from none.

    Parameters
    ----------
    gamma_abs : float array, shape (draws,)
        Magnitude of the reflection, below 1, the measured one first. [-]
    reason : str
        What to say when there is no answer.
    """
    return Figure.from_draws(gamma_abs, reason=reason, wall=0.0).mapped(
        lambda g: float(swr_from_gamma_abs(g))
    )


def _dip_figures(view: View, drawn: DrawnDip) -> DipFigures:
    leaves = "the dip leaves its valley when the noise is drawn anew"
    if view.phase == "signed":
        z_ohm = z_from_gamma(drawn.gamma, view.reference_ohm)
        r_ohm = Figure.from_draws(z_ohm.real, reason=leaves)
        x_ohm = Figure.from_draws(z_ohm.imag, reason=leaves)
    else:
        r_ohm = x_ohm = Figure.none(NO_IMPEDANCE[view.phase])
    return DipFigures(
        f_hz=Figure.from_draws(drawn.f_hz, reason=leaves),
        swr=swr_figure(drawn.gamma_abs, reason=leaves),
        return_loss_db=Figure.from_draws(return_loss_db_from_gamma_abs(drawn.gamma_abs), reason=leaves),
        r_ohm=r_ohm,
        x_ohm=x_ohm,
    )


def _resonances(view: View) -> tuple[ResonanceFigures, ...]:
    figures = []
    for resonance in find_resonances(view.curve._replace(gamma=view.gamma)):
        draws = resonance_draws(resonance, view.reference_ohm, view.ensemble)
        lost = "the zero of the reactance is lost when the noise is drawn anew"
        figures.append(
            ResonanceFigures(
                f_hz=Figure.from_draws(draws.f_hz, reason=lost),
                r_ohm=Figure.from_draws(draws.r_ohm, reason=lost),
                kind=resonance.kind,
                q=Figure.from_draws(draws.q, reason=lost),
            )
        )
    return tuple(sorted(figures, key=lambda figure: figure.f_hz.value or 0.0))


def _bandwidth(
    view: View, drawn: DrawnDip, number: int, limit_swr: float, edges: tuple[Edge, Edge]
) -> SwrBandwidth:
    limit_gamma = float(gamma_abs_from_swr(limit_swr))
    low_hz, high_hz = (_edge_draws(view, drawn, edge, limit_gamma) for edge in edges)
    low_hz = np.where(low_hz < drawn.f_hz, low_hz, np.nan)
    high_hz = np.where(high_hz > drawn.f_hz, high_hz, np.nan)
    why_low = _why_no_edge(view, drawn, limit_swr, "low")
    why_high = _why_no_edge(view, drawn, limit_swr, "high")
    return SwrBandwidth(
        dip=number,
        limit_swr=limit_swr,
        low_hz=Figure.from_draws(low_hz, reason=why_low),
        high_hz=Figure.from_draws(high_hz, reason=why_high),
        bandwidth_hz=Figure.from_draws(high_hz - low_hz, reason=why_low if np.isnan(low_hz[0]) else why_high),
    )


def _edge_draws(view: View, drawn: DrawnDip, edge: Edge, limit_gamma: float) -> FloatArray:
    """The edge on every draw; NaN where a draw's dip does not get below the limit."""
    if edge.fit is None:
        return np.full(drawn.f_hz.shape, np.nan)
    f_hz = edge_frequencies(edge, limit_gamma, view.turned_ensemble)
    return np.where(drawn.gamma_abs < limit_gamma, f_hz, np.nan)


def _why_no_edge(view: View, drawn: DrawnDip, limit_swr: float, side: Literal["low", "high"]) -> str:
    """In words, for a figure without an answer."""
    swr = float(swr_from_gamma_abs(drawn.gamma_abs[0]))
    if swr >= limit_swr:
        return f"the dip reaches SWR {swr:.2f}, never {limit_swr:g}"
    end_hz = float(view.f_hz[0] if side == "low" else view.f_hz[-1])
    return f"SWR stays within {limit_swr:g} up to the end of the sweep at {frequency_text(end_hz)}"
