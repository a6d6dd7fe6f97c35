"""Whether a tuner matches what it sees: by SWR, or by its region of R and X with the margin."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sweepkit.conversions import ComplexArray, FloatArray, gamma_abs_from_swr, z_from_gamma
from sweepkit.figures import Figure
from sweepkit.kit.tuner import Tuner
from sweepkit.sweep import Phase

MATCHES, BEYOND, CANNOT_SAY = 1, 0, -1
CIRCLE_STEPS = 120  # impedances tried on a circle of constant SWR: one every 3 degrees


@dataclass(frozen=True)
class Margin:
    """Distance of an impedance from the nearest edge of a tuner's region, positive inside; the edge in words."""

    ohm: float
    edge: str


def tuner_reach(
    swr: FloatArray, z_ohm: ComplexArray | None, *, phase: Phase, tuner: Tuner | None, z0_ohm: float
) -> NDArray[np.int8]:
    """Whether the tuner matches, point by point, shape (k,): ``MATCHES``, ``BEYOND`` or ``CANNOT_SAY``.

    The last where some impedances that fit lie in the region and some do not: ``phase`` is what is known of the
    impedance at the radio, all, all but the sign of X (taken as positive), nothing.
    """
    reach = np.full(swr.shape, CANNOT_SAY, dtype=np.int8)
    if tuner is None:
        inside = np.zeros((1, *swr.shape), dtype=bool)
    elif tuner.max_swr is not None:
        inside = (swr <= tuner.max_swr)[np.newaxis]
    else:
        inside = _in_region(_possible_z_ohm(swr, z_ohm, phase, z0_ohm), tuner)
    reach[inside.all(axis=0)] = MATCHES
    reach[~inside.any(axis=0)] = BEYOND
    reach[np.isnan(swr)] = CANNOT_SAY
    return reach


def find_margin(z_ohm: complex, tuner: Tuner) -> Margin:
    """How far inside a tuner's region an impedance lies."""
    margins = _margins_ohm(np.array(z_ohm), tuner)
    edge = min(margins, key=lambda name: float(margins[name]))
    return Margin(float(margins[edge]), edge)


def margin_figure(z_ohm: ComplexArray, tuner: Tuner) -> Figure:
    """Distance from the edge that is nearest to the nominal impedance, with its interval [ohm].

    Impedance at the tuner, shape (draws,), the nominal one first; a tuner known by its region.
    """
    edges = _margins_ohm(z_ohm, tuner)
    inside = np.min(list(edges.values()), axis=0)
    return Figure.from_draws(inside, reason="the impedance is not known")


def _margins_ohm(z_ohm: ComplexArray, tuner: Tuner) -> dict[str, FloatArray]:
    """How far inside each edge, by its name."""
    if tuner.r_ohm is None or tuner.x_ohm is None:
        raise ValueError("this tuner has no region of R and X, so there is no margin in ohm")
    return {
        "lowest R": z_ohm.real - tuner.r_ohm[0],
        "highest R": tuner.r_ohm[1] - z_ohm.real,
        "lowest X": z_ohm.imag - tuner.x_ohm[0],
        "highest X": tuner.x_ohm[1] - z_ohm.imag,
    }


def _possible_z_ohm(swr: FloatArray, z_ohm: ComplexArray | None, phase: Phase, z0_ohm: float) -> ComplexArray:
    """Every impedance that fits what is known, shape (m, k)."""
    if z_ohm is not None and phase == "signed":
        return z_ohm[np.newaxis]
    if z_ohm is not None and phase == "unsigned":
        return np.stack([z_ohm, z_ohm.conj()])
    turns = np.exp(2j * np.pi * np.arange(CIRCLE_STEPS) / CIRCLE_STEPS)
    return z_from_gamma(turns[:, np.newaxis] * gamma_abs_from_swr(swr), z0_ohm)


def _in_region(z_ohm: ComplexArray, tuner: Tuner) -> NDArray[np.bool_]:
    """Which impedances lie in the region, edges included."""
    if tuner.r_ohm is None or tuner.x_ohm is None:
        raise ValueError("this tuner has no region of R and X")
    (r_low, r_high), (x_low, x_high) = tuner.r_ohm, tuner.x_ohm
    r_ohm, x_ohm = z_ohm.real, z_ohm.imag
    return (r_low <= r_ohm) & (r_ohm <= r_high) & (x_low <= x_ohm) & (x_ohm <= x_high)
