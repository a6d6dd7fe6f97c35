"""The end of a told line from a sweep round one band, on lines that the package has no formula of."""

from __future__ import annotations

import numpy as np
import pytest

from sweepkit.feedline.chain import LineChain, draw_chain
from sweepkit.feedline.dead_line import find_dead_line
from sweepkit.feedline.told_end import find_end_of_told_line
from sweepkit.lines import catalogued_piece
from tests.diagnosis.faults import setups
from tests.models.set_ups import _error, make_coax

CASES = 12


def broken(number: int):
    """A told line, its sweep round a band, and where it ends in what."""
    dice = np.random.default_rng([61, number])
    told_m, f0_hz = round(float(dice.uniform(6, 20)), 1), float(dice.choice([7.1e6, 14.2e6, 21.2e6, 28.5e6]))
    coax = make_coax("RG-58", told_m, dice)
    at_m = coax.length_m * (1.0 if dice.random() < 0.4 else dice.uniform(0.3, 1.0))
    f_hz, end = np.linspace(0.9 * f0_hz, 1.1 * f0_hz, 101), 1e6 if number % 2 else 0.1
    z = coax.seen_through(f_hz, np.full(f_hz.shape, end, dtype=complex), at_m)
    directivity, match, tracking = (
        _error(f_hz, 10 ** (-dice.uniform(*db) / 20), dice) for db in ((35, 46), (30, 40), (30, 40))
    )
    gamma = (z - 50) / (z + 50)
    gamma = directivity + gamma * (1 + tracking) / (1 - match * gamma)
    gamma = gamma + 0.001 * (dice.standard_normal(101) + 1j * dice.standard_normal(101))
    return (
        draw_chain(LineChain([catalogued_piece("RG-58", told_m)]), dice, 20),
        f_hz,
        gamma,
        at_m,
        number % 2 == 1,
    )


def test_most_ends_are_found_none_elsewhere_and_intervals_hold():
    found = []
    for number in range(CASES):
        line, f_hz, gamma, at_m, is_open = broken(number)
        finding = find_dead_line(f_hz, gamma, line, noise=0.0014)
        if finding is None:
            continue
        assert finding.code == ("open-line" if is_open else "shorted-line")
        distance = finding.distance_m
        assert distance.value == pytest.approx(at_m, abs=max(0.5, 0.03 * at_m))
        found.append(distance.low <= at_m <= distance.high)
    assert len(found) >= CASES * 3 // 4
    assert np.mean(found) >= 0.8


def test_sound_antennas_are_no_broken_lines():
    for number, setup in enumerate(setups()):
        dice = np.random.default_rng([62, number])
        told_m = round(float(dice.uniform(3, 20)), 1)
        z = make_coax("RG-58", told_m, dice).seen_through(setup.f_hz, setup.states["healthy"](setup.f_hz))
        line = LineChain([catalogued_piece("RG-58", told_m)]).nominal
        gamma = (z - 50) / (z + 50)
        assert find_end_of_told_line(setup.f_hz, gamma, line, noise=0.001, reference_ohm=50.0) is None
