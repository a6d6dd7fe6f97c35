"""Where to put the dip for a whole band: the curve is lopsided and the line in between changes it.

Trimming moves the curve at the feedpoint along the frequency axis. It is moved, the line is put back, and
the place is taken that leaves the lowest worst SWR across the band.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray, swr_from_gamma_abs
from sweepkit.feedline.plane import chain_matrix
from sweepkit.reviews.planes import Planes

LARGEST_SCALE, SCALES, FINER = 1.25, 201, 41  # moves tried: up to a quarter of the frequency either way
POINTS = 61  # across the band
CAP = 0.999  # reflections above it count as it [-]


@dataclass(frozen=True)
class BandTarget:
    """Frequencies over which to move the curve, and the worst SWR then and now."""

    scale: float | None  # multiplies all frequencies; None where the sweep does not show enough of the curve
    worst_then: float | None
    worst_now: float | None  # None where the sweep does not cover the band


def best_scale(planes: Planes, low_hz: float, high_hz: float) -> BandTarget:
    """The move that leaves the lowest worst SWR at the radio across a band."""
    view = planes.feedpoint or planes.measured
    band_hz = np.linspace(low_hz, high_hz, POINTS)
    now = None
    if view.f_hz[0] <= low_hz and high_hz <= view.f_hz[-1]:
        now = float(_worst_swr(planes, view.f_hz, view.gamma, band_hz, np.array([1.0]))[0])
    reach = np.log(LARGEST_SCALE)
    scales = np.exp(np.linspace(-reach, reach, SCALES))
    scales = scales[(low_hz / scales >= view.f_hz[0]) & (high_hz / scales <= view.f_hz[-1])]
    if scales.size < 3:
        return BandTarget(None, None, now)
    worst = _worst_swr(planes, view.f_hz, view.gamma, band_hz, scales)
    best = int(np.argmin(worst))
    if best in (0, scales.size - 1):
        return BandTarget(None, None, now)  # it goes on falling beyond what was swept
    finer = np.linspace(scales[best - 1], scales[best + 1], FINER)
    worst = _worst_swr(planes, view.f_hz, view.gamma, band_hz, finer)
    return BandTarget(float(finer[np.argmin(worst)]), float(worst.min()), now)


def _worst_swr(
    planes: Planes, f_hz: FloatArray, gamma: ComplexArray, band_hz: FloatArray, scales: FloatArray
) -> FloatArray:
    """Worst SWR across the band for each move, shape of ``scales``."""
    asked_hz = band_hz / scales[:, np.newaxis]
    moved = np.interp(asked_hz, f_hz, gamma.real) + 1j * np.interp(asked_hz, f_hz, gamma.imag)
    if planes.chain is not None and planes.chain.chain.pieces:
        nominal = planes.chain.part(slice(0, 1))
        a, b, c, d = chain_matrix(band_hz, nominal, reference_ohm=planes.measured.reference_ohm)
        moved = (a * moved + b) / (c * moved + d)
    return np.asarray(swr_from_gamma_abs(np.minimum(np.abs(moved), CAP)).max(axis=-1))
