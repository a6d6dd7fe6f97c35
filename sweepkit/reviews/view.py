"""A reflection curve as seen at one plane: measured, and as an ensemble of believable ones."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from sweepkit.analysis.cells import Cells
from sweepkit.analysis.delay import smoothest_delay_s, without_delay
from sweepkit.analysis.fits import Ensemble
from sweepkit.analysis.kept import KeptEnsemble, TurnedEnsemble
from sweepkit.analysis.quantile import quantile
from sweepkit.analysis.trust import Stretch
from sweepkit.analysis.windows import Measured, Stack
from sweepkit.conversions import ComplexArray, FloatArray, IndexArray
from sweepkit.sweep import Phase


@dataclass(frozen=True, eq=False)
class View:
    """One plane of one sweep, arrays of shape (n,)."""

    f_hz: FloatArray  # rising, above 0
    gamma: ComplexArray  # measured, against reference_ohm
    noise: FloatArray  # rms of the complex noise at each point
    trust: FloatArray  # in each point, 0 to 1; where it is 0, gamma is a bridge between its neighbours
    ensemble: Ensemble  # every draw at this plane
    reference_ohm: float  # the radio's
    phase: Phase = "signed"  # whether that of gamma means anything; unless signed it is a stand-in
    stretches: tuple[Stretch, ...] = ()  # points that do not go with the others
    jagged: bool = False  # there are too many of them to leave out
    known_delay_s: float | None = None  # the common delay, where it was found already
    known_step_hz: float | None = None  # likewise the usual distance of two points
    is_nominal: bool = False  # the ensemble is the measured curve alone

    @cached_property
    def delay_s(self) -> float:
        """Delay that is taken out before fitting; magnitudes do not notice. [s]"""
        if self.phase != "signed":
            return 0.0
        return smoothest_delay_s(self.f_hz, self.gamma) if self.known_delay_s is None else self.known_delay_s

    @cached_property
    def turned(self) -> ComplexArray:
        """Measured reflection without its common delay, shape (n,). [-]"""
        return without_delay(self.f_hz, self.gamma, self.delay_s)

    @cached_property
    def kept(self) -> KeptEnsemble:
        """The ensemble, computed once at each point until it is told to forget."""
        cells = cells_of(self.ensemble, self.f_hz.size)
        if not self.trust.all():  # some points of a cell count, others do not
            cells = Cells(self.f_hz.size)
        return KeptEnsemble(self.ensemble, self.gamma, cells=cells)

    @cached_property
    def kept_turned(self) -> KeptEnsemble | TurnedEnsemble:
        """The same without the common delay."""
        return self.kept.turned(2 * np.pi * self.f_hz * self.delay_s) if self.delay_s else self.kept

    @property
    def curve(self) -> Measured:
        """What local fits rest on: the curve without its common delay."""
        return Measured(self.f_hz, self.turned, self.trust, self.noise)

    def turned_ensemble(self, index: IndexArray) -> ComplexArray:
        """Every draw at some points without the common delay."""
        return without_delay(self.f_hz[index], self.ensemble(index), self.delay_s)

    def turned_back(self, f_hz: FloatArray, gamma: ComplexArray) -> ComplexArray:
        """The reverse of taking the delay out; frequency and reflection of one shape."""
        return without_delay(f_hz, gamma, -self.delay_s)

    @cached_property
    def step_hz(self) -> float:
        """Usual distance of two points. [Hz]"""
        return usual_step_hz(self.f_hz) if self.known_step_hz is None else self.known_step_hz


def cells_of(ensemble: Ensemble, points: int) -> Cells:
    """Those it may be asked for, the points themselves at least."""
    cells: Cells = getattr(ensemble, "cells", Cells(points))
    return cells


def usual_step_hz(f_hz: FloatArray) -> float:
    """Of a rising grid. [Hz]"""
    return quantile(np.diff(f_hz), 0.5)


def as_stack(views: Sequence[View], *, turned: bool = True) -> Stack:
    """Planes of sweeps on one grid as a stack, without their common delays unless told otherwise."""
    first = views[0]
    if len(views) == 1:
        gamma = (first.turned if turned else first.gamma)[np.newaxis]
        return Stack(first.f_hz, gamma, first.trust[np.newaxis], first.noise[np.newaxis])
    gamma = np.stack([view.gamma for view in views])
    if turned:
        gamma = without_delay(first.f_hz, gamma, np.array([view.delay_s for view in views])[:, np.newaxis])
    trust, noise = (np.stack([getattr(view, name) for view in views]) for name in ("trust", "noise"))
    return Stack(first.f_hz, gamma, trust, noise)


def ensembles_of(views: Sequence[View], *, turned: bool = True) -> list[Ensemble] | None:
    """Their ensembles, without the delays unless told otherwise; nothing where they are of measured curves alone."""
    if all(view.is_nominal for view in views):
        return None
    return [view.kept_turned if turned else view.kept for view in views]
