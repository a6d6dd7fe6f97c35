"""The sign of a reactance of which only the size is known, where the sweep itself tells it.

Three steps: the smoothest path in the reflection plane over all choices of sign; its overall sign by the sense
in which a passive locus turns (clockwise) and by a causal rational fit; and at every point where the reactance
comes near zero, a crossing against a touch. Below the gate there is no answer.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.errors import UnreadableFile
from sweepkit.findings import Finding
from sweepkit.sweep import Sweep

LEAST_MARGIN = 1.25  # log ratio of residuals, crossing and touch; at 1.0 noisy models gave 1 wrong in 200
DECISIVE_FIT = 2.0  # ratio of the fits' residuals that outweighs the turning; the same files
LEAST_TURNING_RAD = 0.5  # a locus that turns less tells no sense; our own choice
# Share of its largest value below which a minimum of |Im gamma| is near zero; our own choice
NEAR_ZERO = 0.25
HALF_WINDOW = 4  # points on each side for the local fits; our own choice
IGNORED_SIZE = 0.02  # |Im gamma| at an end that may keep a wrong sign: 2 ohm at 50 ohm; our own choice
FEWEST_POINTS, MOST_POINTS = 9, 20_000  # fewer tell nothing, more take too long; our own choice
STEPS_OF_NOISE = 8.0  # a step along the locus this much longer than the noise has a direction; our own choice


def smoothest_path(folded: ComplexArray) -> ComplexArray:
    """Signs that give the smallest sum of squared second differences, up to one overall sign.

    ``folded``, shape (n,), has every reactance positive, so its imaginary part is 0 or more.
    """
    both = np.stack([folded, folded.conj()])  # state 0: as it stands, state 1: mirrored
    n = folded.size
    cost = np.zeros((2, 2))  # of the best path that ends with the states (previous, current)
    came_from = np.zeros((n, 2, 2), dtype=np.int8)
    for k in range(2, n):
        bend = both[:, None, None, k - 2] - 2 * both[None, :, None, k - 1] + both[None, None, :, k]
        total = cost[:, :, None] + np.abs(bend) ** 2
        came_from[k] = np.argmin(total, axis=0)
        cost = np.min(total, axis=0)
    states = np.zeros(n, dtype=np.int8)
    states[-2:] = np.unravel_index(int(np.argmin(cost)), cost.shape)
    for k in range(n - 1, 1, -1):
        states[k - 2] = came_from[k, states[k - 1], states[k]]
    return np.where(states == 0, folded, folded.conj())


def turning_rad(gamma: ComplexArray) -> float:
    """Total turn of a locus in steps that are long against its noise; negative for a passive load. [rad]"""
    noise = float(np.median(np.abs(np.diff(gamma, 2)))) / 2
    taken = [gamma[0]]
    for value in gamma[1:]:
        if abs(value - taken[-1]) > STEPS_OF_NOISE * noise + 1e-9:
            taken.append(value)
    step = np.diff(np.array(taken))
    return float(np.sum(np.angle(step[1:] / step[:-1]))) if step.size > 1 else 0.0


def causal_fit_residual(f_hz: FloatArray, gamma: ComplexArray) -> float:
    """Residual of a rational fit with stable poles (scikit-rf vector fitting). [-]"""
    import skrf
    from skrf.vectorFitting import VectorFitting

    network = skrf.Network(f=f_hz, f_unit="Hz", s=gamma.reshape(-1, 1, 1))
    fit = VectorFitting(network)
    with warnings.catch_warnings(), np.errstate(all="ignore"):
        warnings.simplefilter("ignore")
        fit.vector_fit(n_poles_real=1, n_poles_cmplx=2, fit_constant=True, fit_proportional=False)
        model = fit.get_model_response(0, 0, f_hz)
    return float(np.sqrt(np.mean(np.abs(model - gamma) ** 2)))


def near_zero_points(size: FloatArray) -> NDArray[np.int64]:
    """Places where a size has a local minimum near zero, ends left out."""
    inner = np.arange(1, size.size - 1)
    lowest = [
        size[max(0, k - HALF_WINDOW) : k + HALF_WINDOW + 1].min() == size[k] and size[k] < size[k - 1]
        for k in inner
    ]
    return np.asarray(inner[np.array(lowest) & (size[inner] < NEAR_ZERO * size.max())], dtype=np.int64)


def crossing_log_ratio(size: FloatArray, at: int) -> float | None:
    """Log of the ratio of the residuals at a local minimum: above 0 for a crossing of zero, below for a touch.

    ``None`` too near an end to tell.
    """
    window = np.arange(max(0, at - HALF_WINDOW), min(size.size, at + HALF_WINDOW + 1))
    if min(at - window[0], window[-1] - at) < 2 or window.size < 2 * HALF_WINDOW - 1:
        return None
    x = (window - at).astype(float)
    y = size[window]
    touch = _residual(x, y)
    crossing = min(_residual(x, np.where(x < split, -y, y)) for split in (-0.5, 0.5))
    floor = 1e-9 * float(np.max(y)) + 1e-300
    return float(np.log((touch + floor) / (crossing + floor)))


def _residual(x: FloatArray, y: FloatArray) -> float:
    """Root of the mean squared residual of a quadratic."""
    fit = np.polynomial.polynomial.polyfit(x, y, 2)
    return float(np.sqrt(np.mean((np.polynomial.polynomial.polyval(x, fit) - y) ** 2)))


def touches_zero_like_a_size(gamma: ComplexArray) -> bool:
    """Whether an imaginary part that is never negative bends at zero as the size of a crossing does."""
    size = np.abs(gamma.imag)
    ratios = [crossing_log_ratio(size, int(at)) for at in near_zero_points(size)]
    return any(ratio is not None and ratio > LEAST_MARGIN for ratio in ratios)


@dataclass(frozen=True)
class Recovery:
    """A recovered reflection, or why there is none."""

    gamma: ComplexArray | None  # with signed reactance
    why_not: str = ""  # what the sweep did not tell; empty with an answer
    crossings: int = 0  # how often the reactance changes sign


def recover_sign(f_hz: FloatArray, folded: ComplexArray) -> Recovery:
    """Find the sign of every reactance, all positive in ``folded``, or say why the sweep does not tell it."""
    if not FEWEST_POINTS <= folded.size <= MOST_POINTS:
        return Recovery(None, f"it has {folded.size} points, {FEWEST_POINTS} to {MOST_POINTS} are needed")
    path = smoothest_path(folded)
    why_not = _doubtful_crossing(np.abs(folded.imag), np.sign(path.imag))
    if why_not:
        return Recovery(None, why_not)
    turning = turning_rad(path)
    ratio = (causal_fit_residual(f_hz, path.conj()) + 1e-12) / (causal_fit_residual(f_hz, path) + 1e-12)
    decisive = ratio > DECISIVE_FIT or ratio < 1 / DECISIVE_FIT
    if not decisive and abs(turning) < LEAST_TURNING_RAD:
        return Recovery(None, f"its locus turns by {abs(turning):.2f} rad only, too little to tell the sense")
    if not decisive and (turning < 0) != (ratio > 1):
        return Recovery(None, "the sense of turning and a causal fit contradict each other")
    kept = ratio > 1 if decisive else turning < 0
    signed = path if kept else path.conj()
    signs = np.sign(signed.imag)
    signs = signs[signs != 0]
    return Recovery(signed, crossings=int((np.diff(signs) != 0).sum()))


def _doubtful_crossing(size: FloatArray, signs: FloatArray) -> str:
    """Why one of the places near zero may be a crossing or a touch; nothing where all are clear."""
    for at in near_zero_points(size):
        ratio = crossing_log_ratio(size, int(at))
        if ratio is None:
            short = size[:at] if at < size.size // 2 else size[at + 1 :]
            if short.max() > IGNORED_SIZE:
                return "the reactance comes near zero too close to the end of the sweep"
            continue
        left, right = signs[max(0, at - 2)], signs[min(signs.size - 1, at + 2)]
        margin = ratio if left != right else -ratio
        if margin <= LEAST_MARGIN:
            return "the reactance comes near zero and neither crosses nor touches it clearly"
    return ""


def with_recovered_sign(sweep: Sweep) -> Sweep:
    """The same sweep with the sign of its reactance, marked as recovered."""
    if sweep.phase == "signed":
        return sweep
    if sweep.gamma_folded is None:
        raise UnreadableFile(
            "the file holds no reactance, so there is no sign to recover; expected |X|, or |Z| and another size; "
            "leave --recover-sign out, or export the sweep with phase"
        )
    found = recover_sign(sweep.f_hz, sweep.gamma_folded)
    if found.gamma is None:
        raise UnreadableFile(
            f"the sign of the reactance cannot be recovered: {found.why_not}; expected a sweep that tells it; "
            "leave --recover-sign out, sweep with more points, or export with phase"
        )
    text = (
        "the sign of the reactance is not in the file; it was recovered from the shape of the sweep "
        f"({found.crossings} changes of sign)"
    )
    finding = Finding("sign-recovered", "warning", text, "check one sign of X on the analyzer")
    findings = (*(one for one in sweep.findings if one.code != "no-phase"), finding)
    return replace(sweep, gamma=found.gamma, gamma_folded=None, phase="signed", findings=findings)
