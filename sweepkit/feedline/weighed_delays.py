"""What each delay in front would leave of an antenna, weighed against none.

Round a dip one resonance is fitted behind every delay. It tells of a line twice: by how well it describes the sweep,
and by where its reflection ends far beside the resonance. That end of dipole, vertical, whip and loop is an open, which
a choke and its leads turn by a few nanoseconds. An end-fed behind its box ends near a short, through the reactance of
its counterpoise and windings, and these delay the wave themselves; a long wire ends anywhere. A line turns the end by
2πf·delay. Where no dip lies in the sweep, one resonance still says how fast an antenna may turn at that size of the
reflection. Weights are logarithms of likelihoods, added over the dips of a sweep; sizes are those of modelled antennas.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweepkit.analysis.moebius import Moebius
from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.feedline.many_resonances import (
    LEAST_POLE,
    LINE_OHMS,
    Rows,
    fit_resonances,
    most_lost_np,
    relative_to,
)

LEAST_S = 15e-9  # round trip; shorter ones, 1.5 m of coax, are chokes and leads; our choice
CHOKE_S = 12e-9  # round trip of the winding of a choke at the feedpoint, 1.2 m of coax
LONGEST_S = 320e-9  # 32 m of solid coax ...
LONGEST_TURNS = 10  # ... or so much at the dip: what is longer shows in the shape of the sweep alone
STEP, LEAST_DELAYS = 1 / 36, 4  # turns at the dip between two delays that are tried; at least so many
POINTS = 36  # of a dip; more tell no more
FREEDOM = 10  # misfit runs along the sweep: the points of a dip count as about so many; our choice
FLOOR = 0.002  # rms that one resonance leaves of an antenna near its resonance
WORST, WORST_BOXED = 0.03, 0.007  # more left is no resonance; behind a box and a line, a long wire
PLAIN_RMS, PLAIN_OFF = 0.01, 0.15  # an open end so good, to 9 degrees, needs no weighing;
PLAIN_FURTHER = 1.0  # nor does a box where a delay that made its end an open would fit worse by so much
OPEN_DEG = 8.0  # rms by which an open end is off
SHORT_DEG, SHORT_HALF_DEG, SHORT_OFF_DEG = -152.5, 57.5, 12.0  # where boxes end (13 to -46 ohm of reactance)
# Less the delay of their own they end nowhere from -30 to 150 degrees: they are capacitive by the counterpoise.
NO_BOX_DEG, NO_BOX_HALF_DEG = 60.0, 90.0
OWN_TURNS, OWN_S = 0.25, 25e-9  # delay of counterpoise, leakage and winding at a dip; the longer one counts
SIZE_OFF = 0.06  # of the logarithm of the end's size ...
MORE_LOST = (0.03, 0.06)  # ... below what line, and antenna or box, may take of it [Np]
COSTS = (2.5, 3.0)  # that an antenna has a box, that it ends anywhere as a long wire does
# A wire's own delay beyond that of a box: each so much costs a nat, more in a sweep over several bands, where dips of
# long wires stand side by side and lean on each other; set on modelled wires. [s]
WIRE_COST_S, WIRE_COST_WIDE_S = 2e-9, 15e-9
OTHER_COST = 1.0  # that the line is not of the reference's impedance
OTHERWISE = 15.0  # a dip of several resonances speaks for or against no story by more; our choice


class WeighedDelay(NamedTuple):
    """The round-trip delay that explains a sweep best, and how much better than none."""

    delay_s: float
    gain: float


def weigh_delays(
    f_hz: FloatArray,
    gamma: ComplexArray,
    windows: list[NDArray[np.intp]],
    longest_s: float,
    *,
    is_wide: bool = False,
) -> WeighedDelay | None:
    """The best delay from ``LEAST_S`` on, by the windows round its dips; ``None`` where no resonance describes any."""
    if not windows:
        return None
    thin = [points[:: -(-points.size // POINTS)] for points in windows]
    seen = [relative_to(ohm, gamma[points]) for ohm in LINE_OHMS for points in thin]
    rows = Rows.of([f_hz[points] for points in thin] * len(LINE_OHMS), seen)
    lowest_hz, highest_hz = float(rows.middle_hz.min()), float(rows.middle_hz.max())
    delays_s = np.arange(0.0, min(longest_s, LONGEST_S, LONGEST_TURNS / lowest_hz), STEP / highest_hz)
    first = int(np.searchsorted(delays_s, LEAST_S))
    if delays_s.size < first + LEAST_DELAYS:
        return None
    weights = _weights(rows, delays_s, WIRE_COST_WIDE_S if is_wide else WIRE_COST_S)
    if weights is None:
        return None
    behind, none = weights
    best = first + int(behind[first:].argmax())
    return WeighedDelay(float(delays_s[best]), float(behind[best]) - none)


def stand_alone(rows: Rows, delays_s: FloatArray, rms: FloatArray, ends: ComplexArray) -> NDArray[np.bool_]:
    """Whether each row is an antenna as it stands, open or behind a box, so that there is nothing to weigh.

    ``delays_s``, ``rms`` and ``ends``, shape (rows, 2): no delay, and the one that leaves least.
    """
    alone = (rms[:, 0] <= PLAIN_RMS) & _ends_open(ends[:, 0])
    best_s, f_hz = delays_s[:, 1], rows.middle_hz
    delayed = (best_s <= _own_s(f_hz)) & (_off_box(np.degrees(np.angle(ends[:, 1]))) == 0)
    boxed = np.flatnonzero(~alone & ends_as_antenna(ends[:, 0]) & delayed & (rms[:, 1] <= WORST))
    if boxed.size:
        open_s = best_s[boxed] - np.angle(ends[boxed, 1]) / (2 * np.pi * f_hz[boxed])
        _, rms_open = fit_resonances(rows.rows(boxed), open_s[:, np.newaxis])
        alone[boxed] = _of_fit(rms[boxed, 1]) - _of_fit(rms_open[:, 0]) >= PLAIN_FURTHER
    return alone


def ends_as_antenna(ends: ComplexArray) -> NDArray[np.bool_]:
    """Whether a reflection ends beside its resonance as that of an antenna may, open or behind a box."""
    return np.asarray(_ends_open(ends) | (_off_short(np.degrees(np.angle(ends))) == 0))


def _ends_open(ends: ComplexArray) -> NDArray[np.bool_]:
    return np.asarray(np.abs(ends - 1) <= PLAIN_OFF)


def far_ends(model: Moebius, rows: Rows, delays_s: FloatArray) -> tuple[ComplexArray, ComplexArray]:
    """Reflection far beside the resonance, less the delays, and q, which is never 0; shape (rows, delays)."""
    pole = np.where(np.abs(model.q) > LEAST_POLE, model.q, LEAST_POLE)
    turns = rows.middle_hz[:, np.newaxis] * delays_s
    return np.asarray(model.p1 / pole * np.exp(2j * np.pi * turns)), pole


def _weights(rows: Rows, delays_s: FloatArray, wire_cost_s: float) -> tuple[FloatArray, float] | None:
    """Of a line with each delay, shape (delays,), and of none, over all dips that one resonance describes."""
    behind, alone, described = _by_dip(rows, delays_s, wire_cost_s)
    if not described.any():
        return None
    least = np.maximum(behind.max(axis=(0, 2)), alone) - OTHERWISE
    together = np.maximum(behind, least[:, np.newaxis])[:, described].sum(axis=1)
    together[1:] -= OTHER_COST
    return np.asarray(together.max(axis=0)), float(np.maximum(alone, least)[described].sum())


def _by_dip(
    rows: Rows, delays_s: FloatArray, wire_cost_s: float
) -> tuple[FloatArray, FloatArray, NDArray[np.bool_]]:
    """Of a line, shape (impedances, dips, delays), of none, (dips,), and whether a resonance describes each dip."""
    f_hz = rows.middle_hz[:, np.newaxis]
    model, rms = fit_resonances(rows, np.broadcast_to(delays_s, (f_hz.size, delays_s.size)))
    end, pole = far_ends(model, rows, delays_s)
    fits = _of_fit(rms)
    own_steps = _own_s(f_hz[:, 0]) / delays_s[1]
    wire = fits - np.maximum(delays_s - _own_s(f_hz), 0.0) / wire_cost_s - COSTS[1]
    degrees, size = np.degrees(np.angle(end)), np.log(np.maximum(np.abs(end), 1e-3))
    lost = most_lost_np(f_hz, delays_s)
    spread = np.hypot(OPEN_DEG, np.degrees(rms) * np.maximum(1 / np.abs(pole), 1.0) ** 2)
    open_ = (
        fits - (degrees / spread) ** 2 / 2 - np.log(spread / OPEN_DEG) - _of_size(size, lost + MORE_LOST[0])
    )
    at_box = fits - (_off_box(degrees) / SHORT_OFF_DEG) ** 2 / 2 - _of_size(size, lost + MORE_LOST[1])
    in_box = _best_within(at_box, own_steps)
    boxed = in_box - (_off_short(degrees) / SHORT_OFF_DEG) ** 2 / 2 - COSTS[0]
    own = delays_s <= CHOKE_S
    dips = rms.shape[0] // len(LINE_OHMS)
    by_itself = np.stack(
        [open_[:dips, own].max(axis=1), boxed[:dips, own].max(axis=1), wire[:dips].max(axis=1)]
    )
    fits_well = np.where(open_ >= boxed, fits >= _of_fit(WORST), in_box >= _of_fit(WORST_BOXED))
    behind = np.where(fits_well, np.maximum(open_, boxed), -np.inf).reshape(len(LINE_OHMS), dips, -1)
    described = np.isfinite(behind).any(axis=(0, 2)) | (fits[:dips, own].max(axis=1) >= _of_fit(WORST))
    return behind, by_itself.max(axis=0), described


def _off_short(degrees: FloatArray) -> FloatArray:
    """How far outside the ends of antennas behind boxes, their own delay included."""
    return np.asarray(np.maximum(np.abs((degrees - SHORT_DEG + 180) % 360 - 180) - SHORT_HALF_DEG, 0.0))


def _off_box(degrees: FloatArray) -> FloatArray:
    """How far outside such ends less the delay of their own."""
    return np.asarray(np.maximum(NO_BOX_HALF_DEG - np.abs(degrees - NO_BOX_DEG), 0.0))


def _own_s(f_hz: FloatArray) -> FloatArray:
    return np.maximum(OWN_TURNS / f_hz, OWN_S)


def _of_fit(rms: FloatArray | float) -> FloatArray:
    return np.asarray(-FREEDOM / 2 * np.log(np.square(rms) + FLOOR**2))


def _of_size(log_size: FloatArray, most_lost: FloatArray) -> FloatArray:
    """Cost of an end that reflects more than all, or less than line, antenna and box leave."""
    return np.asarray(
        (np.where(log_size > 0, log_size, np.minimum(log_size + most_lost, 0)) / SIZE_OFF) ** 2 / 2
    )


def _best_within(values: FloatArray, steps: FloatArray) -> FloatArray:
    """The highest from each delay on to so many steps later, row by row."""
    best = np.empty_like(values)
    for row, (each, count) in enumerate(zip(values, steps.astype(np.intp).tolist(), strict=True)):
        padded = np.concatenate([each, np.full(count, -np.inf)])
        best[row] = np.lib.stride_tricks.sliding_window_view(padded, count + 1).max(axis=1)
    return best
