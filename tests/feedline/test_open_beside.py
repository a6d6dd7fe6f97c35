"""Far from resonance a series antenna reflects like an open: the delay that ends there is the line's."""

from __future__ import annotations

import numpy as np
import pytest

from sweepkit.feedline.one_resonance import behind_delays, least_detuned
from sweepkit.feedline.open_beside import LEAST_S, delay_to_open

F_HZ = np.linspace(6.3e6, 7.9e6, 60)
DELAYS_S = np.linspace(0, 800e-9, 96)


def seen(delay_s, *, end=1.0, noise=0.001, q=12.0):
    """A resonator of 40 ohm at 7.1 MHz whose reflection tends to ``end``, behind a round-trip delay."""
    u = F_HZ / 7.1e6 - 7.1e6 / F_HZ
    z = 0.8 * (1 + 1j * q * u)
    dice = np.random.default_rng(3)
    chance = noise / np.sqrt(2) * (dice.standard_normal(60) + 1j * dice.standard_normal(60))
    return end * (z - 1) / (z + 1) * np.exp(-2j * np.pi * F_HZ * delay_s) + chance


def found_s(gamma):
    return delay_to_open(F_HZ, gamma, DELAYS_S)


@pytest.mark.parametrize("delay_s", [25e-9, 37e-9, 52e-9, 110e-9, 230e-9])
def test_the_delay_is_found_to_two_nanoseconds(delay_s):
    assert found_s(seen(delay_s)) == pytest.approx(delay_s, abs=2e-9)


def test_without_a_line_there_is_none():
    assert found_s(seen(0.0)) is None
    assert found_s(seen(LEAST_S / 2)) is None


@pytest.mark.parametrize("end", [-1.0, 1j, -1j])
def test_an_antenna_that_ends_elsewhere_shows_none(end):
    """Half a turn is 70 ns at 7 MHz: a short delay does not turn such an end into an open."""
    for delay_s in (0.0, 37e-9):
        assert found_s(seen(delay_s, end=end)) is None


def test_what_loses_too_much_beside_its_resonance_is_no_antenna():
    assert found_s(seen(37e-9, end=0.6)) is None
    # RG-174 by the table of lines, 2.643 sqrt(f) + 0.0195 f dB/100 m: 7.1 m at 7.1 MHz lose 0.51 dB, twice 1.02 dB
    assert least_detuned(7.1e6, 2 * 7.1 / (0.66 * 299_792_458)) == pytest.approx(
        0.9 * 10 ** (-1.0 / 20), rel=0.01
    )


def test_two_resonances_are_not_one_behind_a_delay():
    twice = seen(37e-9) * seen(0.0, q=30.0)
    assert found_s(twice) is None


@pytest.mark.identity
def test_one_resonance_behind_a_delay_is_described_exactly():
    z = 0.8 * (1 + 24j * (F_HZ / 7.1e6 - 1))
    gamma = (z - 1) / (z + 1) * np.exp(-2j * np.pi * F_HZ * 52e-9)
    behind = behind_delays(F_HZ, gamma, np.array([0.0, 52e-9]))
    assert behind.left[0] > 0.01
    assert behind.left[1] < 1e-9
    assert behind.detuned[1] == pytest.approx(1.0, abs=1e-9)
