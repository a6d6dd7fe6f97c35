"""What sweeps of one outing tell of their own line and analyzer: a smooth antenna behind a told chain.

Unknown are the analyzer's errors as weights of waves along frequency (:mod:`sweepkit.instrument`), length, velocity
factor, loss and impedance of each piece, and the joints. Their prior is what was told. The antenna's reflection
round a dip is sum(e_k v^k)/(1 + q u)²: a Möbius function where k ends at 2, whose terms are free, and the
deviations of real antennas from it, whose size is not known and is weighed by evidence. So is whether the line holds
something that nobody told of (:mod:`sweepkit.station.evidence`). The sweep carried to the
feedpoint is linear in all of them near a trial line; two steps of Gauss and Newton settle it, and Laplace's
approximation there gives the covariance (MacKay, Information Theory, Inference, and Learning Algorithms,
Cambridge 2003, chapters 27 and 28). Sweeps of several outings go through each step together.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray, IndexArray
from sweepkit.feedline.chain import ChainDraws, LineChain, believable_chains, scores_per_chain
from sweepkit.feedline.near import matrices_near
from sweepkit.feedline.untold import TERMS, Parts, untold_terms
from sweepkit.instrument import WAVE_SHARES, WAVES, ErrorModel, error_waves
from sweepkit.kit.analyzer import Size, rms_of
from sweepkit.station.detuned import Beginning, Mixture, find_beginnings, weigh_beginning
from sweepkit.station.evidence import (
    BY_ANALYZER,
    BY_KIND,
    CHOKE,
    DEVIATIONS,
    FREE_TERMS,
    KINDS,
    LEAD,
    LEAD_M,
    Answers,
    System,
    qualities_of,
    told_apart,
    weigh,
)
from sweepkit.station.windows import (
    HALF_WIDTHS,
    POINTS,
    RIPPLE,
    WIDEST,
    Curve,
    Windows,
    antenna_terms,
    cut_windows,
    find_places,
    resonances,
    smoothed,
)

MOST_TOGETHER = 32  # sweeps that go through each step together: some 40 MB
STEPS = 2  # six move nothing by a tenth of its sigma in nine of ten sweeps of our models
NOISE_FREEDOM = 30.0  # how sure the noise is beforehand: the misfit may raise it
MOST_OFF = 3.0  # sigma of what was told: further away something else is wrong, and what was told is kept
MOST_MISFIT = 1.5  # over the noise, far beyond chance; above it the model is wrong and nothing is learned
# Reflection of a check standard that is off by as much as a good one, 46 dB; common practice [-]
STANDARD = 0.005
LINE_STEP = 1e-4  # sigma, for slopes with the line's scores
LEAST_SHARE = 1e-4  # of a part of the mixture: of 1000 draws a rarer one hardly ever has any


class Check(NamedTuple):
    """A check sweep, shape (n,), and what the standard should read."""

    f_hz: FloatArray
    gamma: ComplexArray
    ideal: float


@dataclass(frozen=True, eq=False)
class Learned:
    """Believable scores of line and analyzer: a mixture of normal distributions, in units of what was told."""

    chain: LineChain
    model: ErrorModel
    weights: FloatArray  # of the parts, shape (k,); together 1
    kind: IndexArray  # of line of each part, of :data:`sweepkit.station.evidence.KINDS`, or CHOKE, shape (k,)
    means: FloatArray  # shape (k, scores)
    factors: FloatArray  # F of each covariance F'F, shape (k, scores, scores)
    misfit: float  # what the fit leaves over the noise, of the worst width
    evidence: dict[float, float]  # by width of the windows, the logarithm of how likely the sweeps are
    strain: (
        float  # how far the parts are off what each takes for ordinary, at the most, a mean over them [sigma]
    )

    @property
    def kinds(self) -> FloatArray:
        """How likely each of :data:`sweepkit.station.evidence.KINDS` is, and a choke, shape (kinds + 1,)."""
        return np.bincount(self.kind, self.weights, CHOKE + 1).astype(np.float64)

    def without_lead(self) -> Learned:
        """As if nobody could have put a lead between."""
        left = self.weights * (self.kind != LEAD)
        return replace(self, weights=left / left.sum())

    @property
    def mean(self) -> FloatArray:
        """Mean of all parts, shape (scores,)."""
        return np.asarray(self.weights @ self.means)

    @property
    def centre(self) -> FloatArray:
        """Mean of the likeliest kind of line, which others that can be do not pull aside, shape (scores,)."""
        weights = self.weights * (self.kind == self.kinds.argmax())
        return np.asarray(weights @ self.means / weights.sum())

    @property
    def covariance(self) -> FloatArray:
        """Covariance over all parts, shape (scores, scores)."""
        inside = np.einsum("k,kji,kjl->il", self.weights, self.factors, self.factors)
        off = self.means - self.mean
        return np.asarray(inside + np.einsum("k,ki,kj->ij", self.weights, off, off))

    def draw(self, rng: np.random.Generator, n: int) -> tuple[ComplexArray, ChainDraws, FloatArray]:
        """Errors and chains that belong together, the centre first and ``n`` beside it, and things nobody told of.

        The errors are weights of directivity, tracking and source match, shape (3, 1 + n, waves), the last ones those
        for :func:`sweepkit.feedline.untold.untold_terms`, shape (1 + n, TERMS).
        """
        of_part = rng.multinomial(n, self.weights)
        drawn = rng.standard_normal((n, self.means.shape[1]))
        ends = of_part.cumsum().tolist()
        for mean, factor, count, end in zip(self.means, self.factors, of_part.tolist(), ends, strict=True):
            part = drawn[end - count : end]
            part[...] = part @ factor
            part += mean
        scores = np.empty((1 + n, self.means.shape[1]))
        scores[0] = self.centre
        np.take(drawn, rng.permutation(n), axis=0, out=scores[1:])
        chains = _chains(self.chain, scores)
        return _errors(self.model, scores[:, :BY_ANALYZER]), chains, scores[:, -BY_KIND:-1].copy()


def learn(
    curves: Sequence[Curve],
    chain: LineChain,
    model: ErrorModel,
    *,
    reference_ohm: float,
    checks: Sequence[Check] = (),
) -> Learned | None:
    """The posterior of one outing, or ``None`` where its sweeps tell nothing.

    Sweeps through the same line, of one piece at least, with the same calibration, with phase; ``checks`` are of
    check standards with that calibration.
    """
    ((learned, _),) = learn_outings([curves], chain, model, reference_ohm=reference_ohm, checks=checks)
    return learned


def learn_each(
    curves: Sequence[Curve],
    chain: LineChain,
    model: ErrorModel,
    *,
    reference_ohm: float,
    checks: Sequence[Check] = (),
) -> list[Learned | None]:
    """What each sweep tells by itself, as :func:`learn`, all of them side by side."""
    alone = [[curve] for curve in curves]
    outings = learn_outings(alone, chain, model, reference_ohm=reference_ohm, checks=checks)
    return [learned for learned, _ in outings]


def learn_outings(
    outings: Sequence[Sequence[Curve]],
    chain: LineChain,
    model: ErrorModel,
    *,
    reference_ohm: float,
    checks: Sequence[Check] = (),
    others: Sequence[LineChain] = (),
) -> list[tuple[Learned | None, float]]:
    """As :func:`learn` of each outing, and how much likelier the best of some ``others`` than this line looks.

    That is a first look after one step, in nepers, NaN where there is none: what it favours is worth
    :func:`weigh_lines`. Outings with as many windows go through each step together; the next width is for those that
    are left.
    """
    found: list[Learned | None] = [None] * len(outings)
    favours = np.full(len(outings), np.nan)
    with np.errstate(all="ignore"):
        places = [find_places(curves, chain, reference_ohm) for curves in outings]
        for half_width in HALF_WIDTHS:
            for count in {len(own) for own in places} - {0}:
                alike = [k for k, own in enumerate(places) if len(own) == count and found[k] is None]
                for start in range(0, len(alike), MOST_TOGETHER):
                    block = alike[start : start + MOST_TOGETHER]
                    windows = cut_windows([places[k] for k in block], half_width)
                    settled, first = _settled(windows, [chain] * len(block), model, reference_ohm, checks)
                    for k, learned in zip(block, settled, strict=True):
                        found[k] = learned
                    if half_width == WIDEST and others:
                        seen = [_first_look(windows, other, model, reference_ohm, checks) for other in others]
                        favours[block] = np.max(seen, axis=0) - first
    kept = [None if one is None or one.strain > MOST_OFF else one for one in found]
    return list(zip(kept, favours.tolist(), strict=True))


def weigh_lines(
    curves: Sequence[Curve], chains: Sequence[LineChain], model: ErrorModel, *, reference_ohm: float
) -> list[Learned | None]:
    """As :func:`learn` for each of several lines, in windows that depend on none: to hold them against each other.

    The lines have as many pieces, however far off what was told the best fit of each may be.
    """
    with np.errstate(all="ignore"):
        places = find_places(curves, LineChain(), reference_ohm)
        if not places:
            return [None] * len(chains)
        return _settled(cut_windows([places] * len(chains), WIDEST), chains, model, reference_ohm, ())[0]


class _Stepped(NamedTuple):
    """Outings after some steps."""

    answers: Answers
    evidence: FloatArray  # of each part, with what scaling the noise takes from it
    noise_scale: FloatArray
    first: FloatArray  # evidence over all parts after the first step, shape (outings,)
    beginning: Beginning


def _stepped(
    windows: Windows,
    chains: Sequence[LineChain],
    model: ErrorModel,
    reference_ohm: float,
    checks: Sequence[Check],
    steps: int,
) -> _Stepped:
    """So many Gauss-Newton steps from what was told, the last of them with an analyzer of unknown quality."""
    outings = windows.f_hz.shape[0]
    scores = np.zeros((outings, BY_ANALYZER + scores_per_chain(chains[0]) + BY_KIND))
    noise_scale, q, first, near = np.ones(outings), None, None, scores
    waves = error_waves(windows.f_hz.ravel()).reshape(WAVES.size, *windows.f_hz.shape)
    untold = _untold(windows, chains, reference_ohm)
    seen = _seen_checks(checks, model, scores.shape[1])
    for step in range(1, steps + 1):
        carried = _carried(windows, chains, model, scores, q, waves, untold, reference_ohm)
        system, q = _assemble(windows, carried, scores, noise_scale, seen), carried.q
        answers = weigh(*told_apart(system), *qualities_of(model.directivity if step == STEPS else 1.0))
        best = answers.evidence.argmax(axis=1)
        near, scores = scores, answers.means[np.arange(outings), best]
        left = answers.left[np.arange(outings), best]
        misfit = (NOISE_FREEDOM + left) / (NOISE_FREEDOM + system.freedom)
        values = 2 * (windows.trust > 0).sum(axis=(1, 2))
        evidence = answers.evidence - (values * np.log(noise_scale))[:, None]
        noise_scale = np.fmax(noise_scale * np.sqrt(misfit), 1.0)
        first = np.logaddexp.reduce(evidence, axis=1) if first is None else first
    beginning = find_beginnings(windows, carried.at_feed, carried.slope, carried.q, near)
    return _Stepped(answers, evidence, noise_scale, np.asarray(first), beginning)


def _first_look(
    windows: Windows,
    chain: LineChain,
    model: ErrorModel,
    reference_ohm: float,
    checks: Sequence[Check],
) -> FloatArray:
    """How likely each outing is with a line after one step, a logarithm, shape (outings,)."""
    outings = windows.f_hz.shape[0]
    try:
        return _stepped(windows, [chain] * outings, model, reference_ohm, checks, 1).first
    except np.linalg.LinAlgError:
        return np.full(outings, np.nan)


def _settled(
    windows: Windows,
    chains: Sequence[LineChain],
    model: ErrorModel,
    reference_ohm: float,
    checks: Sequence[Check],
) -> tuple[list[Learned | None], FloatArray]:
    """What each outing tells, ``None`` where it is not described well, and how likely it was after the first step.

    Numbers get out of hand with a line told so wrongly that nothing comes back from its end.
    """
    try:
        answers, evidence, noise_scale, first, beginning = _stepped(
            windows, chains, model, reference_ohm, checks, STEPS
        )
    except np.linalg.LinAlgError:  # of one, which takes all along
        if len(chains) == 1:
            return [None], np.full(1, np.nan)
        each = (
            _settled(windows.part(k), chains[k : k + 1], model, reference_ohm, checks)
            for k in range(len(chains))
        )
        alone, looks = zip(*each, strict=True)
        return [one for (one,) in alone], np.concatenate(looks)
    settled = [
        _mixed(chain, model, Answers(*parts), begins, said, float(scale), windows.half_width)
        if own_trust.any()
        else None
        for chain, *parts, begins, said, scale, own_trust in zip(
            chains, *answers, map(Beginning, *beginning), evidence, noise_scale, windows.trust, strict=True
        )
    ]
    return settled, first


def _mixed(
    chain: LineChain,
    model: ErrorModel,
    answers: Answers,
    beginning: Beginning,
    evidence: FloatArray,
    misfit: float,
    half_width: float,
) -> Learned | None:
    """All kinds count as evidence and the circle's beginning say; nothing where none describes the antenna."""
    if not (np.isfinite(answers.means).all() and np.isfinite(evidence).all() and misfit <= MOST_MISFIT):
        return None
    weights = np.exp(evidence - evidence.max())
    said = float(evidence.max() + np.log(weights.sum()))
    weights /= weights.sum()
    strain = float(weights @ answers.strain)
    kept = np.flatnonzero(weights > LEAST_SHARE)
    deviation = np.repeat(DEVIATIONS, weights.size // len(DEVIATIONS))[kept]
    mixture = Mixture(weights[kept], answers.means[kept], answers.factors(kept), kept % len(KINDS))
    mixture = weigh_beginning(mixture, deviation, beginning, least_share=LEAST_SHARE)
    return Learned(
        chain,
        model,
        mixture.weights,
        mixture.kind,
        mixture.means,
        mixture.factors,
        misfit,
        {half_width: said},
        strain,
    )


class _Carried(NamedTuple):
    """Windows at the feedpoint near some scores, shape (outings, windows, points) first."""

    at_feed: ComplexArray
    slope: ComplexArray  # of the reflection there with each score, the scores last
    growth: FloatArray  # of noise on the way
    terms: ComplexArray  # of the antenna, the terms last
    q: ComplexArray  # of its resonance


def _carried(
    windows: Windows,
    chains: Sequence[LineChain],
    model: ErrorModel,
    scores: FloatArray,
    q: ComplexArray | None,
    waves: ComplexArray,
    untold: ComplexArray,
    reference_ohm: float,
) -> _Carried:
    """The measured sweeps carried to the feedpoint, linear round smooth ones.

    Slopes are taken on the smooth curve: those on the noisy one would reward a line that shrinks the noise.
    """
    shape = windows.f_hz.shape
    errors = _errors(model, scores[:, :BY_ANALYZER])
    from_line = np.einsum("gj,jegdp->egdp", scores[:, -BY_KIND:-1], untold)
    directivity, tracking, match = np.einsum("egw,wgdp->egdp", errors, waves) + from_line
    a, b, c, d = _matrices(windows.f_hz, chains, scores, reference_ohm)

    free = windows.gamma - directivity
    free = free / (1 + tracking + match * free)
    below = a[0] - c[0] * free
    noisy = (d[0] * free - b[0]) / below
    q = resonances(windows, noisy, q)
    terms = antenna_terms(windows, q)
    smooth = smoothed(terms, noisy, np.sqrt(windows.trust) * np.abs(below) ** 2)
    gamma = (a[0] * smooth + b[0]) / (c[0] * smooth + d[0])
    read = directivity + (1 + tracking) * gamma / (1 - match * gamma)
    without = read - directivity
    by_gamma = 1 / (a[0] - c[0] * gamma) ** 2
    by_free = by_gamma / (1 + tracking + match * without) ** 2
    by_read = by_free * (1 + tracking)
    moved = (d * gamma - b) / (a - c * gamma)
    by_line = (moved[1:] - moved[0]) / LINE_STEP
    by_error = np.stack([-by_read, -by_free * without, -by_free * without**2])
    slopes = by_error[:, None] * wave_shares(model)[:, :, None, None, None] * waves
    slopes = slopes.reshape(-1, *shape)
    by_untold = np.einsum("jegdp,egdp->jgdp", untold, by_error)
    slope = np.concatenate([slopes, 1j * slopes, by_line[:-1], by_untold, by_line[-1:]])
    return _Carried(
        smooth + by_read * (windows.gamma - read), np.moveaxis(slope, 0, -1), np.abs(by_read), terms, q
    )


def _untold(windows: Windows, chains: Sequence[LineChain], reference_ohm: float) -> ComplexArray:
    """What a thing nobody told of adds in each line, shape (TERMS, 3, outings, windows, points)."""
    shape = windows.f_hz.shape
    if len(set(map(id, chains))) == 1:
        terms = untold_terms(windows.f_hz.ravel(), chains[0], reference_ohm=reference_ohm)
        return terms.reshape(TERMS, 3, *shape)
    parts: Parts | None = {} if (windows.f_hz == windows.f_hz[0]).all() else None
    each = [
        untold_terms(f_hz.ravel(), chain, reference_ohm=reference_ohm, parts=parts)
        for f_hz, chain in zip(windows.f_hz, chains, strict=True)
    ]
    return np.stack(each, axis=2).reshape(TERMS, 3, *shape)


def _matrices(
    f_hz: FloatArray, chains: Sequence[LineChain], scores: FloatArray, reference_ohm: float
) -> ComplexArray:
    """The lines as they are thought to be, then a little off in each score and in a lead, shape (4, 1 + scores,
    *shape of f).
    """
    outings, each = scores.shape[0], scores.shape[1] - BY_ANALYZER - BY_KIND
    off = np.zeros((2 + each, scores.shape[1]))
    off[1:, BY_ANALYZER : scores.shape[1] - BY_KIND][:-1] = LINE_STEP * np.eye(each)
    off[-1, -1] = LINE_STEP
    tried = scores[:, None] + off
    if len(set(map(id, chains))) == 1:
        drawn = _chains(chains[0], tried.reshape(-1, scores.shape[1]))
        near = [drawn.part(slice(start, start + 2 + each)) for start in range(0, drawn.size, 2 + each)]
    else:
        near = [_chains(chain, own) for chain, own in zip(chains, tried, strict=True)]
    matrices = matrices_near(f_hz.reshape(outings, -1), near, reference_ohm=reference_ohm)
    return matrices.reshape(4, -1, *f_hz.shape)


def _chains(chain: LineChain, scores: FloatArray) -> ChainDraws:
    """The line with the lead at the radio, which lengthens its first piece."""
    drawn = believable_chains(chain, scores[:, BY_ANALYZER:-BY_KIND])
    length_m = drawn.length_m.copy()
    length_m[:, 0] = np.maximum(length_m[:, 0] + LEAD_M[1] * scores[:, -1], 0.0)
    return replace(drawn, length_m=length_m)


def _assemble(
    windows: Windows,
    carried: _Carried,
    scores: FloatArray,
    noise_scale: FloatArray,
    checks: tuple[FloatArray, FloatArray],
) -> System:
    """The linear problem round some scores."""
    count, free = scores.shape[1], 2 * FREE_TERMS
    scale = noise_scale[:, None, None]
    weight = np.sqrt(2 * windows.trust) / (windows.noise * scale * carried.growth)
    target = carried.at_feed - np.einsum("gdps,gs->gdp", carried.slope, scores)
    terms = carried.terms
    parts = (
        np.concatenate([-carried.slope, terms, 1j * terms, target[..., None]], axis=-1) * weight[..., None]
    )
    parts = np.where(weight[..., None] > 0, parts, 0)
    parts = np.concatenate([parts.real, parts.imag], axis=-2)
    normal = parts.swapaxes(-1, -2) @ parts
    together = normal.sum(axis=1)
    rows, goal = checks
    used = (windows.trust > 0).sum(axis=2)
    return System(
        together[:, :count, :count] + rows.T @ rows,
        together[:, :count, -1] + goal @ rows,
        normal[:, :, count:-1, count:-1],
        normal[:, :, count:-1, :count],
        normal[:, :, count:-1, -1],
        together[:, -1, -1] + goal @ goal,
        2.0 * used.sum(axis=1) + goal.size - free * (used > 0).sum(axis=1),
    )


def _seen_checks(checks: Sequence[Check], model: ErrorModel, scores: int) -> tuple[FloatArray, FloatArray]:
    """What check standards read as rows of slopes with the scores, and goals, both over their sigma.

    A standard's own error is alike on all points, so that all together tell no more of it than one does.
    """
    rows, goals = [np.zeros((0, scores))], [np.zeros(0)]
    for check in checks:
        thin = np.linspace(0, check.f_hz.size - 1, min(check.f_hz.size, POINTS)).round().astype(int)
        by_error = check.ideal ** np.arange(3.0)  # read = directivity + ideal + tracking ideal + match ideal²
        slopes = by_error[:, None, None] * wave_shares(model)[..., None] * error_waves(check.f_hz[thin])
        slopes = slopes.reshape(-1, thin.size)
        sigma = np.hypot(RIPPLE, STANDARD * np.sqrt(thin.size)) / np.sqrt(2)
        part = np.concatenate([slopes, 1j * slopes, np.zeros((scores - BY_ANALYZER, thin.size))]).T / sigma
        goal = (check.gamma[thin] - check.ideal) / sigma
        rows += [part.real, part.imag]
        goals += [goal.real, goal.imag]
    return np.concatenate(rows), np.concatenate(goals)


def wave_shares(model: ErrorModel) -> FloatArray:
    """Rms of the real and of the imaginary part of each wave of the analyzer as told, shape (3, waves)."""
    return np.asarray(np.outer([rms_of(told) for told in _sizes(model)], WAVE_SHARES) / np.sqrt(2))


def _sizes(model: ErrorModel) -> tuple[Size, Size, Size]:
    return model.directivity, model.tracking, model.source_match


def _errors(model: ErrorModel, scores: FloatArray) -> ComplexArray:
    """Weights of the waves from scores, shape (3, draws, waves): real parts of all three first."""
    parts = scores.reshape(scores.shape[0], 2, 3, WAVES.size)
    weights = (parts[:, 0] + 1j * parts[:, 1]).transpose(1, 0, 2)
    return np.asarray(weights * wave_shares(model)[:, None])
