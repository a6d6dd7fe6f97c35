"""The analyzer's errors, and one sweep as an ensemble of equally believable ones.

Error terms after calibration as in EURAMET cg-12 v3.0 (2018): effective directivity, tracking and source
match, constant over one sweep; noise independent from point to point. The ensemble is the Monte Carlo method
of JCGM 101:2008: every draw is a reflection that, with errors drawn anew, could have given the measured one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sweepkit.conversions import ComplexArray, FloatArray

DEFAULT_DRAWS = 1000
DEFAULT_DIRECTIVITY_DB = 40.0  # handheld one-port, calibrated; common practice, no source
CHUNK_POINTS = 128  # noise is drawn for so many points at once, only where a figure looks ...
LONG_SWEEP_POINTS = 8192  # ... and for each point by itself in sweeps so long that figures skip points


@dataclass(frozen=True, eq=False)
class ErrorModel:
    """Residual errors of a calibrated one-port analyzer.

    Parameters
    ----------
    directivity : float
        Size of the directivity error; its phase is unknown. [-]
    noise : float or float array, shape (points,)
        Rms of the complex noise on the reflection, E|n|^2 = noise^2, everywhere or at each point. [-]
    tracking : float
        Size of the relative error of the reflection's scale; unknown phase. [-]
    source_match : float
        Size of the source match error; unknown phase. [-]
    noise_freedom : float
        Degrees of freedom of an estimated noise: each draw's noise has a size that the estimate allows
        (JCGM 101:2008, 6.4.9); infinite for a noise that is known. [-]
    """

    directivity: float = 10 ** (-DEFAULT_DIRECTIVITY_DB / 20)
    noise: float | FloatArray = 0.0
    tracking: float = 0.0
    source_match: float = 0.0
    noise_freedom: float = math.inf

    def __post_init__(self) -> None:
        if not self.noise_freedom > 0:
            raise ValueError(f"noise_freedom is {self.noise_freedom}; it must be above 0")
        for name in ("directivity", "noise", "tracking", "source_match"):
            size = np.asarray(getattr(self, name))
            bad = ~((size >= 0) & (size < 1))
            if bad.any():
                raise ValueError(f"{name} is {size[bad].flat[0]}; it must be at least 0 and below 1")


class Draws:
    """A sweep as an ensemble: the measured curve first, then ``n`` believable ones.

    Parameters
    ----------
    gamma : complex array, shape (points,)
        Measured reflection. [-]
    model : ErrorModel
        Sizes of the errors.
    n : int
        Number of draws beside the measured curve; 0 for nominal values only.
    seed : int
        Same seed, same ensemble.
    spread : complex array, shape (repeats, points), optional
        What each of several repeats differs from ``gamma``, their mean. The draws then differ as that mean
        could, with Student's t of repeats - 1 degrees of freedom (JCGM 101:2008, 6.4.9.2), along frequency
        as the repeats do. [-]
    """

    def __init__(
        self,
        gamma: ComplexArray,
        model: ErrorModel,
        *,
        n: int,
        seed: int,
        spread: ComplexArray | None = None,
    ) -> None:
        self._gamma = gamma
        self._model = model
        self._seed = seed
        self._size = np.broadcast_to(np.asarray(model.noise, dtype=np.float64) / np.sqrt(2), gamma.shape)
        self._noise: dict[int, NDArray[np.complex64]] = {}
        self._chunk_points = CHUNK_POINTS if gamma.size <= LONG_SWEEP_POINTS else 1
        self.n = n
        constant = np.random.default_rng([seed, 0])
        self._directivity = _unknown_phase(constant, model.directivity, n)
        self._tracking = _unknown_phase(constant, model.tracking, n)
        self._source_match = _unknown_phase(constant, model.source_match, n)
        self._spread = spread
        self._parts = _parts_of_repeats(constant, 0 if spread is None else spread.shape[0], n)
        self._noise_scale = _noise_scale(constant, model.noise_freedom, n)

    def at(self, index: NDArray[np.intp]) -> ComplexArray:
        """Reflection of every member at some points, measured one first.

        Parameters
        ----------
        index : int array, shape (m,)
            Points of the sweep.

        Returns
        -------
        complex array, shape (1 + n, m)
            Reflection. [-]
        """
        measured = self._gamma[index]
        if self.n == 0:
            return measured[np.newaxis, :]
        free = measured - self._noise_at(index) - self._directivity
        if self._spread is not None:
            free -= self._parts @ self._spread[:, index]
        if self._model.tracking or self._model.source_match:
            free = free / (1 + self._tracking + self._source_match * free)
        return np.concatenate([measured[np.newaxis, :], free])

    def _noise_at(self, index: NDArray[np.intp]) -> ComplexArray:
        answer = np.empty((self.n, index.size), dtype=np.complex128)
        chunk_of, place = np.divmod(index, self._chunk_points)
        for chunk in np.unique(chunk_of).tolist():
            here = chunk_of == chunk
            answer[:, here] = self._noise_chunk(chunk)[:, place[here]]
        answer *= self._size[index]
        return answer

    def _noise_chunk(self, chunk: int) -> NDArray[np.complex64]:
        if chunk not in self._noise:
            rng = np.random.default_rng([self._seed, 1 + chunk])
            parts = rng.standard_normal((self.n, self._chunk_points, 2), dtype=np.float32)
            self._noise[chunk] = (parts * self._noise_scale).view(np.complex64)[..., 0]
        return self._noise[chunk]


def _parts_of_repeats(rng: np.random.Generator, repeats: int, n: int) -> FloatArray:
    """How much of each repeat's difference goes into each draw, shape (n, repeats)."""
    if repeats < 2:
        return np.zeros((n, repeats))
    freedom = repeats - 1
    parts: FloatArray = rng.standard_normal((n, repeats)) / np.sqrt(repeats * freedom)
    parts *= np.sqrt(freedom / rng.chisquare(freedom, (n, 1)))
    return parts


def _unknown_phase(rng: np.random.Generator, size: float, n: int) -> ComplexArray:
    """One error per draw, of known size and any phase, shape (n, 1)."""
    phase: FloatArray = rng.uniform(0, 2 * np.pi, (n, 1))
    return np.asarray(size * np.exp(1j * phase), dtype=np.complex128)


def _noise_scale(rng: np.random.Generator, freedom: float, n: int) -> NDArray[np.float32]:
    """True over estimated size of the noise on each draw, shape (n, 1, 1)."""
    if math.isinf(freedom):
        return np.ones((n, 1, 1), dtype=np.float32)
    return np.sqrt(freedom / rng.chisquare(freedom, (n, 1, 1))).astype(np.float32)
