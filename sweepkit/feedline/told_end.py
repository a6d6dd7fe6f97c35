"""Where a told line ends in an open or a short: its constants are known, only the place is sought.

A sweep round one band has too few turns to tell delay, impedance and loss apart. With the constants as told one
number is left, and the phase at each frequency is part of what must fit.
"""

from __future__ import annotations

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.feedline.chain import ChainDraws
from sweepkit.feedline.plane import add_chain
from sweepkit.feedline.sections import OPEN, SHORT
from sweepkit.figures import Figure
from sweepkit.lines import VELOCITY_FACTOR_SIGMA
from sweepkit.quantities import SPEED_OF_LIGHT_M_S

# Rms left: analyzers leave 0.05 of a total reflection, sound antennas 0.15 and more (own models)
EXPLAINED = 0.06
LONGER = 1.03  # of the told length, beside a connector's
GAIN = (0.9, 1.05)  # loss that the told one may be off by, and the analyzer's scale
LEAST_TURN = 0.15  # radians that the reflection must turn over the sweep; below, much else looks the same
PER_TURN = 40  # places for each turn of the reflection at the upper end
AS_GOOD = 0.01  # rms that analyzer and connectors add: places that much worse are as likely
HALF = 1.96  # of a 95 % interval


def find_end_of_told_line(
    f_hz: FloatArray, gamma: ComplexArray, draws: ChainDraws, *, noise: float, reference_ohm: float
) -> tuple[float, Figure] | None:
    """The end (1 an open, -1 a short) and its distance; ``None`` where the nominal told line explains nothing."""
    reach_m = draws.chain.length_m * LONGER + 0.1
    wave_m = SPEED_OF_LIGHT_M_S * float(draws.velocity_factor[0].min()) / f_hz[-1]
    places_m = np.linspace(0.0, reach_m, max(int(PER_TURN * 2 * reach_m / wave_m), 50))
    found = [_fit(f_hz, gamma, end, draws, places_m, reference_ohm) for end in (OPEN, SHORT)]
    (end, rms), turn = min(found, key=lambda one: float(one[0][1].min()))
    least = float(rms.min())
    beyond = int(np.argmin(rms)) == rms.size - 1  # an antenna turns the curve as more line would
    if beyond or least > max(EXPLAINED, 1.5 * noise) or turn < LEAST_TURN:
        return None
    as_good = places_m[rms**2 < least**2 + AS_GOOD**2]
    at_m = float(places_m[int(np.argmin(rms))])
    off_m = HALF * VELOCITY_FACTOR_SIGMA * at_m
    return end, Figure(
        at_m, max(min(float(as_good[0]) - off_m, at_m), 0.0), max(float(as_good[-1]) + off_m, at_m)
    )


def _fit(
    f_hz: FloatArray,
    gamma: ComplexArray,
    end: float,
    draws: ChainDraws,
    places_m: FloatArray,
    reference_ohm: float,
) -> tuple[tuple[float, FloatArray], float]:
    """The end with the rms left for each place, and how far the best curve turns."""
    cut = _cut_off(draws, places_m)
    predicted = add_chain(f_hz, np.full(f_hz.shape, end), cut, reference_ohm=reference_ohm)
    size = np.sum(np.abs(predicted) ** 2, axis=1)
    gain = np.clip((predicted.conj() * gamma).real.sum(axis=1) / size, *GAIN)
    rms = np.sqrt(np.mean(np.abs(gamma - gain[:, None] * predicted) ** 2, axis=1))
    turn = float(np.ptp(np.unwrap(np.angle(predicted[int(np.argmin(rms))]))))
    return (end, rms), turn


def _cut_off(draws: ChainDraws, places_m: FloatArray) -> ChainDraws:
    """The nominal line, cut off at each place; beyond its end as in its last piece."""
    lengths = draws.length_m[0].copy()
    starts = np.concatenate([[0.0], np.cumsum(lengths)[:-1]])
    lengths[-1] = np.inf
    cut = np.clip(places_m[:, None] - starts, 0.0, lengths)
    velocity, loss, z0 = (
        np.repeat(part[:1], places_m.size, axis=0)
        for part in (draws.velocity_factor, draws.loss_factor, draws.z0_ohm)
    )
    return ChainDraws(draws.chain, cut, velocity, loss, z0, np.zeros((places_m.size, cut.shape[1] + 1)))
