"""Levenberg-Marquardt on a handful of parameters.

Our own few lines, since a general optimiser costs a second of start-up and does not hand out the matrix by
which a thousand draws take one linear step from the solution.
Method: Marquardt, Journal of the Society for Industrial and Applied Mathematics 11(2), 431-441, 1963.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray

MOST_STEPS = 60
SETTLED = 1e-10  # relative improvement of the sum of squares at which the fit has settled
LEAST_SINGULAR = 1e-10  # singular values below this share of the largest are rounding
STEP = 1e-6  # of a parameter's scale, for numerical derivatives


@dataclass(frozen=True, eq=False)
class Solution:
    """Parameters of least squares."""

    values: FloatArray
    rms: float  # of the complex residual that is left
    # derivative of the model there, real parts over imaginary parts: shape (2·points, parameters)
    jacobian: FloatArray

    def respond(self, disturbance: ComplexArray) -> FloatArray:
        """First-order change of the parameters when something, shape (..., points), is added to the measured curve."""
        left, sizes, right = self._parts
        stacked = np.concatenate([disturbance.real, disturbance.imag], axis=-1)
        return np.asarray((stacked @ left / sizes) @ right)

    def respond_to_noise(self, noise: float, n: int, rng: np.random.Generator) -> FloatArray:
        """How far it moves under complex white noise of this rms on the curve, shape (n, parameters).

        The noise itself is never made: only as many independent parts of it as there are parameters move anything.
        """
        _, sizes, right = self._parts
        return np.asarray((rng.standard_normal((n, sizes.size)) * (noise / np.sqrt(2)) / sizes) @ right)

    @cached_property
    def _parts(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Singular values of the jacobian with their vectors; those that chance alone made are left out."""
        left, sizes, right = np.linalg.svd(self.jacobian, full_matrices=False)
        kept = sizes > LEAST_SINGULAR * sizes[0]
        return left[:, kept], sizes[kept], right[kept]


def solve(
    model: Callable[[FloatArray], ComplexArray],
    measured: ComplexArray,
    start: FloatArray,
    scale: FloatArray,
    *,
    most_steps: int = MOST_STEPS,
) -> Solution:
    """The nearest minimum of a complex model on a measured curve; ``scale`` says how much each parameter matters.

    The model takes rows of parameters, shape (rows, parameters), and gives the curve of each, (rows, points).

    A start that leads somewhere is well on its way after a dozen steps.
    """
    values, damping = start.astype(np.float64), 1e-3
    left = measured - model(values[np.newaxis])[0]
    jacobian = _jacobian(model, values, measured - left, scale)
    for _ in range(most_steps):
        normal = jacobian.T @ jacobian
        damped = normal + damping * np.diag(np.maximum(np.diag(normal), 1e-300))
        step = np.linalg.lstsq(damped, jacobian.T @ _stacked(left), rcond=None)[0]
        tried = measured - model((values + step)[np.newaxis])[0]
        gain = _square(left) - _square(tried)
        if not gain > 0:
            damping *= 10
            if damping > 1e9:
                break
            continue
        values, left, damping = values + step, tried, max(damping / 10, 1e-12)
        jacobian = _jacobian(model, values, measured - left, scale)
        if gain < SETTLED * (_square(left) + 1e-300):
            break
    return Solution(values, float(np.sqrt(_square(left) / left.size)), jacobian)


def _jacobian(
    model: Callable[[FloatArray], ComplexArray], values: FloatArray, curve: ComplexArray, scale: FloatArray
) -> FloatArray:
    """Forward differences from the curve at ``values``."""
    steps = STEP * scale
    moved = _stacked(model(values + np.diag(steps)) - curve)
    return np.ascontiguousarray((moved / steps[:, np.newaxis]).T)


def _stacked(curve: ComplexArray) -> FloatArray:
    return np.concatenate([curve.real, curve.imag], axis=-1)


def _square(curve: ComplexArray) -> float:
    return float(np.sum(curve.real**2 + curve.imag**2))
