"""The parts of sweeps round their dips that tell of line and analyzer, and the antenna's terms in them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweepkit.analysis import moebius
from sweepkit.analysis.dips import find_dip_samples
from sweepkit.conversions import ComplexArray, FloatArray, IndexArray
from sweepkit.feedline.chain import LineChain
from sweepkit.feedline.plane import remove_chain

# How far windows reach to each side of a dip, over its frequency: the next resonance is beyond. The next width is for
# antennas that the one before does not describe, and less shows no line.
HALF_WIDTHS = (0.25, 0.16, 0.105)
WIDEST = HALF_WIDTHS[0]
LEAST_POINTS = 25  # in a window; one with fewer tells nothing
POINTS = 60  # of a window, which is thinned down to as many: noise is the least of what is not known
MOST_DIPS = 2  # of a sweep, the deepest
WIDE = 2.0  # ends of a sweep of an octave: in less, two dips are rather a line's ripple than two resonances; our choice
HIGHEST_TERM = 8  # of the antenna's numerator
# Errors that run faster along frequency than the waves do: a tenth of an ordinary directivity, alike on some ten
# neighbouring points, counts as noise of so much; common practice, no source. [-]
RIPPLE = 0.003


class Curve(NamedTuple):
    """One sweep as read: frequency, reflection, rms noise and trust of each point, shape (n,)."""

    f_hz: FloatArray
    gamma: ComplexArray
    noise: FloatArray
    trust: FloatArray


class Windows(NamedTuple):
    """Windows of several outings, alike in number of points: shape (outings, windows, points)."""

    f_hz: FloatArray
    gamma: ComplexArray
    noise: FloatArray
    trust: FloatArray  # 0 where there is no point
    u: FloatArray  # of the resonance at the window's middle
    half_width: float

    @property
    def edge(self) -> float:
        """Largest u."""
        return 2 * self.half_width

    def part(self, here: slice | IndexArray) -> Windows:
        """Those of some outings."""
        return Windows(
            self.f_hz[here],
            self.gamma[here],
            self.noise[here],
            self.trust[here],
            self.u[here],
            self.half_width,
        )


def find_places(curves: Sequence[Curve], chain: LineChain, reference_ohm: float) -> list[tuple[Curve, float]]:
    """The deepest dips of each sweep at the feedpoint as told, with frequencies; of a wide one those alone. [Hz]"""
    places = []
    for curve in curves:
        told = np.abs(remove_chain(curve.f_hz, curve.gamma, chain.nominal, reference_ohm=reference_ohm)[0])
        if not np.isfinite(told).all():
            continue
        found = np.array([place[0] for place in find_dip_samples(told, noise=curve.noise)], dtype=np.intp)
        alone = found[_stand_alone(curve.f_hz, curve.f_hz[found])] if is_wide(curve.f_hz) else found
        deepest = sorted(alone.tolist(), key=lambda k: float(told[k]))[:MOST_DIPS]
        places += [(curve, float(curve.f_hz[k])) for k in deepest]
    return places


def is_wide(f_hz: FloatArray) -> bool:
    """Whether a sweep may show several resonances."""
    return bool(f_hz[-1] > WIDE * f_hz[0])


def _stand_alone(f_hz: FloatArray, dips_hz: FloatArray) -> NDArray[np.bool_]:
    """Whether the window of each dip lies inside the sweep and touches none of another one: one resonance is modelled,
    and beside an end of the sweep another one may be near. Dips in rising order.
    """
    gaps = np.diff(dips_hz) / dips_hz[:-1]
    far = np.concatenate([[True], gaps > 2 * WIDEST, [True]])
    inside = (dips_hz * (1 - WIDEST) > f_hz[0]) & (dips_hz * (1 + WIDEST) < f_hz[-1])
    return np.asarray((far[:-1] & far[1:])[: dips_hz.size] & inside)


def cut_windows(outings: Sequence[Sequence[tuple[Curve, float]]], half_width: float) -> Windows:
    """A window round each place of each outing, as many for each; without trust where it has too few points.

    ``half_width``: how far windows reach to each side, over their frequency.
    """
    shape = (len(outings), len(outings[0]), POINTS)
    f_hz, noise, trust, u = (np.empty(shape) for _ in range(4))
    gamma = np.empty(shape, dtype=np.complex128)
    for here in np.ndindex(shape[:2]):
        curve, centre_hz = outings[here[0]][here[1]]
        near = np.flatnonzero((np.abs(curve.f_hz / centre_hz - 1) <= half_width) & (curve.trust > 0))
        count = min(near.size, POINTS) if near.size >= LEAST_POINTS else 0
        index = np.full(POINTS, near[-1] if near.size else 0)
        index[:count] = near[np.linspace(0, near.size - 1, count).round().astype(int)] if count else 0
        f_hz[here], gamma[here] = curve.f_hz[index], curve.gamma[index]
        noise[here], trust[here] = np.hypot(curve.noise[index], RIPPLE), curve.trust[index]
        trust[here][count:] = 0
        u[here] = moebius.coordinate(f_hz[here], centre_hz)
    return Windows(f_hz, gamma, noise, trust, u, half_width)


def are_enough(curve: Curve, chain: LineChain, reference_ohm: float) -> bool:
    """Whether a sweep has a dip with enough points round it."""
    with np.errstate(all="ignore"):
        places = find_places([curve], chain, reference_ohm)
    return bool(places) and bool((cut_windows([places], WIDEST).trust > 0).any())


def resonances(windows: Windows, at_feed: ComplexArray, q: ComplexArray | None) -> ComplexArray:
    """The q of the antenna's own resonance in each window, shape (outings, windows, 1); once it was seen, seen anew."""
    if q is None:
        weights = moebius.settle_weights(windows.u, at_feed, windows.trust)
    else:
        weights = windows.trust / np.abs(1 + q * windows.u) ** 2
    seen = moebius.fit(windows.u, at_feed, weights).q
    return np.where(np.isfinite(seen), seen, 0.0)[..., None]


def antenna_terms(windows: Windows, q: ComplexArray) -> ComplexArray:
    """Terms u^k over the square of its own resonance, of size 1 at the ends; the terms last."""
    scale = np.abs(1 + q * windows.edge) * np.abs(1 - q * windows.edge)
    powers = (windows.u / windows.edge)[..., None] ** np.arange(HIGHEST_TERM + 1)
    return np.asarray(powers * (scale / (1 + q * windows.u) ** 2)[..., None])


def smoothed(terms: ComplexArray, curves: ComplexArray, evenly: FloatArray) -> ComplexArray:
    """Curves as the terms describe them, weighted least squares, shape of ``curves``."""
    weighted = terms * evenly[..., None]
    across = weighted.conj().swapaxes(-1, -2)
    gram = across @ weighted
    size = np.trace(gram, axis1=-2, axis2=-1).real[..., None, None]
    # a window without a point has nothing to solve; 1e-13 of the whole is below what doubles resolve otherwise
    gram += (1e-13 * size + (size <= 0)) * np.eye(terms.shape[-1])
    weights = np.linalg.solve(gram, across @ (curves * evenly)[..., None])
    return np.asarray((terms @ weights)[..., 0])
