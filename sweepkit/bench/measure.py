"""Measure a box on the bench: what it loses and what it shows, with intervals."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from sweepkit.analysis.noise import estimate_noise
from sweepkit.bench.doubts import (
    REFERENCE_OHM,
    choke_too_high,
    doubt_load,
    negative,
    pair_findings,
    refuse_foreign_load,
    refuse_same,
)
from sweepkit.bench.ends import Into
from sweepkit.bench.line_piece import LineFit, fit_line
from sweepkit.bench.two_port import TwoPort, lost_db, shunt_conductance, two_port
from sweepkit.conversions import ComplexArray, FloatArray, z_from_gamma
from sweepkit.errors import BadInput
from sweepkit.figures import Figure
from sweepkit.findings import Finding
from sweepkit.instrument import Draws, ErrorModel
from sweepkit.kit import Analyzer
from sweepkit.sweep import Sweep

What = Literal["transformer", "pair", "choke", "adapter"]
WHATS: tuple[What, ...] = ("transformer", "pair", "choke", "adapter")
LINE_POINTS = 41  # frequencies at which an adapter is fitted as a piece of line
SHOWN_POINTS = 9  # frequencies of the answer, evenly spaced in logarithm
LOAD_TOLERANCE = 0.01  # one sigma of a resistor; film resistors are sold to 1 %
KNOWN_CHOKE = 0.5  # of its impedance: an interval wider than this either way tells nothing; common practice
STREAM = 2**31 + 4
SHAPE_DRAWS, SHAPE_POINTS = 80, 31  # where a shape is fitted, on each of so many draws
# What a shape does not tell, in 60 models of our own: this share of what taking capacitor and leakage out changes; and
# errors that drift more slowly than those drawn look like the load itself, so that refits spread by too little.
SHAPE_SPREAD, SHAPE_SLOWER = 0.4, 1.6


@dataclass(frozen=True)
class Bench:
    """What was found."""

    what: What  # the box; of a pair the figures are those of each of the two
    ratio: float  # impedance behind it over that before it
    f_hz: tuple[float, ...]
    loss_db: tuple[Figure, ...]  # with its load at each frequency; empty for a choke
    r_ohm: tuple[Figure, ...]  # a choke's own; of the others what they show with their load
    x_ohm: tuple[Figure, ...]  # likewise
    exact: bool  # from an open, a short and a load; else from a load alone and the shape over frequency
    findings: tuple[Finding, ...] = ()
    line: LineFit | None = None  # an adapter as a piece of line
    least_ohm: float | None = None  # a choke's, where the analyzer does not tell more of it


def measure_box(
    swept: Sequence[tuple[Sweep, Into]],
    *,
    what: What,
    ratio: float = 1.0,
    analyzer: Analyzer | None = None,
    draws: int = 1000,
    seed: int = 0,
) -> Bench:
    """A box from sweeps at its coax side, all over the same span and with phase, and what was at the far side then.

    A transformer into a resistor, and better into open and short as well; two alike back to back, and an adapter,
    into open, short and 50 ohm; a choke, one wire of its winding, into short or a resistor. ``ratio`` is the
    impedance of the far side over that of the coax.
    """
    sweeps = _alike([sweep for sweep, _ in swept])
    if len({into.word for _, into in swept}) < len(swept):
        raise BadInput("two sweeps have the same --into; each end is swept once; leave one out")
    f_hz = sweeps[0].f_hz[sweeps[0].f_hz > 0]
    index = np.interp(np.geomspace(f_hz[0], f_hz[-1], SHOWN_POINTS), f_hz, np.arange(f_hz.size))
    shown = np.unique(np.round(index)).astype(np.intp)
    ensembles = [_draws(sweep, analyzer or Analyzer(), draws, seed) for sweep in sweeps]
    if what == "choke":
        return _choke(ensembles, swept, f_hz, shown)
    ends = {into.word: ensemble for (_, into), ensemble in zip(swept, ensembles, strict=True)}
    word, far_ohm = _load_of([into for _, into in swept], ratio if what == "transformer" else 1.0)
    load, shows_ohm = ends[word], far_ohm / (ratio if what == "transformer" else 1.0)
    doubted = doubt_load(load.at(np.arange(f_hz.size))[0], shows_ohm, far_ohm)
    dice = np.random.default_rng([STREAM, seed])
    off = np.concatenate([[0.0], LOAD_TOLERANCE * dice.standard_normal(draws)])[:, np.newaxis]
    findings: tuple[Finding, ...] = ()
    exact = {"open", "short"} <= set(ends)
    if exact:
        box = _box_behind(ends, load, shown, off)
        findings = pair_findings(box) if what == "pair" else ()
        loss = lost_db(box) / (2 if what == "pair" else 1)
    elif what == "transformer":
        loss = _loss_by_shape(load, f_hz, shown, ratio / far_ohm * (1 - off))
    else:
        raise BadInput(
            "open and short at the far side are needed as well; add FILE --into open FILE --into short"
        )
    line = None
    if what == "adapter":
        line = _fit_adapter(ends, load, f_hz, far_ohm * (1 + off), dice)
        findings = line.findings()
    z_ohm = z_from_gamma(load.at(shown), REFERENCE_OHM)
    losses = tuple(Figure.from_draws(column, reason="the sweeps belong to no such box") for column in loss.T)
    return Bench(
        what=what,
        ratio=ratio,
        f_hz=tuple(float(f) for f in f_hz[shown]),
        loss_db=tuple(map(_held_at_zero, losses)),
        r_ohm=_figures(z_ohm.real),
        x_ohm=_figures(z_ohm.imag),
        exact=exact,
        findings=(*doubted, *findings, *negative(losses)),
        line=line,
    )


def _load_of(ends: Sequence[Into], ratio: float) -> tuple[str, float]:
    """The one far end that is a resistor: its word, and its ohms."""
    loads = [(into.word, into.r_ohm) for into in ends if into.r_ohm]
    expected = ratio * REFERENCE_OHM
    if len(loads) != 1:
        raise BadInput(f"one sweep into a resistor is needed; add FILE --into '{expected:g} ohm'")
    refuse_foreign_load(loads[0][1], expected)
    return loads[0]


def _alike(sweeps: Sequence[Sweep]) -> list[Sweep]:
    """All with phase, against 50 ohm, on one grid."""
    if not sweeps:
        raise BadInput("no sweep of the box; sweep it into its load, and name the file")
    for sweep in sweeps:
        path = sweep.source.path or None
        if sweep.gamma is None:
            raise BadInput(
                f"the sweep has no signed phase (phase: {sweep.phase}); export it with phase", path=path
            )
        first = sweeps[0].f_hz
        if sweep.f_hz.size != first.size or np.abs(sweep.f_hz - first).max() > 1e-6 * first[-1]:
            raise BadInput(
                "its span or its points are not those of the first; sweep all ends alike", path=path
            )
    if np.count_nonzero(sweeps[0].f_hz > 0) < SHOWN_POINTS:
        raise BadInput(
            f"fewer than {SHOWN_POINTS} points; sweep again with 101", path=sweeps[0].source.path or None
        )
    return [sweep.renormalised(REFERENCE_OHM) for sweep in sweeps]


def _draws(sweep: Sweep, analyzer: Analyzer, draws: int, seed: int) -> Draws:
    """Believable sweeps; all ends share the errors of the analyzer, since one calibration holds for all."""
    above = sweep.f_hz > 0
    assert sweep.gamma is not None  # refused before
    gamma = sweep.gamma[above]
    noise = estimate_noise(gamma) if analyzer.noise is None else analyzer.noise
    model = ErrorModel(
        directivity=analyzer.directivity,
        noise=np.maximum(noise, sweep.rounding[above]),
        tracking=analyzer.tracking_size,
        source_match=analyzer.source_match,
    )
    return Draws(gamma, model, n=draws, seed=seed, f_hz=sweep.f_hz[above])


def _choke(
    ensembles: Sequence[Draws], swept: Sequence[tuple[Sweep, Into]], f_hz: FloatArray, shown: np.ndarray
) -> Bench:
    """Its impedance is what is seen less what it was swept into."""
    if len(swept) != 1 or swept[0][1].r_ohm is None:
        raise BadInput("a choke is swept once, in series with a short or a resistor: FILE --into short")
    r_ohm = swept[0][1].r_ohm
    z_ohm = _held_passive(ensembles[0].at(shown)) - r_ohm
    if np.quantile(z_ohm[0].real, 0.5) < -0.2 * max(r_ohm, 1.0):
        raise BadInput(
            f"the sweep shows less resistance than the {r_ohm:g} ohm behind the choke; it was swept into something else"
        )
    count, least_ohm = _open_at(z_ohm)
    return Bench(
        what="choke",
        ratio=1.0,
        f_hz=tuple(float(f) for f in f_hz[shown]),
        loss_db=(),
        r_ohm=_figures(z_ohm.real),
        x_ohm=_figures(z_ohm.imag),
        exact=True,
        findings=() if least_ohm is None else (choke_too_high(count, shown.size, least_ohm),),
        least_ohm=least_ohm,
    )


def _held_passive(gamma: ComplexArray) -> ComplexArray:
    """Impedance that a winding can show: draws that reflect more than all are taken anew from the others."""
    held = gamma.copy()
    dice = np.random.default_rng([STREAM, 2])
    for column in held.T:
        passive = np.flatnonzero(np.abs(column) < 1)
        active = np.flatnonzero(np.abs(column) >= 1)
        column[active] = column[dice.choice(passive, active.size)] if passive.size else 0.999
    return z_from_gamma(held, REFERENCE_OHM)


def _open_at(z_ohm: ComplexArray) -> tuple[int, float | None]:
    """At how many frequencies the analyzer's errors leave the impedance open, and the lower end of it there. [ohm]"""
    if len(z_ohm) < 2:
        return 0, None
    low, middle, high = np.quantile(np.abs(z_ohm[1:]), [0.025, 0.5, 0.975], axis=0)
    open_ = high - low > 2 * KNOWN_CHOKE * middle
    return int(np.count_nonzero(open_)), float(low[open_].min()) if open_.any() else None


def _box_behind(ends: Mapping[str, Draws], load: Draws, shown: np.ndarray, off: FloatArray) -> TwoPort:
    """The box from its three ends, with its true load, where the resistor was off by a share."""
    seen_open, seen_short = ends["open"].at(shown), ends["short"].at(shown)
    refuse_same(seen_open, seen_short)
    box = two_port(seen_open, seen_short, load.at(shown))
    return box._replace(near=box.near - box.there_and_back[:1] * off / 2)


def _fit_adapter(
    ends: Mapping[str, Draws], load: Draws, f_hz: FloatArray, load_ohm: FloatArray, dice: np.random.Generator
) -> LineFit:
    """An adapter as a piece of line, at some of the frequencies."""
    used = np.unique(np.round(np.linspace(0, f_hz.size - 1, LINE_POINTS)).astype(np.intp))
    seen = (ends["open"].at(used), ends["short"].at(used), load.at(used))
    return fit_line(f_hz[used], seen, load_ohm, dice)


def _loss_by_shape(load: Draws, f_hz: FloatArray, shown: np.ndarray, load_siemens: FloatArray) -> FloatArray:
    """Loss from the conductance beside that of the load, on some of the draws."""
    used = np.union1d(np.round(np.linspace(0, f_hz.size - 1, SHAPE_POINTS)).astype(np.intp), shown)
    y = 1 / z_from_gamma(load.at(used)[: 1 + SHAPE_DRAWS], REFERENCE_OHM)
    behind = shunt_conductance(f_hz[used], y)[:, np.searchsorted(used, shown)]
    loss = 10 * np.log10(np.maximum(behind, 1e-12) / load_siemens[: len(behind)])
    change = 10 * np.log10(
        np.maximum(y.real[0, np.searchsorted(used, shown)], 1e-12) / np.maximum(behind[0], 1e-12)
    )
    dice = np.random.default_rng([STREAM, 1])
    loss[1:] = loss[0] + SHAPE_SLOWER * (loss[1:] - loss[0])
    loss[1:] += SHAPE_SPREAD * change * dice.standard_normal((len(loss) - 1, 1))
    return np.asarray(loss)


def _held_at_zero(loss: Figure) -> Figure:
    """A loss is no gain, whatever the errors say."""
    return loss.mapped(lambda db: max(db, 0.0))


def _figures(columns: FloatArray) -> tuple[Figure, ...]:
    return tuple(Figure.from_draws(column, reason="not known") for column in columns.T)
