"""Sweeps carried to the feedpoint, linear in scores of analyzer and line near some of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray, IndexArray
from sweepkit.feedline.chain import ChainDraws, LineChain, believable_chains, scores_per_chain
from sweepkit.feedline.near import matrices_near
from sweepkit.feedline.untold import TERMS, Parts, untold_terms
from sweepkit.instrument import WAVE_SHARES, WAVES, ErrorModel, error_waves
from sweepkit.kit.analyzer import Size, rms_of
from sweepkit.station.evidence import BY_ANALYZER, BY_KIND, FREE_TERMS, System
from sweepkit.station.windows import POINTS, RIPPLE, Windows, antenna_terms, resonances, smoothed

# Reflection of a check standard that is off by as much as a good one, 46 dB; common practice [-]
STANDARD = 0.005
LINE_STEP = 1e-4  # sigma, for slopes with the line's scores


class Check(NamedTuple):
    """A check sweep, shape (n,), and what the standard should read."""

    f_hz: FloatArray
    gamma: ComplexArray
    ideal: float


class Setting(NamedTuple):
    """What stays while steps are made: windows of some outings, shape (outings, windows, points), and what is told."""

    windows: Windows
    chains: Sequence[LineChain]
    model: ErrorModel
    waves: ComplexArray
    untold: ComplexArray
    checks: tuple[FloatArray, FloatArray]
    reference_ohm: float

    def part(self, here: IndexArray) -> Setting:
        """Some of the outings, more than once perhaps."""
        return self._replace(
            windows=self.windows.part(here),
            chains=[self.chains[k] for k in here.tolist()],
            waves=self.waves[:, here],
            untold=self.untold[:, :, here],
        )


def set_out(
    windows: Windows,
    chains: Sequence[LineChain],
    model: ErrorModel,
    reference_ohm: float,
    checks: Sequence[Check],
) -> Setting:
    """From windows and what was told."""
    waves = error_waves(windows.f_hz.ravel()).reshape(WAVES.size, *windows.f_hz.shape)
    untold = _untold(windows, chains, reference_ohm)
    seen = _seen_checks(checks, model, BY_ANALYZER + scores_per_chain(chains[0]) + BY_KIND)
    return Setting(windows, chains, model, waves, untold, seen, reference_ohm)


class Carried(NamedTuple):
    """Windows at the feedpoint near some scores, shape (outings, windows, points) first."""

    at_feed: ComplexArray
    slope: ComplexArray  # of the reflection there with each score, the scores last
    growth: FloatArray  # of noise on the way
    terms: ComplexArray  # of the antenna, the terms last
    q: ComplexArray  # of its resonance


def carry(setting: Setting, scores: FloatArray, q: ComplexArray | None) -> Carried:
    """The measured sweeps carried to the feedpoint, linear round smooth ones.

    Slopes are taken on the smooth curve: those on the noisy one would reward a line that shrinks the noise.
    """
    windows, chains, model, waves, untold, _, reference_ohm = setting
    shape = windows.f_hz.shape
    errors = errors_of(model, scores[:, :BY_ANALYZER])
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
    return Carried(
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
        drawn = chains_with_leads(chains[0], tried.reshape(-1, scores.shape[1]))
        near = [drawn.part(slice(start, start + 2 + each)) for start in range(0, drawn.size, 2 + each)]
    else:
        near = [chains_with_leads(chain, own) for chain, own in zip(chains, tried, strict=True)]
    matrices = matrices_near(f_hz.reshape(outings, -1), near, reference_ohm=reference_ohm)
    return matrices.reshape(4, -1, *f_hz.shape)


def chains_with_leads(chain: LineChain, scores: FloatArray) -> ChainDraws:
    """The line with the lead at the radio, which lengthens its first piece."""
    drawn = believable_chains(chain, scores[:, BY_ANALYZER:-BY_KIND])
    length_m = drawn.length_m.copy()
    length_m[:, 0] = np.maximum(length_m[:, 0] + scores[:, -1], 0.0)
    return replace(drawn, length_m=length_m)


def assemble(setting: Setting, carried: Carried, scores: FloatArray, noise_scale: FloatArray) -> System:
    """The linear problem round some scores."""
    windows, checks = setting.windows, setting.checks
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


def errors_of(model: ErrorModel, scores: FloatArray) -> ComplexArray:
    """Weights of the waves from scores, shape (3, draws, waves): real parts of all three first."""
    parts = scores.reshape(scores.shape[0], 2, 3, WAVES.size)
    weights = (parts[:, 0] + 1j * parts[:, 1]).transpose(1, 0, 2)
    return np.asarray(weights * wave_shares(model)[:, None])
