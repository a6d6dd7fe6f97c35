"""Fit a line of sections to sweeps of it with known, or guessed, ends."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.feedline.least_squares import MOST_STEPS, Solution, solve
from sweepkit.feedline.propagation import DB_PER_NEPER, propagation
from sweepkit.feedline.sections import Sections, near_end
from sweepkit.quantities import SPEED_OF_LIGHT_M_S

# Walls that keep the search among lines that exist; far outside anything that is reported.
LEAST_DELAY_S, MOST_DELAY_S = 1e-11, 1e-5  # 2 mm to 2 km
LEAST_Z0_OHM, MOST_Z0_OHM = 5.0, 2000.0
# A little below 0, so that noise can be seen to have pushed it there
LEAST_LOSS_DB, MOST_LOSS_DB = -1.0, 60.0


@dataclass(frozen=True, eq=False)
class SweptEnd:
    """One sweep of a piece of line, reflection at the near end, with something at its far end."""

    f_hz: FloatArray
    gamma: ComplexArray
    # reflection there, 1 for an open and -1 for a short; None to be found, the same at all frequencies
    end: float | None


@dataclass(frozen=True, eq=False)
class SectionFit:
    """Sections that explain the sweeps best."""

    sections: Sections
    end: float  # reflection at the far end of the last sweep: as told, or found
    rms: float  # of the reflection that is not explained
    left: tuple[ComplexArray, ...]  # what is not explained, for each sweep
    solution: Solution  # how the parameters answer to a disturbance of the sweeps
    layout: _Layout

    def draws(self, moves: FloatArray) -> SectionDraws:
        """The fitted sections, then those moved by errors of the sweeps, first order, (draws, parameters)."""
        values = self.solution.values[np.newaxis]
        return self.layout.draws(np.concatenate([values, values + moves]))


@dataclass(frozen=True, eq=False)
class SectionDraws:
    """Equally believable sections, the fitted ones first; fields as in :class:`Sections`.

    Delay and impedance of shape (draws, sections), loss constants of shape (draws,).
    """

    delay_s: FloatArray
    z0_ohm: FloatArray
    k1_db: FloatArray
    k2_db: FloatArray

    @property
    def total_delay_s(self) -> FloatArray:
        """One-way delay of all sections, shape (draws,). [s]"""
        return np.asarray(self.delay_s.sum(axis=1))

    def with_loss_factor(self, factor: FloatArray) -> SectionDraws:
        """The same draws with both loss constants multiplied, shape (draws - 1,); the fitted sections stay."""
        factor = np.concatenate([[1.0], np.maximum(factor, 0.0)])
        return SectionDraws(self.delay_s, self.z0_ohm, self.k1_db * factor, self.k2_db * factor)

    def loss_db(self, f_hz: FloatArray) -> FloatArray:
        """Matched loss, one way, of all sections, shape (draws, n)."""
        return np.asarray(self._gamma(f_hz).real * DB_PER_NEPER)

    def slowing(self, f_hz: float) -> FloatArray:
        """Delay of the phase at a frequency over that of the high-frequency limit, shape (draws,)."""
        turned = self._gamma(np.array([f_hz]))[:, 0].imag
        return np.asarray(turned / (2 * np.pi * f_hz * self.total_delay_s))

    def _gamma(self, f_hz: FloatArray) -> ComplexArray:
        """γl of all sections, shape (draws, n); their impedance has no part in it."""
        gamma, _ = propagation(
            f_hz,
            z0_ohm=50.0,
            velocity_factor=1 / (SPEED_OF_LIGHT_M_S * self.total_delay_s[:, None]),
            k1=100 * self.k1_db[:, None],
            k2=100 * self.k2_db[:, None],
        )
        return gamma


@dataclass(frozen=True)
class _Layout:
    """Where each quantity stands in the vector of parameters: ns, ln(z0/50), dB, dB, directivity, end."""

    sections_count: int
    free_k1: bool
    free_k2: bool
    free_end: bool

    def pack(self, start: Sections, end: float) -> FloatArray:
        loss = [start.k1_db] * self.free_k1 + [start.k2_db] * self.free_k2
        impedances = np.log(np.asarray(start.z0_ohm) / 50)
        delays = np.asarray(start.delay_s) * 1e9
        return np.array([*delays, *impedances, *loss, 0.0, 0.0, *([end] * self.free_end)])

    def scale(self, start: Sections) -> FloatArray:
        count = self.sections_count
        losses = [1.0] * (self.free_k1 + self.free_k2)
        delay_ns = start.total_delay_s * 1e9
        return np.array([*[delay_ns] * count, *[1.0] * count, *losses, 1.0, 1.0, *([1.0] * self.free_end)])

    def sections(self, values: FloatArray) -> Sections:
        """Of one row of parameters."""
        one = self.draws(values[np.newaxis], least_loss_db=LEAST_LOSS_DB)
        delay_s, z0_ohm = tuple(one.delay_s[0].tolist()), tuple(one.z0_ohm[0].tolist())
        return Sections(delay_s, z0_ohm, float(one.k1_db[0]), float(one.k2_db[0]))

    def draws(self, values: FloatArray, *, least_loss_db: float = 0.0) -> SectionDraws:
        count, none = self.sections_count, np.zeros(len(values))
        losses = iter(values[:, 2 * count :].T)
        return SectionDraws(
            np.clip(values[:, :count] * 1e-9, LEAST_DELAY_S, MOST_DELAY_S),
            _z0_ohm(values[:, count : 2 * count]),
            np.clip(next(losses), least_loss_db, MOST_LOSS_DB) if self.free_k1 else none,
            np.clip(next(losses), least_loss_db, MOST_LOSS_DB) if self.free_k2 else none,
        )

    def directivity(self, values: FloatArray) -> ComplexArray:
        start = 2 * self.sections_count + self.free_k1 + self.free_k2
        return np.asarray(values[..., start] + 1j * values[..., start + 1])

    def end(self, values: FloatArray, told: float | None) -> FloatArray:
        return values[..., -1] if told is None else np.full(values.shape[:-1], told)


def _z0_ohm(log: FloatArray) -> FloatArray:
    """Impedance from its parameter, ln(z0/50)."""
    ends = np.log([LEAST_Z0_OHM / 50, MOST_Z0_OHM / 50])
    return np.asarray(50 * np.exp(np.clip(log, *ends)))


def fit_sections(
    sweeps: Sequence[SweptEnd],
    start: Sections,
    *,
    reference_ohm: float = 50.0,
    end_guess: float = 0.0,
    most_steps: int = MOST_STEPS,
) -> SectionFit:
    """Least squares over all sweeps together; a constant error of the reflection is found with the line.

    The number of sections is that of ``start``. A loss constant that comes out negative is set to 0 and the rest
    fitted again.
    """
    layout = _Layout(len(start.delay_s), True, True, any(sweep.end is None for sweep in sweeps))
    fit = _fit(sweeps, start, layout, reference_ohm, end_guess, most_steps)
    for fewer in ({"free_k2": False}, {"free_k1": False}, {"free_k1": False, "free_k2": False}):
        if fit.sections.k1_db >= 0 and fit.sections.k2_db >= 0:
            break
        fit = _fit(sweeps, start, replace(layout, **fewer), reference_ohm, end_guess, most_steps)
    return fit


def _fit(
    sweeps: Sequence[SweptEnd],
    start: Sections,
    layout: _Layout,
    reference_ohm: float,
    end_guess: float,
    most_steps: int,
) -> SectionFit:
    def model(values: FloatArray) -> ComplexArray:
        lines, error = layout.draws(values, least_loss_db=LEAST_LOSS_DB), layout.directivity(values)
        told = (lines.delay_s, lines.z0_ohm, lines.k1_db, lines.k2_db)
        curves = [
            near_end(sweep.f_hz, *told, layout.end(values, sweep.end), reference_ohm=reference_ohm)
            for sweep in sweeps
        ]
        return np.concatenate(curves, axis=-1) + error[:, np.newaxis]

    measured = np.concatenate([sweep.gamma for sweep in sweeps])
    solution = solve(
        model, measured, layout.pack(start, end_guess), layout.scale(start), most_steps=most_steps
    )
    left = measured - model(solution.values[np.newaxis])[0]
    cuts = np.cumsum([sweep.f_hz.size for sweep in sweeps])[:-1]
    return SectionFit(
        layout.sections(solution.values),
        float(layout.end(solution.values, sweeps[-1].end)),
        solution.rms,
        tuple(np.split(left, cuts)),
        solution,
        layout,
    )
