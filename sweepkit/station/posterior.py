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
from sweepkit.feedline.chain import ChainDraws, LineChain
from sweepkit.instrument import ErrorModel
from sweepkit.quantities import SPEED_OF_LIGHT_M_S
from sweepkit.station.detuned import find_beginnings
from sweepkit.station.evidence import (
    BY_ANALYZER,
    BY_KIND,
    CHOKE,
    DEVIATIONS,
    EVERY,
    KINDS,
    LEAD,
    LEAD_M,
    WITHOUT_LEAD,
    Answers,
    Kinds,
    System,
    leads,
    qualities_of,
    told_apart,
    weigh,
)
from sweepkit.station.linear import Check, Setting, assemble, carry, chains_with_leads, errors_of, set_out
from sweepkit.station.mixing import Ended, mix, sum_up
from sweepkit.station.windows import (
    HALF_WIDTHS,
    WIDEST,
    Curve,
    Windows,
    cut_windows,
    find_places,
)

MOST_TOGETHER = 32  # sweeps that go through each step together: some 40 MB
# Radians that a lead may turn the reflection from where it is looked at, and how many leads are; our choice
LEAD_TURN, LEADS = 0.6, (2, 6)
LEAD_OVERLAP = 0.4  # sigma of each over how far they are apart, so that all together are nearly even
NOISE_FREEDOM = 30.0  # how sure the noise is beforehand: the misfit may raise it
MOST_OTHERS = 4  # lines that are weighed against one: a first look is off by a few nepers; our choice
MOST_OFF = 3.0  # sigma of what was told: further away something else is wrong, and what was told is kept
MOST_MISFIT = 1.5  # over the noise, far beyond chance; above it the model is wrong and nothing is learned


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
        """Mean of the likeliest kind of line, which others that can be do not pull aside, shape (scores,).

        One with a lead only where that is likelier than none: figures of the two lie apart.
        """
        kinds = self.kinds
        likeliest = np.where(np.arange(kinds.size) == LEAD, kinds > 1 / 2, kinds).argmax()
        weights = self.weights * (self.kind == likeliest)
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
            if not count:
                continue
            part = drawn[end - count : end]
            part[...] = part @ factor
            part += mean
        scores = np.empty((1 + n, self.means.shape[1]))
        scores[0] = self.centre
        np.take(drawn, rng.permutation(n), axis=0, out=scores[1:])
        chains = chains_with_leads(self.chain, scores)
        return errors_of(self.model, scores[:, :BY_ANALYZER]), chains, scores[:, -BY_KIND:-1].copy()


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
                        seen = [
                            _first_looks(windows, [other] * len(block), model, reference_ohm, checks)
                            for other in others
                        ]
                        favours[block] = np.max(seen, axis=0) - first
    kept = [None if one is None or one.strain > MOST_OFF else one for one in found]
    return list(zip(kept, favours.tolist(), strict=True))


def weigh_lines(
    curves: Sequence[Curve], chains: Sequence[LineChain], model: ErrorModel, *, reference_ohm: float
) -> list[Learned | None]:
    """As :func:`learn` for each of several lines, in windows that depend on none: to hold the first against the others.

    The lines have as many pieces, however far off what was told the best fit of each may be. Of the others those alone
    that look likeliest after a first step are learned, for the rest there is ``None``.
    """
    with np.errstate(all="ignore"):
        places = find_places(curves, LineChain(), reference_ohm)
        if not places:
            return [None] * len(chains)
        windows = cut_windows([places] * len(chains), WIDEST)
        looks = _first_looks(windows, chains, model, reference_ohm, ())
        likely = np.argsort(-np.nan_to_num(looks[1:], nan=-np.inf))[:MOST_OTHERS] + 1
        weighed = np.concatenate([[0], likely])
        settled, _ = _settled(
            windows.part(weighed), [chains[k] for k in weighed.tolist()], model, reference_ohm, ()
        )
    found: list[Learned | None] = [None] * len(chains)
    for k, learned in zip(weighed.tolist(), settled, strict=True):
        found[k] = learned
    return found


class _Begun(NamedTuple):
    """Outings after a first step from what was told."""

    scores: FloatArray  # best without a lead, shape (outings, scores)
    noise_scale: FloatArray
    q: ComplexArray
    evidence: FloatArray  # over all parts, a logarithm


def _begin(setting: Setting) -> _Begun:
    """One Gauss-Newton step from what was told, with an analyzer of ordinary quality."""
    outings = setting.windows.f_hz.shape[0]
    scores, scale = np.zeros((outings, setting.checks[0].shape[1])), np.ones(outings)
    carried = carry(setting, scores, None)
    system = assemble(setting, carried, scores, scale)
    answers = weigh(*told_apart(system), EVERY, *qualities_of(1.0), deviations=DEVIATIONS[::2])
    without = np.where(np.arange(answers.evidence.shape[1]) % len(KINDS) == LEAD, -np.inf, answers.evidence)
    best = answers.means[np.arange(outings), without.argmax(axis=1)]
    first = np.logaddexp.reduce(answers.evidence, axis=1)
    return _Begun(best, _noise_scale(scale, system, answers), carried.q, np.asarray(first))


def _end(setting: Setting, begun: _Begun) -> list[Ended]:
    """The last step, without a lead and with leads of several lengths, each from a line that has it."""
    outings = np.arange(setting.windows.f_hz.shape[0])
    without = _end_with(setting, begun, outings, np.zeros(outings.size), WITHOUT_LEAD)
    of, lead_m, kinds = _leads(setting)
    with_lead = _end_with(setting, begun, of, lead_m, kinds)
    beginning = with_lead.beginning._replace(seen=without.beginning.seen[of])  # or it says nothing of any
    return [without, with_lead._replace(beginning=beginning, kind=np.full(with_lead.kind.shape, LEAD))]


def _end_with(setting: Setting, begun: _Begun, of: IndexArray, lead_m: FloatArray, kinds: Kinds) -> Ended:
    """One of the outings for each row, with a lead."""
    scores, here, scale = begun.scores[of], setting.part(of), begun.noise_scale[of]
    scores[:, -1] = lead_m
    carried = carry(here, scores, begun.q[of])
    system = assemble(here, carried, scores, scale)
    answers = weigh(*told_apart(system), kinds, *qualities_of(setting.model.directivity))
    values = 2 * (here.windows.trust > 0).sum(axis=(1, 2))
    number = kinds.log_share.shape[-1]
    return Ended(
        of,
        np.arange(answers.evidence.shape[1]) % number,
        answers,
        answers.evidence - (values * np.log(scale))[:, np.newaxis],
        find_beginnings(here.windows, carried.at_feed, carried.slope, carried.q, scores),
        _noise_scale(scale, system, answers),
    )


def _noise_scale(scale: FloatArray, system: System, answers: Answers) -> FloatArray:
    """What the likeliest part of each outing leaves, over the noise."""
    left = answers.left[np.arange(scale.size), answers.evidence.argmax(axis=1)]
    misfit = (NOISE_FREEDOM + left) / (NOISE_FREEDOM + system.freedom)
    return np.asarray(np.fmax(scale * np.sqrt(misfit), 1.0))


def _leads(setting: Setting) -> tuple[IndexArray, FloatArray, Kinds]:
    """Leads that each outing is tried with: so many that each turns its reflection little more than the one before."""
    piece = np.array([chain.pieces[0].velocity_factor for chain in setting.chains])
    highest_hz = setting.windows.f_hz.max(axis=(1, 2))
    turn = 4 * np.pi * highest_hz / (piece * SPEED_OF_LIGHT_M_S) * (LEAD_M[1] - LEAD_M[0])
    count = np.clip(np.ceil(turn / LEAD_TURN), *LEADS).astype(np.intp)
    of = np.repeat(np.arange(count.size), count)
    place = np.arange(of.size) - np.repeat(count.cumsum() - count, count)
    wide_m = (LEAD_M[1] - LEAD_M[0]) / count[of]
    shortest_m = LEAD_M[0] + place * wide_m
    share = np.log1p(wide_m / shortest_m) / np.log(LEAD_M[1] / LEAD_M[0])
    lead_m = shortest_m + wide_m / 2
    return of, lead_m, leads(lead_m, LEAD_OVERLAP * wide_m, share)


def _first_looks(
    windows: Windows,
    chains: Sequence[LineChain],
    model: ErrorModel,
    reference_ohm: float,
    checks: Sequence[Check],
) -> FloatArray:
    """How likely each outing is with its line after one step, a logarithm, shape (outings,)."""
    try:
        return _begin(set_out(windows, chains, model, reference_ohm, checks)).evidence
    except np.linalg.LinAlgError:  # of one, which takes all along
        if len(chains) == 1:
            return np.full(1, np.nan)
        each = (windows.part(slice(k, k + 1)) for k in range(len(chains)))
        looks = (
            _first_looks(part, [chain], model, reference_ohm, checks)
            for part, chain in zip(each, chains, strict=True)
        )
        return np.concatenate([*looks])


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
        setting = set_out(windows, chains, model, reference_ohm, checks)
        begun = _begin(setting)
        ended = _end(setting, begun)
    except np.linalg.LinAlgError:  # of one, which takes all along
        if len(chains) == 1:
            return [None], np.full(1, np.nan)
        each = (
            _settled(windows.part(slice(k, k + 1)), chains[k : k + 1], model, reference_ohm, checks)
            for k in range(len(chains))
        )
        alone, looks = zip(*each, strict=True)
        return [one for (one,) in alone], np.concatenate(looks)
    return _learned(chains, model, ended, windows), begun.evidence


def _learned(
    chains: Sequence[LineChain], model: ErrorModel, ended: Sequence[Ended], windows: Windows
) -> list[Learned | None]:
    """Nothing where none of the parts describes the antenna."""
    said, strain, misfit = sum_up(ended, len(chains))
    known = (misfit <= MOST_MISFIT) & windows.trust.any(axis=(1, 2))
    if not known.any():
        return [None] * len(chains)
    figures = zip(misfit.tolist(), said.tolist(), strain.tolist(), strict=True)
    mixed = zip(chains, mix(ended, len(chains)), figures, known, strict=True)
    return [
        Learned(chain, model, *mixture, misfit=left, evidence={windows.half_width: likely}, strain=off)
        if is_known
        else None
        for chain, mixture, (left, likely, off), is_known in mixed
    ]
