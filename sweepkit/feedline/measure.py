"""Measure a piece of line from sweeps of it: length or velocity factor, loss, impedance, reflections."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.errors import BadInput
from sweepkit.feedline.echoes import range_m, resolution_m
from sweepkit.feedline.identify import Identified, all_echoes, beyond_connector, fit_beyond_range, identify
from sweepkit.feedline.reflections import UNEXPLAINED, Reflection, list_reflections
from sweepkit.feedline.section_fit import SectionDraws, SectionFit, SweptEnd
from sweepkit.feedline.swept import End, prepare_sweeps, refuse_unfit, sweep_to_take
from sweepkit.feedline.told import Scale, Told, find_scale
from sweepkit.figures import Figure
from sweepkit.quantities import length_text
from sweepkit.sweep import Sweep

# Errors that stay after calibration and that the fit does not find by itself: relative error of the
# scale, and source match. Size of each, phase unknown. Common practice for hand-held analyzers, no
# source.
TRACKING, SOURCE_MATCH = 0.005, 0.01
# The same for a line between two ports: relative error of what comes through, and the match of the second port.
THROUGH_TRACKING, LOAD_MATCH = 0.01, 0.01
# One sigma of the law k1·√f + k2·f, against the Schelkunoff solution (docs/feedline.md, table of errors).
LAW_SIGMA = 0.02
# Middles of the bands that portable operators use (MHz); the loss is listed at those that were swept.
LISTED_MHZ = (1.9, 3.7, 5.36, 7.1, 10.1, 14.2, 18.1, 21.2, 24.9, 28.5, 50.5, 70.2, 145.0, 222.0, 435.0)
LEAST_LISTED = 3


@dataclass(frozen=True, eq=False)
class LineMeasurement:
    """What sweeps say of a piece of line.

    Parameters
    ----------
    told : Told
        What was known beside the sweeps.
    identified : Identified
        The structure found.
    draws : SectionDraws
        Believable lines, the fitted one first.
    scale : Scale
        Length and velocity factor in each of them.
    swept_hz : float array, shape (n,)
        Frequencies of the sweeps. [Hz]
    told_ends : tuple of {"open", "short", "unknown"}
        The far end in each sweep, as told.
    reflections : tuple of Reflection
        Nearest first.
    through : bool
        Measured between two ports.
    """

    told: Told
    identified: Identified
    draws: SectionDraws
    scale: Scale
    swept_hz: FloatArray
    told_ends: tuple[End, ...]
    reflections: tuple[Reflection, ...]
    through: bool = False

    @property
    def length_m(self) -> Figure:
        """Length to the far end, or to the break."""
        return self._figure(self.scale.length_m)

    @property
    def velocity_factor(self) -> Figure:
        """High-frequency limit."""
        if self.scale.agreement == "impossible":
            return Figure.none("told length and measured delay belong to no line")
        return self._figure(self.scale.velocity_factor)

    @property
    def middle_hz(self) -> float:
        """Middle of the sweep, at which the velocity factor in place is given. [Hz]"""
        return round(float(self.swept_hz[0] + self.swept_hz[-1]) / 2, -3)

    @property
    def velocity_factor_in_place(self) -> Figure:
        """At :attr:`middle_hz`, as it was measured; below the limit by what the conductors slow the wave there."""
        if self.scale.agreement == "impossible":
            return self.velocity_factor
        return self._figure(self.scale.velocity_factor / self.draws.slowing(self.middle_hz))

    @property
    def z0_ohm(self) -> Figure:
        """Characteristic impedance, high-frequency limit, of the longest section."""
        return self._figure(self.draws.z0_ohm[:, self.main_section])

    @property
    def main_section(self) -> int:
        """Which section is the longest."""
        return int(np.argmax(self.identified.fit.sections.delay_s))

    @property
    def loss_hz(self) -> FloatArray:
        """Frequencies at which the loss is listed, shape (m,). [Hz]"""
        listed = np.array(LISTED_MHZ) * 1e6
        inside = listed[(listed >= self.swept_hz[0]) & (listed <= self.swept_hz[-1])]
        if inside.size >= LEAST_LISTED:
            return np.asarray(inside)
        return np.asarray(np.linspace(self.swept_hz[0], self.swept_hz[-1], LEAST_LISTED + 2))

    @property
    def loss_db(self) -> tuple[Figure, ...]:
        """Matched loss, one way, at each of :attr:`loss_hz`. [dB]"""
        return tuple(self._figure(column) for column in self.draws.loss_db(self.loss_hz).T)

    @property
    def resolution_m(self) -> float:
        """Length of one cell of the time domain; places nearer than two of them look like one. [m]"""
        return resolution_m(self.swept_hz, float(self.scale.velocity_factor[0]))

    @property
    def range_m(self) -> float:
        """Unambiguous range. [m]"""
        return range_m(self.swept_hz, float(self.scale.velocity_factor[0]))

    def _figure(self, values: FloatArray) -> Figure:
        if not self.identified.is_explained:
            return Figure.none(UNEXPLAINED)
        return Figure.from_draws(values, reason=UNEXPLAINED)


def measure_line(
    sweeps: Sequence[tuple[Sweep, End]],
    told: Told,
    *,
    through: bool = False,
    draws: int = 1000,
    seed: int = 0,
) -> LineMeasurement:
    """Length or velocity factor, loss, impedance and reflections of a piece of line.

    The sweeps have its far end open, shorted or unknown, on one grid; ``through``: they were computed from one
    between two ports (:mod:`sweepkit.feedline.through`). Sweeps that do not show this line are a ``BadInput`` that
    names the sweep to take instead. ``draws``: 0 for nominal values only.
    """
    ready = prepare_sweeps(sweeps)
    f_hz = ready[0].f_hz
    if told.expected_delay_s is not None and told.length_m is not None:
        refuse_unfit(f_hz, told.expected_delay_s, what=f"{length_text(told.length_m)} of line")
    reference_ohm = sweeps[0][0].reference_ohm
    identified = _identify(ready, reference_ohm)
    rng = np.random.default_rng(seed)
    believable = identified.fit.draws(_moves(identified.fit, ready, draws, rng, through=through))
    believable = believable.with_loss_factor(1 + LAW_SIGMA * rng.standard_normal(draws))
    scale = find_scale(told, believable.total_delay_s, rng)
    return LineMeasurement(
        told=told,
        identified=identified,
        draws=believable,
        scale=scale,
        swept_hz=f_hz,
        told_ends=tuple(end for _, end in sweeps),
        reflections=list_reflections(
            identified, believable, scale, f_hz, told_m=None if identified.is_explained else told.length_m
        ),
        through=through,
    )


def _identify(sweeps: list[SweptEnd], reference_ohm: float) -> Identified:
    """The structure, or a refusal where the sweep cannot show it."""
    f_hz = sweeps[0].f_hz
    echoes = beyond_connector(all_echoes(sweeps[0]), sweeps[0])
    if not echoes:
        raise BadInput(
            "nothing comes back from the far end: it is matched, as by a dummy load; "
            "take that off, leave the end open, and sweep again"
        )
    found = identify(sweeps, reference_ohm=reference_ohm)
    if not found.is_explained:
        found = _with_ends_turned(sweeps, found, reference_ohm)
    folded = None if found.is_explained else fit_beyond_range(sweeps, echoes, reference_ohm)
    if found.is_explained or folded is not None:
        refuse_unfit(f_hz, (folded or found.fit).sections.total_delay_s, what="this line")
    else:
        refuse_unfit(f_hz, echoes[0].delay_s / 2, what="this line")
    if found.is_explained and found.rival is not None:
        lengths = [fit.sections.total_delay_s * 1e9 for fit in (found.fit, found.rival)]
        raise BadInput(
            f"the sweep fits a line of {lengths[0]:.1f} ns as well as one of {lengths[1]:.1f} ns; "
            f"it is too narrow; {sweep_to_take(max(lengths) * 1e-9)}"
        )
    return found


def _with_ends_turned(sweeps: list[SweptEnd], found: Identified, reference_ohm: float) -> Identified:
    """Opens for shorts, where that explains what is not explained as told."""
    if all(sweep.end is None for sweep in sweeps):
        return found
    turned = [SweptEnd(s.f_hz, s.gamma, None if s.end is None else -s.end) for s in sweeps]
    other = identify(turned, reference_ohm=reference_ohm)
    if not other.is_explained:
        return found
    if len({sweep.end for sweep in sweeps}) > 1:
        raise BadInput(
            "the sweep told as open is that of a short, and the other way round; swap the two --end"
        )
    return other


def _moves(
    fit: SectionFit, sweeps: list[SweptEnd], n: int, rng: np.random.Generator, *, through: bool
) -> FloatArray:
    """How far the fit moves in equally believable sweeps: noise, and errors of the analyzer."""
    moves = fit.solution.respond_to_noise(fit.rms, n, rng)
    for error in _errors([sweep.gamma for sweep in sweeps], through=through):
        turn = 2 * np.pi * rng.random((n, 1))
        parts = fit.solution.respond(np.stack([error, 1j * error]))
        moves += np.hstack([np.cos(turn), np.sin(turn)]) @ parts
    return moves


def _errors(gammas: list[ComplexArray], *, through: bool) -> list[ComplexArray]:
    """Error of each kind on all sweeps, one after the other, but for its phase."""
    if not through:
        gamma = np.concatenate(gammas)
        return [TRACKING * gamma, SOURCE_MATCH * gamma**2]
    near, passed = (gammas[0] + gammas[1]) / 2, (gammas[0] - gammas[1]) / 2
    pairs = (
        TRACKING * np.stack([near, near]),
        SOURCE_MATCH * np.stack([near**2, near**2]),
        2 * THROUGH_TRACKING * np.stack([passed, -passed]),
        LOAD_MATCH * np.stack([passed, passed]),
    )
    return [np.asarray(pair.ravel(), dtype=np.complex128) for pair in pairs]
