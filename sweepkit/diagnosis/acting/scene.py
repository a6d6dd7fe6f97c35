"""The stage a cause is acted out on: the station as a good sweep shows it, or a bare line as it was told."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property
from math import hypot

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.diagnosis.acting.box import Box, before, behind
from sweepkit.diagnosis.acting.curve import Curve
from sweepkit.diagnosis.acting.healthy import ONE_BAND, loss_slope
from sweepkit.diagnosis.acting.priors import even_in_log
from sweepkit.diagnosis.acting.walk import Pair, Values, Walk, across, in_series, lay_walk, reflection
from sweepkit.diagnosis.answer import End
from sweepkit.feedline.chain import JOINT_OHM, LineChain
from sweepkit.feedline.plane import remove_chain

# What carries the curve beyond each end of a sweep: so much of it, and no more than lies so near, of the logarithm of
# frequency, since a circle describes one resonance.
EDGE_SHARE, EDGE_NEAR, EDGE_LEAST = 0.2, 0.06, 8
BEYOND = 0.25  # so far beyond its ends a sweep is carried, as a share of frequency
# Points for a dip, and for each turn of a line's echo, where a guess may be rough; common practice, no source.
ROUGH_POINTS, ROUGH_PER_TURN = 20, 4
STARTS_PER_WAVE, STARTS = 10.0, (20, 160)  # a reflection turns twice in a wave
# Ends of a sweep that holds more than one dip, how far apart they are in its logarithm, how deep: our choices
WIDE, BESIDE, DEEP = 2.0, 0.2, 0.6
# What untold connectors of a bare line look like beside their resistance, one sigma: five centimetres that are 30 or
# 75 ohm are some picofarad or some nanohenry too many; common practice, no source.
FRINGE_PF, NEAR_PF, NEAR_NH = 2.0, 2.0, 8.0


@dataclass(frozen=True, eq=False)
class Scene:
    """Where a cause is acted out."""

    f_hz: FloatArray  # at which it is judged
    now: ComplexArray  # what was swept now, at the radio or wherever it was measured
    walk: Walk  # the line told
    end: End  # what is at its far end
    reference_ohm: float  # of all reflections
    # reflection at the far end, behind the box if there is one, over the logarithm of frequency, as a good sweep shows
    # it; None without one: then the line is as told, within its tolerances
    at_end: Curve | None
    # of the healthy ways. With a good sweep: those of healthy.Condition; without: relative length, relative
    # impedance, logarithm of the loss, and what the connectors at both ends add, which is not scaled
    sigmas: FloatArray
    parallel: bool = False  # whether the antenna's resonance is one, as that of a wire fed at its end
    box: Box | None = None  # in front of it
    scale_sigma: float = 0.0  # how far the metres of the line told may be off together, as a fraction
    # of a line told beside a good sweep, which was taken through the line as it is: one sigma of its waves and of its
    # impedance, as fractions
    line_sigmas: tuple[float, float] = (0.0, 0.0)

    @property
    def length_m(self) -> float:
        """Of the line told. [m]"""
        return self.walk.length_m

    @property
    def is_line_unsure(self) -> bool:
        """Whether a good sweep was taken through a line that may be off what was told."""
        return max(self.line_sigmas) > 0

    def line_really(self, u: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Waves and impedance of the line over what was told, (members, 1), from standard normal (members, 2)."""
        waves, ohm = self.line_sigmas
        return np.asarray(1 + waves * u[:, 0:1]), np.asarray(1 + ohm * u[:, 1:2])

    @cached_property
    def bands(self) -> float:
        """How many bands of an antenna it covers, 1 at least and for a line as told.

        What a story is off by in one band it is off by in others too: what is seen of all proves as much as what is
        seen of an average one.
        """
        if self.at_end is None:
            return 1.0
        return max(float(np.log(self.f_hz[-1] / self.f_hz[0])) / ONE_BAND, 1.0)

    @cached_property
    def home_hz(self) -> float:
        """Frequency that the antenna is for: the middle of the sweep, or of one over many bands its lowest dip."""
        middle_hz = float(self.f_hz.mean())
        if self.at_end is None or self.f_hz[-1] < WIDE * self.f_hz[0]:
            return middle_hz
        x = self.at_end.x[(self.at_end.x >= self._ln_f[0]) & (self.at_end.x <= self._ln_f[-1])]
        size = np.abs(self.at_end(x))
        near = np.abs(np.subtract.outer(x, x)) < BESIDE
        dips = np.flatnonzero((size <= np.where(near, size, np.inf).min(axis=1)) & (size < DEEP))
        return float(np.exp(x[dips[0]])) if dips.size else middle_hz

    @cached_property
    def _ln_f(self) -> FloatArray:
        return np.log(self.f_hz)

    @cached_property
    def _omega(self) -> FloatArray:
        return 2 * np.pi * self.f_hz

    @cached_property
    def _along(self) -> ComplexArray:
        """What a nanosecond of delay and a decibel of loss do to the logarithm of the reflection, shape (2, n)."""
        return np.array([-2e-9j * self._omega, loss_slope(self.f_hz) + 0j])

    def _waves(self) -> FloatArray:
        """Length of the line, in waves, at each frequency."""
        return np.asarray(self.walk.lengths_m @ self.walk.gamma_per_m.imag / (2 * np.pi))

    def places(self) -> int:
        """How many places along the line lie so close that a climb from one reaches the next."""
        return int(np.clip(STARTS_PER_WAVE * self._waves()[-1], *STARTS)) if self.length_m else 1

    def every(self) -> int:
        """Of how many points one is enough for a rough guess."""
        turns = 2 * float(np.ptp(self._waves()))
        enough = self.f_hz.size >= 2 * max(ROUGH_POINTS, ROUGH_PER_TURN * turns)
        return 2 if enough else 1

    def thinned(self, every: int) -> Scene:
        """The same with some of its points."""
        walk = replace(self.walk, gamma_per_m=self.walk.gamma_per_m[:, ::every], z=self.walk.z[:, ::every])
        return replace(self, f_hz=self.f_hz[::every], now=self.now[::every], walk=walk)

    def far_end(
        self,
        h: FloatArray,
        *,
        slide: FloatArray | float = 0.0,
        r: FloatArray | float = 0.0,
        x: FloatArray | float = 0.0,
    ) -> Pair:
        """Voltage and current at the far end, healthy (ways standard normal, shape (members, h)) but for what is
        added.

        ``slide``, ``r``, ``x``, shape (members, 1): logarithm of frequency, of R and of the slope of X; of a parallel
        resonance that of R and the slope of B.
        """
        if self.at_end is None:
            one, zero = np.ones(self.f_hz.shape, dtype=complex), np.zeros(self.f_hz.shape, dtype=complex)
            if self.end == "short":
                return zero, one
            fringe = 2j * np.pi * self.f_hz * FRINGE_PF * 1e-12 * self.reference_ohm
            return across((one, zero), fringe * h[:, 3:4])
        way = h * self.sigmas
        gamma = self.at_end(self._ln_f - way[:, 0:1] - slide)
        x = x + way[:, 8:9] if self.parallel else x
        z = self._scaled((1 + gamma) / (1 - gamma + 1e-9), way[:, 1:2] + r, way[:, 2:3], x)
        omega = self._omega
        if self.box is not None:
            z = before(self.box, self.f_hz, z, reference_ohm=self.reference_ohm)
        series = (way[:, 5:6] + 1e-9j * omega * way[:, 6:7]) / self.reference_ohm
        return across(
            in_series((z, np.ones_like(z)), series), 1e-12j * omega * way[:, 7:8] * self.reference_ohm
        )

    def _scaled(self, z: ComplexArray, r: FloatArray, own: FloatArray, x: FloatArray | float) -> ComplexArray:
        """What gains or loses R keeps its slope: of X where the resonance is in series, of B where it is parallel."""
        if not self.parallel:
            return np.asarray(np.exp(r) * z.real + 1j * np.exp(own + x) * z.imag)
        z = np.exp(own) * z.real + 1j * z.imag
        y = 1 / (z + 1e-9)
        return np.asarray(1 / (np.exp(-r) * y.real + 1j * np.exp(x) * y.imag))

    def carry(
        self,
        pair: Pair,
        h: FloatArray,
        near_m: FloatArray | float,
        far_m: FloatArray | float,
        *,
        turns: Values | float = 1.0,
        z_factor: Values | float = 1.0,
    ) -> Pair:
        """Along the told line, off as a healthy one may be; see :meth:`Walk.carry`."""
        if self.at_end is not None:
            return self.walk.carry(pair, near_m, far_m, turns=turns, z_factor=z_factor)
        way = h * self.sigmas
        z = np.asarray(z_factor * (1 + way[:, 1:2]))
        # What the propagation constant grows by in its real part and in its imaginary part differs: twice carried.
        longer, lossier = 1 + way[:, 0:1], np.exp(way[:, 2:3])
        for k in reversed(range(self.walk.lengths_m.size)):
            own = self.walk.gamma_per_m[k]
            factor = (own.real * lossier + 1j * own.imag) / own * longer
            one = Walk(*(part[k : k + 1] for part in vars(self.walk).values()))
            pair = one.carry(pair, near_m, far_m, turns=turns * factor, z_factor=z)
        return pair

    def at_radio(self, pair: Pair, h: FloatArray) -> ComplexArray:
        """Reflection where it was swept, from voltage and current there and healthy ways, shape (members, h)."""
        if self.at_end is None:
            joint = even_in_log(h[:, 4:5], *JOINT_OHM) / self.reference_ohm
            omega = 2 * np.pi * self.f_hz
            inductance = joint + 1e-9j * omega * NEAR_NH * h[:, 5:6] / self.reference_ohm
            capacitance = 1e-12j * omega * NEAR_PF * h[:, 6:7] * self.reference_ohm
            return reflection(across(in_series(pair, inductance), capacitance))
        way = h * self.sigmas
        return np.asarray(reflection(pair) * np.exp(way[:, 3:5] @ self._along))

    def healthy(self, h: FloatArray) -> ComplexArray:
        """The sweep of a station in which nothing is wrong, shape (members, n)."""
        return self.at_radio(self.carry(self.far_end(h), h, 0.0, self.length_m), h)


def scene_with_baseline(
    f_hz: FloatArray,
    now: ComplexArray,
    good: tuple[FloatArray, ComplexArray],
    chain: LineChain | None,
    *,
    end: End,
    reference_ohm: float,
    sigmas: FloatArray,
    parallel: bool = False,
    box: Box | None = None,
) -> Scene:
    """The station as a good sweep, all of ``good``, shows it.

    Without a line told, what was swept is taken for the far end.
    """
    own_hz, gamma = good
    if chain is not None and chain.pieces:
        gamma = remove_chain(own_hz, gamma, chain.nominal, reference_ohm=reference_ohm)[0]
    walk = lay_walk(f_hz, chain, reference_ohm=reference_ohm)
    if box is not None:
        z = behind(box, own_hz, (1 + gamma) / (1 - gamma + 1e-9), reference_ohm=reference_ohm)
        gamma = (z - 1) / (z + 1)
    at_end, scale_sigma = _carried_beyond(own_hz, gamma), 0.0 if chain is None else chain.scale_sigma
    line_sigmas = _line_sigmas(chain)[:2] if chain is not None and chain.pieces else (0.0, 0.0)
    return Scene(f_hz, now, walk, end, reference_ohm, at_end, sigmas, parallel, box, scale_sigma, line_sigmas)


def scene_as_told(
    f_hz: FloatArray, now: ComplexArray, chain: LineChain, *, end: End, reference_ohm: float
) -> Scene:
    """A bare line as it was told."""
    sigmas = np.array([*_line_sigmas(chain), *np.ones(4)])
    walk = lay_walk(f_hz, chain, reference_ohm=reference_ohm)
    return Scene(f_hz, now, walk, end, reference_ohm, None, sigmas, scale_sigma=chain.scale_sigma)


def _line_sigmas(chain: LineChain) -> tuple[float, float, float]:
    """One sigma of waves, impedance and loss of a line as a whole, as fractions of what was told."""
    weights = [piece.length_m / chain.length_m for piece in chain.pieces]

    def together(sigmas: Iterable[float]) -> float:
        return hypot(*(w * sigma for w, sigma in zip(weights, sigmas, strict=True)))

    length = hypot(*(piece.length_sigma_m for piece in chain.pieces)) / chain.length_m
    waves = hypot(length, together(piece.velocity_factor_sigma for piece in chain.pieces))
    z0 = together(piece.z0_sigma for piece in chain.pieces)
    return waves, z0, together(piece.loss_sigma for piece in chain.pieces)


def _carried_beyond(f_hz: FloatArray, gamma: ComplexArray) -> Curve:
    """A smooth curve through the sweep and a little beyond, over the logarithm of frequency."""
    x = np.log(f_hz)
    counts = [int(np.sum(np.abs(x - end) <= EDGE_NEAR)) for end in (x[0], x[-1])]
    first, last = (max(min(int(EDGE_SHARE * x.size), near), EDGE_LEAST) for near in counts)
    step = (x[-1] - x[0]) / (x.size - 1)
    extra = np.arange(1, int(BEYOND / step) + 2)[:60]
    step = max(step, BEYOND / 60)
    low_x, high_x = x[0] - step * extra[::-1], x[-1] + step * extra
    low = _along_circle(x[:first], gamma[:first], low_x)
    high = _along_circle(x[-last:], gamma[-last:], high_x)
    return Curve(np.concatenate([low_x, x, high_x]), np.concatenate([low, gamma, high]))


def _along_circle(x: FloatArray, gamma: ComplexArray, at: FloatArray) -> ComplexArray:
    """(p0 + p1 t)/(1 + q t) through an edge: exact for a resonance, bounded for all else.

    A told line that loses more than the real one leaves reflections above 1, which go on as they are.
    """
    centre, scale = x.mean(), np.ptp(x)
    t, beyond = (x - centre) / scale, (at - centre) / scale
    p0, p1, q = np.linalg.lstsq(np.stack([np.ones_like(t), t, -gamma * t], axis=1), gamma, rcond=None)[0]
    values = np.asarray((p0 + p1 * beyond) / (1 + q * beyond))
    most = max(1.0, float(np.abs(gamma).max()))
    return np.asarray(values / np.maximum(np.abs(values) / most, 1.0))
