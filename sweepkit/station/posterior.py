"""What sweeps of one outing tell of their own line and analyzer: a smooth antenna behind a told chain.

Unknown are the analyzer's errors as weights of waves along frequency (:mod:`sweepkit.instrument`), length, velocity
factor, loss and impedance of each piece, and the joints. Their prior is what was told. The antenna's reflection
round a dip is sum(e_k v^k)/(1 + q u)²: a Möbius function where k ends at 2, whose terms are free, and the
deviations of real antennas from it, whose size is not known and is weighed by evidence. The sweep carried to the
feedpoint is linear in all of them near a trial line; two steps of Gauss and Newton settle it, and Laplace's
approximation there gives the covariance (MacKay, Information Theory, Inference, and Learning Algorithms,
Cambridge 2003, chapters 27 and 28).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweepkit.analysis import moebius
from sweepkit.analysis.dips import find_dip_samples
from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.feedline.chain import ChainDraws, LineChain, believable_chains, scores_per_chain
from sweepkit.feedline.plane import chain_matrix, remove_chain
from sweepkit.instrument import WAVE_SHARES, WAVES, ErrorModel, error_waves
from sweepkit.kit.analyzer import Size, rms_of

HALF_WIDTH = (
    0.25  # a window reaches so far to each side of a dip, over its frequency: the next resonance is beyond
)
NARROWER = 0.65  # a window whose antenna is not described is tried again so much narrower ...
LEAST_HALF_WIDTH = 0.08  # ... down to here: less shows no line
LEAST_POINTS = 25  # in a window; with fewer nothing is learned
MOST_POINTS = 60  # in a window, which is thinned down to as many: noise is the least of what is not known
MOST_DIPS = 2  # of a sweep, the deepest
HIGHEST_TERM = 8  # of the antenna's numerator
DEVIATIONS = (0.003, 0.01, 0.03, 0.1, 0.3)  # of an antenna from a resonator, at the ends of its window [-]
DECAY = 0.6  # from each of its terms to the next
QUALITIES = (
    0.6,
    1.0,
    1.6,
)  # size of an untold analyzer's errors over their rms: from 43.5 to 35 dB directivity
STEPS = 2  # six move nothing by a tenth of its sigma in nine of ten sweeps of our models
# Errors that run faster along frequency than the waves do: a tenth of an ordinary directivity, alike on some ten
# neighbouring points, counts as noise of so much; common practice, no source. [-]
RIPPLE = 0.003
NOISE_FREEDOM = 30.0  # how sure the noise is beforehand: the misfit may raise it
MOST_OFF = 3.0  # sigma of what was told: further away something else is wrong, and what was told is kept
MOST_MISFIT = 1.5  # over the noise, far beyond chance; above it the model is wrong and nothing is learned


class Curve(NamedTuple):
    """One sweep as read: frequency, reflection, rms noise and trust of each point, shape (n,)."""

    f_hz: FloatArray
    gamma: ComplexArray
    noise: FloatArray
    trust: FloatArray


class _Window(NamedTuple):
    curve: Curve
    centre_hz: float
    half_width: float
    q: complex | None = None  # of the antenna's resonance, once it was seen


@dataclass(frozen=True, eq=False)
class Learned:
    """Believable scores of line and analyzer: a mixture of normal distributions, in units of what was told.

    Parameters
    ----------
    chain, model
        What was told.
    weights : float array, shape (k,)
        Of the parts; together 1.
    means : float array, shape (k, scores)
    factors : float array, shape (k, scores, scores)
        Roots of their covariances.
    misfit : float
        What the fit leaves over the noise. [-]
    """

    chain: LineChain
    model: ErrorModel
    weights: FloatArray
    means: FloatArray
    factors: FloatArray
    misfit: float

    @property
    def mean(self) -> FloatArray:
        """Mean of all parts, shape (scores,)."""
        return np.asarray(self.weights @ self.means)

    @property
    def covariance(self) -> FloatArray:
        """Covariance over all parts, shape (scores, scores)."""
        inside = np.einsum("k,kij,klj->il", self.weights, self.factors, self.factors)
        off = self.means - self.mean
        return np.asarray(inside + np.einsum("k,ki,kj->ij", self.weights, off, off))

    def draw(self, rng: np.random.Generator, n: int) -> tuple[ComplexArray, ChainDraws]:
        """Errors and chains that belong together, the mean first.

        Parameters
        ----------
        rng : numpy Generator
            Source of chance.
        n : int
            How many beside the mean.

        Returns
        -------
        errors : complex array, shape (3, 1 + n, waves)
            Weights of directivity, tracking and source match. [-]
        chains : ChainDraws
        """
        part = rng.choice(self.weights.size, size=n, p=self.weights)
        normal = rng.standard_normal((n, self.means.shape[1]))
        drawn = self.means[part] + np.einsum("nij,nj->ni", self.factors[part], normal)
        scores = np.vstack([self.mean, drawn])
        count = 6 * WAVES.size
        return _errors(self.model, scores[:, :count]), believable_chains(self.chain, scores[:, count:])


def learn(
    curves: Sequence[Curve], chain: LineChain, model: ErrorModel, *, reference_ohm: float
) -> Learned | None:
    """The posterior of one outing, or ``None`` where its sweeps tell nothing.

    Parameters
    ----------
    curves : sequence of Curve
        Sweeps through the same line with the same calibration, with phase.
    chain : LineChain
        The line as told, at least one piece.
    model : ErrorModel
        The analyzer as told.
    reference_ohm : float
        Reference of the curves. [ohm]
    """
    half_width = HALF_WIDTH
    while half_width >= LEAST_HALF_WIDTH:
        windows = [w for c in curves for w in _windows(c, chain, half_width, reference_ohm)]
        if not windows:
            return None
        learned = _settled(windows, chain, model, reference_ohm)
        if learned is not None and learned.misfit <= MOST_MISFIT:
            return learned if np.abs(learned.mean).max() <= MOST_OFF else None
        half_width *= NARROWER
    return None


def _settled(
    windows: list[_Window], chain: LineChain, model: ErrorModel, reference_ohm: float
) -> Learned | None:
    """``None`` where numbers get out of hand, as with a line told so wrongly that nothing comes back from its end."""
    try:
        with np.errstate(all="ignore"):
            learned = _settle(windows, chain, model, reference_ohm)
    except np.linalg.LinAlgError:
        return None
    parts = (learned.weights, learned.means, learned.factors, learned.misfit)
    return learned if all(np.isfinite(part).all() for part in parts) else None


def _windows(curve: Curve, chain: LineChain, half_width: float, reference_ohm: float) -> list[_Window]:
    """Round the deepest dips at the feedpoint as told."""
    with np.errstate(all="ignore"):
        told = np.abs(remove_chain(curve.f_hz, curve.gamma, chain.nominal, reference_ohm=reference_ohm)[0])
    if not np.isfinite(told).all():
        return []
    places = [place[0] for place in find_dip_samples(told, noise=curve.noise)]
    windows = []
    for place in sorted(places, key=lambda k: float(told[k]))[:MOST_DIPS]:
        centre_hz = float(curve.f_hz[place])
        near = np.flatnonzero((np.abs(curve.f_hz / centre_hz - 1) <= half_width) & (curve.trust > 0))
        if near.size >= LEAST_POINTS:
            near = near[np.linspace(0, near.size - 1, min(near.size, MOST_POINTS)).round().astype(int)]
            noise = np.hypot(curve.noise[near], RIPPLE)
            cut = Curve(curve.f_hz[near], curve.gamma[near], noise, curve.trust[near])
            windows.append(_Window(cut, centre_hz, half_width))
    return windows


def _settle(windows: list[_Window], chain: LineChain, model: ErrorModel, reference_ohm: float) -> Learned:
    """Gauss-Newton steps from what was told, then all sizes of deviation weighed."""
    count = 6 * WAVES.size + scores_per_chain(chain)
    scores, noise_scale = np.zeros(count), 1.0
    for step in range(STEPS):
        last = step == STEPS - 1
        system, windows = _assemble(windows, chain, model, scores, noise_scale, reference_ohm)
        answers = _weigh(system, QUALITIES if last and isinstance(model.directivity, tuple) else (1.0,))
        best = int(np.argmax(answers.evidence))
        misfit = (NOISE_FREEDOM + answers.left[best]) / (NOISE_FREEDOM + system.freedom)
        noise_scale = max(noise_scale * float(np.sqrt(misfit)), 1.0)
        if not last:
            scores = answers.means[best]
    weights = np.exp(answers.evidence - answers.evidence.max())
    factors = np.linalg.cholesky(answers.covariances)
    return Learned(chain, model, weights / weights.sum(), answers.means, np.asarray(factors), noise_scale)


class _System(NamedTuple):
    """Normal equations of all windows, unknowns in the order scores, terms of each antenna."""

    normal: FloatArray
    right: FloatArray
    total: float
    freedom: int
    scores: int
    degree: NDArray[np.intp]  # of each term of the antennas


class _Answers(NamedTuple):
    """One for each size of deviation, along the first axis."""

    means: FloatArray
    covariances: FloatArray
    evidence: FloatArray
    left: FloatArray


def _assemble(
    windows: list[_Window],
    chain: LineChain,
    model: ErrorModel,
    scores: FloatArray,
    noise_scale: float,
    reference_ohm: float,
) -> tuple[_System, list[_Window]]:
    """The linear problem round some scores, and the windows with the resonance seen there."""
    count, terms = scores.size, HIGHEST_TERM + 1
    size = count + 2 * terms * len(windows)
    normal, right, total, values = np.zeros((size, size)), np.zeros(size), 0.0, 0
    seen = []
    for number, window in enumerate(windows):
        at_feed, slope, growth, basis, q = _carried(window, chain, model, scores, reference_ohm)
        seen.append(window._replace(q=q))
        weight = np.sqrt(2 * window.curve.trust) / (window.curve.noise * noise_scale * growth)
        target = (at_feed - slope @ scores) * weight
        part = np.concatenate([-slope, basis, 1j * basis], axis=1) * weight[:, None]
        real = np.concatenate([part.real, part.imag])
        goal = np.concatenate([target.real, target.imag])
        first = count + 2 * terms * number
        own = np.r_[0:count, first : first + 2 * terms]
        normal[np.ix_(own, own)] += real.T @ real
        right[own] += real.T @ goal
        total += float(goal @ goal)
        values += goal.size
    degree = np.tile(np.arange(terms), 2 * len(windows))
    return _System(normal, right, total, values - int((degree <= 2).sum()), count, degree), seen


def _weigh(system: _System, qualities: tuple[float, ...]) -> _Answers:
    """Mean, covariance and evidence for every size of deviation and quality; terms are taken out first."""
    split, analyzer = system.scores, 6 * WAVES.size
    free = system.degree > 2
    sigma = np.stack([size * DECAY ** (system.degree - 3.0) for size in DEVIATIONS])
    precision = np.where(free, sigma**-2.0, 1e-12)
    terms = system.normal[None, split:, split:] + precision[:, :, None] * np.eye(system.degree.size)
    between = system.normal[split:, :split]
    taken = np.linalg.solve(terms, np.column_stack([between, system.right[split:]])[None])
    scores_prior = np.ones((len(qualities), split))
    scores_prior[:, :analyzer] = np.array(qualities)[:, None] ** -2.0
    without = (system.normal[:split, :split] - between.T @ taken[..., :split])[:, None]
    left_scores = without + scores_prior[:, :, None] * np.eye(split)
    right = (system.right[:split] - taken[..., split] @ between)[:, None]
    covariances = np.linalg.inv(left_scores)
    covariances = (covariances + covariances.swapaxes(-1, -2)) / 2
    means = np.einsum("hqij,hqj->hqi", covariances, np.broadcast_to(right, left_scores.shape[:-1]))
    left = (system.total - taken[..., split] @ system.right[split:])[:, None] - (right * means).sum(axis=-1)
    prior = np.log(precision[:, free]).sum(axis=1)[:, None] + np.log(scores_prior).sum(axis=1)
    determinants = np.linalg.slogdet(terms)[1][:, None] + np.linalg.slogdet(left_scores)[1]
    evidence = (prior - left - determinants) / 2
    return _Answers(
        means.reshape(-1, split), covariances.reshape(-1, split, split), evidence.ravel(), left.ravel()
    )


class _Carried(NamedTuple):
    """A sweep at the feedpoint near some scores."""

    at_feed: ComplexArray
    slope: ComplexArray  # of the reflection there with each score, shape (n, scores)
    growth: FloatArray  # of noise on the way
    basis: ComplexArray  # of the antenna, shape (n, terms)
    q: complex  # of its resonance


def _carried(
    window: _Window, chain: LineChain, model: ErrorModel, scores: FloatArray, reference_ohm: float
) -> _Carried:
    """The measured sweep carried to the feedpoint, linear round a smooth one.

    Slopes are taken on the smooth curve: those on the noisy one would reward a line that shrinks the noise.
    """
    curve, count = window.curve, 6 * WAVES.size
    waves = error_waves(curve.f_hz)
    errors = _errors(model, scores[None, :count])[:, 0] @ waves
    steps = 1e-4 * np.vstack([np.zeros((1, scores.size - count)), np.eye(scores.size - count)])
    chains = believable_chains(chain, scores[None, count:] + steps)
    a, b, c, d = chain_matrix(curve.f_hz, chains, reference_ohm=reference_ohm)
    directivity, tracking, match = errors

    def freed(read: ComplexArray) -> ComplexArray:
        return np.asarray((read - directivity) / (1 + tracking + match * (read - directivity)))

    noisy = freed(curve.gamma)
    noisy = (d[0] * noisy - b[0]) / (a[0] - c[0] * noisy)
    basis, q = _basis(window, noisy)
    even = (np.sqrt(curve.trust) * np.abs(a[0] - c[0] * freed(curve.gamma)) ** 2)[:, None]
    across = np.linalg.qr(basis * even)[0]
    smooth = across @ (across.conj().T @ (noisy * even[:, 0])) / even[:, 0]
    gamma = (a[0] * smooth + b[0]) / (c[0] * smooth + d[0])
    read = directivity + (1 + tracking) * gamma / (1 - match * gamma)
    without = read - directivity
    below = 1 + tracking + match * without
    carried = (d * gamma - b) / (a - c * gamma)
    by_line = (carried[1:] - carried[0]) / 1e-4
    by_gamma = 1 / (a[0] - c[0] * gamma) ** 2
    by_read = by_gamma * (1 + tracking) / below**2
    by_error = np.stack([-by_read, -by_gamma * without / below**2, -by_gamma * without**2 / below**2])
    shares = np.stack([rms_of(told) * WAVE_SHARES for told in _sizes(model)]) / np.sqrt(2)
    slopes = (by_error[:, None, :] * shares[:, :, None] * waves[None]).reshape(-1, curve.f_hz.size)
    slope = np.concatenate([slopes, 1j * slopes, by_line])
    return _Carried(smooth + by_read * (curve.gamma - read), slope.T, np.abs(by_read), basis, q)


def _basis(window: _Window, at_feed: ComplexArray) -> tuple[ComplexArray, complex]:
    """Terms of the antenna, v^k over the square of its own resonance, of size 1 at the ends of the window."""
    f_hz = window.curve.f_hz
    u = moebius.coordinate(f_hz, window.centre_hz)
    if window.q is None:
        weights = moebius.settle_weights(u, at_feed, window.curve.trust)
    else:
        weights = window.curve.trust / np.abs(1 + window.q * u) ** 2
    q = complex(moebius.fit(u, at_feed, weights).q)
    edge = 2 * window.half_width
    square = (1 + q * u) ** 2
    scale = float(np.sqrt(np.abs(1 + q * edge) * np.abs(1 - q * edge))) ** 2
    powers = (u / edge)[:, None] ** np.arange(HIGHEST_TERM + 1)
    return np.asarray(powers * scale / square[:, None]), q


def _sizes(model: ErrorModel) -> tuple[Size, Size, Size]:
    return model.directivity, model.tracking, model.source_match


def _errors(model: ErrorModel, scores: FloatArray) -> ComplexArray:
    """Weights of the waves from scores, shape (3, draws, waves): real parts of all three first."""
    parts = scores.reshape(scores.shape[0], 2, 3, WAVES.size)
    sizes = np.array([rms_of(told) for told in _sizes(model)])[:, None, None] / np.sqrt(2)
    weights = (parts[:, 0] + 1j * parts[:, 1]).transpose(1, 0, 2)
    return np.asarray(weights * sizes * WAVE_SHARES)
