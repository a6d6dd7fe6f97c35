"""Of the delays in front of a resonance the one that leaves an antenna is the line's."""

from __future__ import annotations

import numpy as np
import pytest

from sweepkit.feedline.likely import LEAST_WEIGHT
from sweepkit.feedline.many_resonances import Rows, fit_resonances, least_detuned, relative_to
from sweepkit.feedline.weighed_delays import CHOKE_S, weigh_delays

F_HZ = np.linspace(6.3e6, 7.9e6, 60)
ALL = [np.arange(F_HZ.size)]


def antenna(*, end=1.0, q=12.0, f0_hz=7.1e6):
    """A resonator of 40 ohm whose reflection tends to ``end`` beside its resonance."""
    z = 0.8 * (1 + 1j * q * (F_HZ / f0_hz - f0_hz / F_HZ))
    return end * (z - 1) / (z + 1)


def behind(gamma, delay_s, *, line_ohm=50.0, noise=0.001):
    """The same behind a line without loss, with noise."""
    seen = relative_to(line_ohm, gamma) * np.exp(-2j * np.pi * F_HZ * delay_s)
    rho = (line_ohm - 50) / (line_ohm + 50)
    dice = np.random.default_rng(3)
    chance = noise / np.sqrt(2) * (dice.standard_normal(60) + 1j * dice.standard_normal(60))
    return (seen + rho) / (1 + rho * seen) + chance


def weighed(gamma):
    return weigh_delays(F_HZ, gamma, ALL, 1e-6)


def gain(gamma):
    """How much better a line explains it than none; nothing described is no line."""
    found = weighed(gamma)
    return -np.inf if found is None else found.gain


@pytest.mark.parametrize("delay_s", [30e-9, 37e-9, 52e-9, 110e-9, 230e-9])
def test_a_line_in_front_of_an_open_end_is_found_to_three_nanoseconds(delay_s):
    found = weighed(behind(antenna(), delay_s))
    assert found.gain > LEAST_WEIGHT
    assert found.delay_s == pytest.approx(delay_s, abs=3e-9)


@pytest.mark.parametrize("line_ohm", [50.0, 75.0])
@pytest.mark.parametrize("delay_s", [40e-9, 150e-9])
def test_of_either_impedance(delay_s, line_ohm):
    found = weighed(behind(antenna(), delay_s, line_ohm=line_ohm))
    assert found.gain > LEAST_WEIGHT
    assert found.delay_s == pytest.approx(delay_s, abs=5e-9)


@pytest.mark.parametrize("end_ohm", [15j, 0.0, -20j, -40j])
def test_behind_a_box_the_end_is_a_reactance_near_a_short(end_ohm):
    end = (end_ohm - 50) / (end_ohm + 50)
    assert gain(behind(antenna(end=end), 0.0)) < LEAST_WEIGHT
    assert (
        weighed(behind(antenna(end=end), 0.6 / 7.1e6)).gain > LEAST_WEIGHT
    )  # 84 ns turn it to the other side


@pytest.mark.parametrize("delay_s", [0.0, CHOKE_S / 2, CHOKE_S])
def test_a_choke_at_the_feedpoint_is_no_line(delay_s):
    assert gain(behind(antenna(), delay_s)) < LEAST_WEIGHT


@pytest.mark.parametrize("turn", np.linspace(0, 2 * np.pi, 12, endpoint=False))
def test_where_an_antenna_ends_alone_shows_no_line(turn):
    """A long wire ends anywhere; without delay in the shape of the sweep it is none."""
    assert gain(behind(antenna(end=np.exp(1j * turn)), 0.0, noise=0.002)) < LEAST_WEIGHT


def test_two_resonances_in_one_window_tell_nothing():
    assert weighed(behind(antenna() * antenna(f0_hz=6.6e6, q=30.0), 90e-9)) is None


def test_without_a_dip_or_with_steps_too_wide_nothing_is_weighed():
    assert weigh_delays(F_HZ, antenna(), [], 1e-6) is None
    assert weigh_delays(F_HZ, antenna(), ALL, 20e-9) is None


@pytest.mark.identity
def test_one_resonance_behind_a_delay_is_described_exactly():
    z = 0.8 * (1 + 24j * (F_HZ / 7.1e6 - 1))
    gamma = (z - 1) / (z + 1) * np.exp(-2j * np.pi * F_HZ * 52e-9)
    model, left = fit_resonances(Rows.of([F_HZ], [gamma]), np.array([[0.0, 52e-9]]))
    assert left[0, 1] < 1e-9 < 1e-3 < left[0, 0]
    assert abs(model.p1[0, 1] / model.q[0, 1]) == pytest.approx(1.0, abs=1e-6)


def test_what_loses_too_much_beside_its_resonance_is_no_antenna():
    # RG-174 by the table of lines, 2.643 sqrt(f) + 0.0195 f dB/100 m: 7.1 m at 7.1 MHz lose 0.51 dB, twice 1.02 dB
    assert least_detuned(7.1e6, 2 * 7.1 / (0.66 * 299_792_458)) == pytest.approx(
        0.9 * 10 ** (-1.0 / 20), rel=0.01
    )
