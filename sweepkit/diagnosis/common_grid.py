"""Sweeps of the same thing brought onto the same frequencies, so that they can be subtracted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sweepkit.analysis.delay import without_delay
from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.reviews.view import View

LEAST_POINTS = 15  # fewer in common show no curve; common practice, no source
SAME_GRID = 1e-6  # relative difference of two frequencies that are the same


@dataclass(frozen=True, eq=False)
class Common:
    """Sweeps over the frequencies that all of them cover."""

    f_hz: FloatArray  # of the first sweep inside all others, shape (n,)
    gamma: ComplexArray  # shape (sweeps, n); magnitudes, where one of the sweeps has no phase
    turned: ComplexArray  # the first without its common delay; its magnitude where there is no phase
    noise: FloatArray  # rms on the difference of two of them, with the error of reading between points
    has_phase: bool  # whether gamma is complex
    delay_s: float = 0.0  # taken out of turned: that of a line, and of what the antenna stores


def find_common(views: Sequence[View]) -> Common | None:
    """The part that all sweeps cover; ``None`` where there is too little of it."""
    first = views[0]
    low_hz = max(float(view.f_hz[0]) for view in views) * (1 - SAME_GRID)
    high_hz = min(float(view.f_hz[-1]) for view in views) * (1 + SAME_GRID)
    inside = (first.f_hz >= low_hz) & (first.f_hz <= high_hz)
    for view in views:
        doubtful = view.f_hz[view.trust == 0]
        if doubtful.size:
            inside &= np.abs(first.f_hz[:, None] - doubtful).min(axis=1) > view.step_hz / 2
    f_hz = first.f_hz[inside]
    if f_hz.size < LEAST_POINTS or any(
        np.count_nonzero((view.f_hz >= low_hz) & (view.f_hz <= high_hz)) < LEAST_POINTS for view in views
    ):
        return None
    has_phase = all(view.phase == "signed" for view in views)
    read = [_read_at(view, f_hz, has_phase=has_phase) for view in views]
    noise = np.sqrt(sum(error**2 for _, error in read) / len(read) * 2)
    turned = first.turned[inside] if has_phase else np.abs(first.gamma[inside]).astype(np.complex128)
    return Common(f_hz, np.stack([gamma for gamma, _ in read]), turned, noise, has_phase, first.delay_s)


def _read_at(view: View, f_hz: FloatArray, *, has_phase: bool) -> tuple[ComplexArray, FloatArray]:
    """Reflection at the frequencies, by straight lines between points, and its rms error."""
    own = view.turned if has_phase else np.abs(view.gamma).astype(np.complex128)
    between = np.interp(f_hz, view.f_hz, own.real) + 1j * np.interp(f_hz, view.f_hz, own.imag)
    noise = np.interp(f_hz, view.f_hz, view.noise)
    bend = np.zeros(own.shape)
    bend[1:-1] = np.abs(np.diff(own, 2)) / 8
    nearest_hz = view.f_hz[np.clip(np.searchsorted(view.f_hz, f_hz * (1 - SAME_GRID)), 0, own.size - 1)]
    off_grid = np.abs(nearest_hz / f_hz - 1) > SAME_GRID
    error = np.hypot(noise, np.where(off_grid, np.interp(f_hz, view.f_hz, bend), 0.0))
    return without_delay(f_hz, between, -view.delay_s) if has_phase else between, error
