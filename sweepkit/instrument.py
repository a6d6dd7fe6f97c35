"""The analyzer's errors, and one sweep as an ensemble of equally believable ones.

Error terms after calibration as in EURAMET cg-12 v3.0 (2018): effective directivity, tracking and source
match. Each is complex normal and drifts slowly along frequency; noise is independent from point to point. The
ensemble is the Monte Carlo method of JCGM 101:2008: every draw is a reflection that, with errors drawn anew, could
have given the measured one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.polynomial.hermite_e import hermegauss
from numpy.typing import NDArray

from sweepkit.analysis.cells import Cells
from sweepkit.conversions import ComplexArray, FloatArray, IndexArray
from sweepkit.kit.analyzer import UNTOLD_DIRECTIVITY, UNTOLD_OUTER, Size

DEFAULT_DRAWS = 1000
CHUNK_POINTS = 128  # noise is drawn for so many points at once, only where a figure looks, ...
MOST_IN_CHUNK = 2**18  # ... for fewer where so many points × draws are exceeded, ...
LONG_SWEEP_POINTS = 8192  # ... and for each point by itself in sweeps so long that figures skip points
GAP = 4.0  # times the step beside it: what lies on both sides makes no cell; our own choice
MOST_KEPT_BYTES = 16 * 2**20  # of noise drawn; the rest is drawn again from its seed
TURN_HZ = 5e6  # an error has turned by about one radian after so much; common practice, no source
# Waves along frequency whose sum has the correlation exp(-(df/TURN_HZ)²/2), by Gauss-Hermite quadrature.
WAVES = hermegauss(3)[0] / TURN_HZ
WAVE_SHARES = np.sqrt(hermegauss(3)[1] / math.sqrt(2 * math.pi))


@dataclass(frozen=True, eq=False)
class ErrorModel:
    """Residual errors of a calibrated one-port analyzer.

    Parameters
    ----------
    directivity, tracking, source_match : float or pair of float
        Rms size of the error, its relative error of scale, its source match; or the range in which that size
        lies, even in dB. Left out: those of an ordinary hand-held analyzer. [-]
    noise : float or float array, shape (points,)
        Rms of the complex noise on the reflection, E|n|^2 = noise^2, everywhere or at each point. [-]
    noise_freedom : float
        Degrees of freedom of an estimated noise: each draw's noise has a size that the estimate allows
        (JCGM 101:2008, 6.4.9); infinite for a noise that is known. [-]
    """

    directivity: Size = UNTOLD_DIRECTIVITY
    noise: float | FloatArray = 0.0
    tracking: Size = UNTOLD_OUTER
    source_match: Size = UNTOLD_OUTER
    noise_freedom: float = math.inf

    def __post_init__(self) -> None:
        if not self.noise_freedom > 0:
            raise ValueError(f"noise_freedom is {self.noise_freedom}; it must be above 0")
        for name in ("directivity", "noise", "tracking", "source_match"):
            size = getattr(self, name)
            is_array = isinstance(size, np.ndarray)
            ends = (size.min(), size.max()) if is_array else size if isinstance(size, tuple) else (size,)
            bad = [each for each in ends if not 0 <= each < 1]  # NaN too
            if bad:
                raise ValueError(f"{name} is {bad[0]}; it must be at least 0 and below 1")


class Draws:
    """A sweep as an ensemble: the measured curve first, then ``n`` believable ones; same seed, same ensemble.

    ``spread``, shape (repeats, points), is what each of several repeats differs from ``gamma``, their mean. The draws
    then differ as that mean could, with Student's t of repeats - 1 degrees of freedom (JCGM 101:2008, 6.4.9.2), along
    frequency as the repeats do. Along ``f_hz`` the errors drift; left out, they are constant. ``errors``, shape (3, 1
    + n, waves), are weights of the waves of directivity, tracking and source match that take the place of the
    model's; the first of each are taken off the measured curve itself. ``more`` are weights of
    further errors, shape (1 + n, k), and what each of them adds to the three, shape (k, 3, points).

    ``cells`` may be asked for as points are: the noise of one is the mean of that of its points. Sweeps so long that
    figures skip points have none, nor have repeats and sweeps with gaps.
    """

    def __init__(
        self,
        gamma: ComplexArray,
        model: ErrorModel,
        *,
        n: int,
        seed: int,
        spread: ComplexArray | None = None,
        f_hz: FloatArray | None = None,
        errors: ComplexArray | None = None,
        more: tuple[FloatArray, ComplexArray] | None = None,
    ) -> None:
        is_long = gamma.size > LONG_SWEEP_POINTS
        has_cells = n > 0 and spread is None and not is_long and not (f_hz is not None and _has_gaps(f_hz))
        self.cells = Cells.along(gamma) if has_cells else Cells(gamma.size)
        self.n = n
        self._seed = seed
        self._noise: dict[tuple[int, int], NDArray[np.complex64]] = {}
        self._kept_bytes = 0
        self._chunk_points = 1 if is_long else _chunk_points(n)
        self._spread = spread
        self._more = None if more is None else (more[0], self.cells.means(more[1]))
        self._gamma = self.cells.means(gamma)
        self._f_hz = self.cells.means(np.zeros(gamma.shape) if f_hz is None else f_hz)
        if n == 0:  # the measured curve alone needs no more
            self._errors = np.zeros((3, WAVES.size, 1)) if errors is None else errors.swapaxes(1, 2)
            return
        size = np.broadcast_to(np.asarray(model.noise, dtype=np.float64) / np.sqrt(2), gamma.shape)
        self._size = self.cells.noise(size)
        constant = np.random.default_rng([seed, 0])
        sizes = (model.directivity, model.tracking, model.source_match)
        drawn = np.stack([draw_error(constant, size, n) for size in sizes])
        weights = np.pad(drawn, ((0, 0), (1, 0), (0, 0))) if errors is None else errors
        self._errors = np.ascontiguousarray(weights.swapaxes(1, 2))
        self._parts = _parts_of_repeats(constant, 0 if spread is None else spread.shape[0], n)
        self._noise_scale = _noise_scale(constant, model.noise_freedom, n)

    def at(self, index: IndexArray) -> ComplexArray:
        """Reflection of every member at some points or cells, measured one first, shape (1 + n, m).

        Made point by point, in place: most of the time of so many numbers is that of fetching memory for them.
        """
        step, index = np.divmod(index, self.cells.size)
        measured = self._gamma[index]
        if self.n == 0:
            return measured[np.newaxis, :]
        free, tracking, source_match = self._errors_at(index)
        np.subtract(measured[:, np.newaxis], free, out=free)
        self._take_noise(free[:, 1:], index, self._size[index] * np.sqrt(step + 1))
        if self._spread is not None:
            free[:, 1:] -= self._spread[:, index].T @ self._parts.T
        return _with_outer_errors(free, tracking, source_match).T

    __call__ = at

    @property
    def nominal(self) -> ComplexArray:
        """The measured curve less what is known of its errors, shape (points,). [-]"""
        points = np.arange(self.cells.points)
        free, tracking, source_match = self._errors_at(points, members=1)
        np.subtract(self._gamma[points, np.newaxis], free, out=free)
        return _with_outer_errors(free, tracking, source_match)[:, 0]

    def _errors_at(self, index: IndexArray, members: int | None = None) -> list[ComplexArray]:
        """Directivity, tracking and source match of each member, shape (m, members)."""
        waves = error_waves(self._f_hz[index]).T
        errors = [np.asarray(waves @ error[:, :members], dtype=np.complex128) for error in self._errors]
        if self._more is not None:
            weights, terms = self._more
            for k, error in enumerate(errors):
                error += terms[:, k, index].T @ weights[:members].T
        return errors

    def _take_noise(self, free: ComplexArray, index: IndexArray, size: FloatArray) -> None:
        """Take noise of a size, shape (m,), off in place, shape (m, n)."""
        level = np.searchsorted(self.cells.starts, index, side="right") - 1
        chunk_of, place = np.divmod(index - self.cells.starts[level], self._chunk_points)
        ends = np.flatnonzero((np.diff(chunk_of) != 0) | (np.diff(level) != 0)) + 1
        for here in map(slice, [0, *ends.tolist()], [*ends.tolist(), index.size]):
            noise = self._noise_chunk(int(level[here.start]), int(chunk_of[here.start]))
            free[here] -= noise[place[here]] * size[here, np.newaxis]

    def _noise_chunk(self, level: int, chunk: int) -> NDArray[np.complex64]:
        """Of so many points or cells, over its size, shape (points, n): two halves make one cell of the next level."""
        key = level, chunk
        if key not in self._noise:
            made = self._halves(level, chunk) if level < self.cells.top else self._fresh(level, chunk)
            self._kept_bytes += made.nbytes
            while (
                self._noise and self._kept_bytes > MOST_KEPT_BYTES
            ):  # drawn again where it is asked for again
                self._kept_bytes -= self._noise.pop(next(iter(self._noise))).nbytes
            self._noise[key] = made
        return self._noise[key]

    def _halves(self, level: int, chunk: int) -> NDArray[np.complex64]:
        """Sum and difference of the whole and something fresh."""
        half = self._chunk_points // 2
        whole = self._noise_chunk(level + 1, chunk // 2)[half * (chunk % 2) :][:half]
        fresh = self._fresh(level, chunk, len(whole))
        halves = np.empty((2 * len(whole), self.n), dtype=np.complex64)
        np.add(whole, fresh, out=halves[::2])
        np.subtract(whole, fresh, out=halves[1::2])
        halves *= np.float32(math.sqrt(0.5))
        return halves

    def _fresh(self, level: int, chunk: int, rows: int | None = None) -> NDArray[np.complex64]:
        left = self.cells.count(level) - chunk * self._chunk_points
        rows = min(left, self._chunk_points) if rows is None else rows
        rng = np.random.default_rng([self._seed, 1 + chunk, level])
        parts = rng.standard_normal((rows, self.n, 2), dtype=np.float32)
        noise = parts.view(np.complex64)[..., 0]
        noise *= self._noise_scale
        return noise


def _has_gaps(f_hz: FloatArray) -> bool:
    """Whether steps of a rising grid differ much from the ones beside them."""
    steps_hz = np.diff(f_hz)
    before, after = steps_hz[:-1], steps_hz[1:]
    return bool((np.maximum(before, after) > GAP * np.minimum(before, after)).any())


def _chunk_points(n: int) -> int:
    """A power of two, since two make one of a level above."""
    fitting = max(MOST_IN_CHUNK // max(n, 1), 2)
    return int(min(CHUNK_POINTS, 1 << (fitting.bit_length() - 1)))


def _with_outer_errors(
    free: ComplexArray, tracking: ComplexArray, source_match: ComplexArray
) -> ComplexArray:
    """What is left of a reflection by ``free / (1 + tracking + source_match free)``, in place. [-]"""
    source_match *= free
    source_match += tracking
    source_match += 1
    free /= source_match
    return free


def _parts_of_repeats(rng: np.random.Generator, repeats: int, n: int) -> FloatArray:
    """How much of each repeat's difference goes into each draw, shape (n, repeats)."""
    if repeats < 2:
        return np.zeros((n, repeats))
    freedom = repeats - 1
    parts: FloatArray = rng.standard_normal((n, repeats)) / np.sqrt(repeats * freedom)
    parts *= np.sqrt(freedom / rng.chisquare(freedom, (n, 1)))
    return parts


def error_waves(f_hz: FloatArray) -> ComplexArray:
    """What an error is made of along frequency: :func:`draw_error` times this, shape (waves, n). [-]"""
    return np.asarray(np.exp(1j * np.outer(WAVES, f_hz)))


def draw_error(rng: np.random.Generator, size: Size, n: int) -> ComplexArray:
    """Errors of a told or untold size as weights of the waves, shape (n, waves). [-]"""
    low, high = size if isinstance(size, tuple) else (size, size)
    sizes = low * (high / low) ** rng.random((n, 1)) if low > 0 else np.full((n, 1), high)
    parts = rng.standard_normal((2, n, WAVES.size)) / math.sqrt(2)
    return np.asarray(sizes * WAVE_SHARES * (parts[0] + 1j * parts[1]))


def _noise_scale(rng: np.random.Generator, freedom: float, n: int) -> NDArray[np.float32]:
    """True over estimated size of the noise on each draw, shape (n,)."""
    if math.isinf(freedom):
        return np.ones(n, dtype=np.float32)
    return np.sqrt(freedom / rng.chisquare(freedom, n)).astype(np.float32)
