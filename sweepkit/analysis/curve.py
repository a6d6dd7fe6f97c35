"""A reflection curve between its points, without their noise: local fits over an interval, on every draw."""

from __future__ import annotations

import numpy as np

from sweepkit.analysis import moebius
from sweepkit.analysis.local import SHRINK, Ensemble, LocalFit, fit_window, is_described
from sweepkit.analysis.moebius import LEAST_POINTS
from sweepkit.conversions import ComplexArray, FloatArray

OVERLAP = 1.3  # window over interval, so that no value is taken at the end of its window
WIDEST_WINDOW = 0.02  # half-width over frequency tried first: more points, less noise [-]


def smooth_curve(
    f_hz: FloatArray,
    gamma: ComplexArray,
    trust: FloatArray,
    grid_hz: FloatArray,
    *,
    noise: FloatArray,
    ensemble: Ensemble,
) -> ComplexArray:
    """Reflection on a grid of frequencies inside the sweep.

    Parameters
    ----------
    f_hz, gamma, trust
        As for :func:`sweepkit.analysis.local.fit_window`.
    grid_hz : float array, shape (k,)
        Frequencies, rising, inside the sweep. [Hz]
    noise : float array, shape (n,)
        Rms of the complex noise at each point. [-]
    ensemble : Ensemble
        Reflection of every draw.

    Returns
    -------
    complex array, shape (draws, k)
        Reflection of every draw. [-]
    """
    pieces = _pieces(f_hz, gamma, trust, float(grid_hz[0]), float(grid_hz[-1]), noise)
    starts = np.array([start for start, _ in pieces[1:]])
    owner = np.searchsorted(starts, grid_hz, side="right")
    parts = []
    for k, (_, local) in enumerate(pieces):
        u = moebius.coordinate(grid_hz[owner == k], local.centre_hz)
        model = local.on(ensemble)
        parts.append(moebius.value(moebius.Moebius(*(c[:, np.newaxis] for c in model)), u))
    return np.concatenate(parts, axis=1)


def _pieces(
    f_hz: FloatArray,
    gamma: ComplexArray,
    trust: FloatArray,
    low_hz: float,
    high_hz: float,
    noise: FloatArray,
    *,
    widest_hz: float | None = None,
) -> list[tuple[float, LocalFit]]:
    """Where each piece starts, and its fit: the interval is halved until the model describes each part."""
    centre_hz, least_hz = (low_hz + high_hz) / 2, OVERLAP * (high_hz - low_hz) / 2
    half_width_hz = max(least_hz, WIDEST_WINDOW * centre_hz if widest_hz is None else widest_hz)
    while True:
        local = fit_window(f_hz, gamma, trust, centre_hz, half_width_hz)
        if is_described(local, noise):
            return [(low_hz, local)]
        if half_width_hz <= least_hz:
            break
        half_width_hz = max(least_hz, SHRINK * half_width_hz)
    if np.count_nonzero((f_hz >= low_hz) & (f_hz <= high_hz)) <= LEAST_POINTS:
        return [(low_hz, local)]
    return [
        *_pieces(f_hz, gamma, trust, low_hz, centre_hz, noise, widest_hz=0.0),
        *_pieces(f_hz, gamma, trust, centre_hz, high_hz, noise, widest_hz=0.0),
    ]
