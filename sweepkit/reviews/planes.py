"""From a sweep and the line between to the planes that are known, each as a View on the same draws."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from math import inf, sqrt
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweepkit.analysis.borrowed_phase import borrow_phase
from sweepkit.analysis.delay import smoothest_delays_s, without_delay
from sweepkit.analysis.dips import find_dip_samples
from sweepkit.analysis.fits import Ensemble
from sweepkit.analysis.noise import estimate_noise, noise_along, noise_freedom
from sweepkit.analysis.trust import Trust, bridged, find_trust_of_magnitude, find_trusts
from sweepkit.conversions import ComplexArray, FloatArray, IndexArray
from sweepkit.feedline.chain import ChainDraws, LineChain, draw_chain
from sweepkit.feedline.plane import add_chain, noise_growth, remove_chain
from sweepkit.feedline.untold import untold_terms
from sweepkit.findings import Finding
from sweepkit.instrument import Draws, ErrorModel
from sweepkit.kit import Analyzer
from sweepkit.reviews.moved_magnitude import moved_magnitude
from sweepkit.reviews.view import View, cells_of, usual_step_hz
from sweepkit.station.outing import Outing, listen_each
from sweepkit.station.windows import Curve
from sweepkit.sweep import Place, Sweep

if TYPE_CHECKING:
    from sweepkit.station.linear import Check
    from sweepkit.station.posterior import Learned

MOST_NOISE = 0.99  # of a reflection that is at most 1: three points may look like more
CHAIN_STREAM = 2**31  # keeps the line's random numbers apart from the sweep's


@dataclass(frozen=True, eq=False)
class Planes:
    """The planes of one sweep."""

    radio: View | None  # None where nothing says what happens there
    feedpoint: View | None  # likewise
    measured_at: Place  # where the file's numbers are true
    chain: ChainDraws | None  # the line between them; None when it was not told
    # what the sweep, or all of its outing, tell of line and analyzer; None: what was told holds
    learned: Learned | None = None
    doubt: Finding | None = None  # what fits this sweep far better than the line that was told

    def forget(self) -> None:
        """Give back the memory of draws that were kept; they are made again where they are asked for."""
        for view in (self.radio, self.feedpoint):
            if view is not None and not view.is_nominal:
                view.kept.forget()

    @property
    def measured(self) -> View:
        """The plane of the file's own numbers."""
        view = self.feedpoint if self.measured_at == "feedpoint" else self.radio
        if view is None:
            raise ValueError("the measured plane is always known")
        return view


def lay_out_planes(
    sweeps: Sequence[Sweep],
    *,
    chain: LineChain | None,
    measured_at: Place,
    analyzer: Analyzer,
    reference_ohm: float,
    draws: int,
    seed: int,
    spread: ComplexArray | None = None,
    checks: Sequence[Check] = (),
    outing: Outing | None = None,
) -> list[Planes]:
    """Views at the radio and at the feedpoint, as far as they are known, of sweeps on one grid, with one kind of
    phase.

    With a line, measured at ``unknown`` means at the radio; without (``None``) it was not told. ``spread``, shape
    (repeats, n), is what each of several repeats differs from the sweep, their mean, against ``reference_ohm``. Line
    and analyzer are learned from the ``checks`` as well, or known from the ``outing``, this sweep included. A sweep
    without phase cannot be carried to another reference: ``BadInput``.
    """
    if chain is not None and measured_at == "unknown":
        measured_at = "radio"
    seen = [sweep.renormalised(reference_ohm) for sweep in sweeps]
    above_zero = seen[0].f_hz > 0
    if spread is not None:
        spread = spread[:, above_zero]
    views = _measured_views(seen, above_zero, analyzer, draws, seed, spread)
    if chain is None:
        at_feedpoint = measured_at == "feedpoint"
        return [
            Planes(
                radio=None if at_feedpoint else measured,
                feedpoint=measured if at_feedpoint else None,
                measured_at=measured_at,
                chain=None,
            )
            for measured, _ in views
        ]
    heard: list[Outing] = [Outing(None)] * len(views)
    if draws and measured_at == "radio" and chain.pieces and views[0][0].phase == "signed":
        curves, model = [_curve(measured) for measured, _ in views], views[0][1]
        heard = (
            [Outing(outing.learned)]
            * len(views)  # what is wrong with all of them is said once, with all of them
            if outing is not None
            else listen_each(curves, chain, model, reference_ohm=reference_ohm, checks=checks)
        )
    moved: list[_Moved | None] = [None] * len(views)
    if not draws and chain.pieces and views[0][0].phase == "signed":
        towards_radio = measured_at == "feedpoint"
        moved = [*_moved([view for view, _ in views], chain.nominal, towards_radio=towards_radio)]
    return [
        _carried(
            measured,
            model,
            chain,
            measured_at=measured_at,
            reference_ohm=reference_ohm,
            draws=draws,
            seed=seed,
            spread=spread,
            heard=one,
            curve=curve,
        )
        for (measured, model), one, curve in zip(views, heard, moved, strict=True)
    ]


def _carried(
    measured: View,
    model: ErrorModel,
    chain: LineChain,
    *,
    measured_at: Place,
    reference_ohm: float,
    draws: int,
    seed: int,
    spread: ComplexArray | None,
    heard: Outing,
    curve: _Moved | None,
) -> Planes:
    """Both planes of a sweep with a line between them; ``curve``: the measured one at the other end, where known."""
    learned = heard.learned
    signed = measured.phase == "signed"
    behind: View | None = None
    if learned is None:
        drawn = draw_chain(chain, _chain_dice(seed), draws) if draws else chain.nominal
    else:
        errors, drawn, untold = learned.draw(_chain_dice(seed), draws)
        terms = untold_terms(measured.f_hz, chain, reference_ohm=reference_ohm)
        behind = _with_errors(measured, model, errors, seed, spread, (untold, terms))
        measured = _with_errors(
            measured, model, errors, seed, spread
        )  # the radio sees what is untold in the line
    towards_radio = measured_at == "feedpoint"
    moved: View | None = measured
    if chain.pieces and signed:
        moved = (
            _moved_view(measured, drawn, measured.kept, towards_radio=towards_radio, curve=curve)
            if behind is None
            else _moved_view(behind, drawn, behind.ensemble, towards_radio=towards_radio)
        )
    elif chain.pieces:
        agrees = chain.agrees_with(reference_ohm)
        moved = moved_magnitude(measured, drawn, towards_radio=towards_radio, seed=seed) if agrees else None
    if towards_radio:
        return Planes(radio=moved, feedpoint=measured, measured_at=measured_at, chain=drawn)
    return Planes(
        radio=measured,
        feedpoint=moved,
        measured_at=measured_at,
        chain=drawn,
        learned=learned,
        doubt=heard.finding,
    )


def _chain_dice(seed: int) -> np.random.Generator:
    return np.random.default_rng([seed, CHAIN_STREAM])


def curve_for_outing(sweep: Sweep, *, analyzer: Analyzer, reference_ohm: float) -> tuple[Curve, ErrorModel]:
    """A sweep with phase as :func:`sweepkit.station.outing.share` takes it, and the analyzer."""
    seen = sweep.renormalised(reference_ohm)
    ((measured, model),) = _measured_views([seen], seen.f_hz > 0, analyzer, 0, 0, None)
    return _curve(measured), model


def _curve(view: View) -> Curve:
    return Curve(view.f_hz, view.gamma, view.noise, view.trust)


def _measured_views(
    sweeps: Sequence[Sweep],
    used: NDArray[np.bool_],
    analyzer: Analyzer,
    draws: int,
    seed: int,
    spread: ComplexArray | None,
) -> list[tuple[View, ErrorModel]]:
    """The plane of each file's own numbers, and what the analyzer is taken for."""
    f_hz = sweeps[0].f_hz[used]
    if sweeps[0].gamma is not None:
        looks = _look_at_phase(sweeps, used, analyzer.noise)
    else:
        looks = [_look_at_magnitude(sweep, used, analyzer.noise) for sweep in sweeps]
    views = []
    step_hz = usual_step_hz(f_hz) if f_hz.size > 1 else None
    noises = np.minimum([seen.noise for seen in looks], MOST_NOISE)
    for sweep, seen, noise in zip(sweeps, looks, noises, strict=True):
        model = ErrorModel(
            directivity=analyzer.directivity,
            noise=noise if spread is None else 0.0,  # the spread of repeats has the noise in it
            noise_freedom=noise_freedom(f_hz.size, has_phase=sweep.gamma is not None)
            if analyzer.noise is None
            else inf,
            tracking=analyzer.tracking_size,
            source_match=analyzer.source_match,
        )
        view = View(
            f_hz=f_hz,
            gamma=seen.gamma,
            noise=noise,
            trust=seen.trust.weights,
            ensemble=Draws(seen.gamma, model, n=draws, seed=seed, spread=spread, f_hz=f_hz),
            reference_ohm=sweep.reference_ohm,
            phase=sweep.phase,
            stretches=seen.trust.stretches,
            jagged=seen.trust.jagged,
            known_delay_s=seen.delay_s,
            known_step_hz=step_hz,
            is_nominal=draws == 0,
        )
        views.append((view, model))
    return views


def _with_errors(
    view: View,
    model: ErrorModel,
    errors: ComplexArray,
    seed: int,
    spread: ComplexArray | None,
    more: tuple[FloatArray, ComplexArray] | None = None,
) -> View:
    """The measured plane less the analyzer's errors as they were learned."""
    ensemble = Draws(
        view.gamma,
        model,
        n=errors.shape[1] - 1,
        seed=seed,
        spread=spread,
        f_hz=view.f_hz,
        errors=errors,
        more=more,
    )
    return replace(view, gamma=ensemble.nominal, ensemble=ensemble)


class _Seen(NamedTuple):
    """Reflection with bridges over what is not believed, its noise at each point, trust, and common delay."""

    gamma: ComplexArray
    noise: FloatArray
    trust: Trust
    delay_s: float


def _look_at_phase(sweeps: Sequence[Sweep], used: NDArray[np.bool_], told: float | None) -> list[_Seen]:
    """All of them side by side, but those with a burst."""
    f_hz = sweeps[0].f_hz[used]
    measured = np.stack([sweep.gamma[used] for sweep in sweeps if sweep.gamma is not None])
    rounding = _rounding(sweeps, used)
    delays_s = smoothest_delays_s(f_hz, measured)
    turned = without_delay(f_hz, measured, delays_s[:, np.newaxis])
    noise = np.maximum(noise_along(measured, turned), rounding)
    trusts = find_trusts(f_hz, turned, np.maximum(noise, told or 0.0))
    for k, trust in enumerate(trusts):
        if trust.stretches and not trust.weights.all():
            noise[k] = np.maximum(noise_along(measured[k], turned[k], trust.weights > 0), rounding[k])
            bridge = bridged(f_hz, turned[k], trust.weights)
            measured[k] = without_delay(f_hz, bridge, -float(delays_s[k]))
    if told is not None:
        noise = np.maximum(rounding, told)
    return [_Seen(*each) for each in zip(measured, noise, trusts, delays_s.tolist(), strict=True)]


def _rounding(sweeps: Sequence[Sweep], used: NDArray[np.bool_]) -> FloatArray:
    """Of each, shape (sweeps, n); of neighbours that print alike together."""
    parts = []
    for _, alike in groupby(sweeps, key=lambda sweep: (sweep.printed_step, sweep.reference_ohm)):
        some = list(alike)
        parts.append(
            some[0].rounding_of(np.stack([sweep.gamma for sweep in some if sweep.gamma is not None]))
        )
    return np.concatenate(parts)[:, used]


def _look_at_magnitude(sweep: Sweep, used: NDArray[np.bool_], told: float | None) -> _Seen:
    """The same without phase; a magnitude shows half of the noise's power."""
    f_hz, magnitude, rounding = sweep.f_hz[used], sweep.gamma_abs[used], sweep.rounding[used]
    own = np.maximum(estimate_noise(magnitude), rounding)
    trust = find_trust_of_magnitude(f_hz, magnitude, own)
    if not trust.weights.all():
        own = np.maximum(estimate_noise(magnitude, trust.weights > 0), rounding)
    noise = sqrt(2) * (own if told is None else np.maximum(rounding, told / sqrt(2)))
    bridge = bridged(f_hz, magnitude.astype(np.complex128), trust.weights).real
    gamma = borrow_phase(f_hz, bridge, find_dip_samples(bridge, noise=noise))
    return _Seen(gamma, noise, trust, 0.0)


class _Moved(NamedTuple):
    """A measured curve at the other end of the line, and how much a small error grows on the way from the radio."""

    gamma: ComplexArray
    growth: FloatArray
    delay_s: float  # common to all of it


def _moved(views: Sequence[View], nominal: ChainDraws, *, towards_radio: bool) -> Iterator[_Moved]:
    """Curves on one grid behind one line, side by side."""
    f_hz, gamma = np.tile(views[0].f_hz, len(views)), np.concatenate([view.gamma for view in views])
    move, reference_ohm = add_chain if towards_radio else remove_chain, views[0].reference_ohm
    moved = move(f_hz, gamma, nominal, reference_ohm=reference_ohm)[0]
    at_radio = moved if towards_radio else gamma
    growth = noise_growth(f_hz, at_radio, nominal, reference_ohm=reference_ohm)[0]
    curves = moved.reshape(len(views), -1)
    delays_s = smoothest_delays_s(views[0].f_hz, curves).tolist()
    return map(_Moved, curves, growth.reshape(curves.shape), delays_s)


def _moved_view(
    view: View,
    chain: ChainDraws,
    draws: Ensemble,
    *,
    towards_radio: bool,
    curve: _Moved | None = None,
) -> View:
    """The same curve and its draws at the other end of the line."""
    gamma, growth, delay_s = curve or next(
        _moved([view], chain.part(slice(0, 1)), towards_radio=towards_radio)
    )
    return View(
        f_hz=view.f_hz,
        gamma=gamma,
        noise=view.noise / growth if towards_radio else view.noise * growth,
        trust=view.trust,
        ensemble=_MovedDraws(view, chain, draws, towards_radio=towards_radio),
        reference_ohm=view.reference_ohm,
        known_delay_s=delay_s,
        known_step_hz=view.step_hz,
        is_nominal=view.is_nominal,
    )


class _MovedDraws:
    """An ensemble at the other end of the line."""

    def __init__(self, view: View, chain: ChainDraws, draws: Ensemble, *, towards_radio: bool) -> None:
        self._move = add_chain if towards_radio else remove_chain
        self._chain, self._draws, self._reference_ohm = chain, draws, view.reference_ohm
        self.cells = cells_of(draws, view.f_hz.size)
        self._f_hz = self.cells.means(view.f_hz)

    def __call__(self, index: IndexArray) -> ComplexArray:
        f_hz = self._f_hz[index % self.cells.size]
        return self._move(f_hz, self._draws(index), self._chain, reference_ohm=self._reference_ohm)
