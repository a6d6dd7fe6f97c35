"""Modelled antennas put up again and again, swept and reviewed: alike ones are alike, known shifts are found."""

from __future__ import annotations

import numpy as np
import pytest

from sweepkit.comparison import ComparedSetup, compare_setups
from sweepkit.comparison.differences import pair_verdict
from sweepkit.reviews import review, summarise
from sweepkit.sweep import Sweep
from tests.coverage.antennas import table

CASE = table("dipole_40m")
F_HZ = np.linspace(6.7e6, 7.5e6, 161)
NOISE, DIRECTIVITY = 0.001, 0.01
DIP_SD, R_SD = 0.004, 0.08  # put up again at one site: docs/compare.md
COUNT, TRIALS, EARLIER = 40, 200, 5


def erections(seed, *, dip=0.0, r=0.0):
    """Setups of one wire: each its own factor on frequency and on R, one analyzer's error in all."""
    dice = np.random.default_rng(seed)
    setups = []
    for k in range(COUNT):
        f_factor = np.exp(dip + DIP_SD * dice.standard_normal())
        r_factor = np.exp(r + R_SD * dice.standard_normal())
        z_ohm = CASE.z_ohm(F_HZ / f_factor)
        z_ohm = z_ohm.real * r_factor + 1j * z_ohm.imag
        noise = NOISE / np.sqrt(2) * (dice.standard_normal(F_HZ.size) + 1j * dice.standard_normal(F_HZ.size))
        gamma = (z_ohm - 50) / (z_ohm + 50) + noise + DIRECTIVITY * np.exp(1j)
        summary = summarise(
            review(Sweep.from_gamma(F_HZ, gamma), measured_at="feedpoint", bands=(), draws=60)
        )
        setups.append(
            ComparedSetup(f"{seed}-{k}", {"antenna": "a", "site": "ridge", "kind": "dipole"}, (summary,))
        )
    return setups


@pytest.fixture(scope="module")
def alike():
    return erections(1)


def share_different(alike, other, *, seed):
    """How often two setups are called different, with five others to tell the spread."""
    dice = np.random.default_rng(seed)
    different = 0
    for _ in range(TRIALS):
        chosen = dice.permutation(COUNT)[: EARLIER + 2]
        first, second = alike[chosen[0]], other[chosen[1]]
        background = [alike[k] for k in chosen[2:]]
        (own,) = compare_setups([first, second], background=background).pairs.values()
        different += pair_verdict(own) == "different"
    return different / TRIALS


def test_alike_setups_are_called_different_in_no_more_than_one_of_twenty(alike):
    assert share_different(alike, alike, seed=2) <= 0.05 + 3 * np.sqrt(0.05 * 0.95 / TRIALS)


def test_a_wire_that_is_three_per_cent_off_is_found(alike):
    """Seven times the spread of the dip; five setups tell a spread badly, so not every time."""
    assert share_different(alike, erections(3, dip=0.03), seed=4) > 0.6


def test_twice_the_resistance_is_found(alike):
    assert share_different(alike, erections(5, r=np.log(2)), seed=6) > 0.8
