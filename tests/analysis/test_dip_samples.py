"""Dips of many curves side by side are those of each by itself; fits that have settled are done."""

import numpy as np
import pytest

from sweepkit.analysis import dips
from sweepkit.analysis.dips import FEWEST_SIDE_BY_SIDE, find_all_dip_samples, find_dip_samples
from sweepkit.analysis.windows import Stack


@pytest.mark.identity
@pytest.mark.parametrize("noise", [0.0005, 0.005, 0.05])
def test_curves_walked_side_by_side_dip_where_each_dips(noise):
    dice, place = np.random.default_rng(6), np.linspace(0, 1, 151)
    curves = []
    for k in range(3 * FEWEST_SIDE_BY_SIDE):
        depth = sum(
            dice.uniform(0.1, 0.9) * np.exp(-(((place - dice.random()) / dice.uniform(0.02, 0.3)) ** 2))
            for _ in range(k % 4)
        )
        curves.append(np.abs(0.95 - depth + noise * dice.standard_normal(place.size)))
    curves.append(np.full(place.size, 0.3))
    magnitude = np.stack(curves)
    uneven = noise * (1 + np.arange(place.size) % 7)[np.newaxis] * np.ones_like(magnitude)
    together = find_all_dip_samples(magnitude, uneven)
    assert together == [find_dip_samples(*each) for each in zip(magnitude, uneven, strict=True)]
    assert sum(map(len, together)) > len(curves) / 4


@pytest.mark.identity
def test_fits_that_have_settled_are_those_that_go_on_settling(monkeypatch):
    dice, f_hz = np.random.default_rng(9), np.linspace(6.7e6, 7.5e6, 161)
    noise = 0.001 * (dice.standard_normal((40, 161)) + 1j * dice.standard_normal((40, 161)))
    dips_hz, widths = 7.1e6 * dice.uniform(0.98, 1.02, (40, 1)), dice.uniform(8, 60, (40, 1))
    z_ohm = dice.uniform(25, 90, (40, 1)) * (1 + 1j * widths * (f_hz / dips_hz - dips_hz / f_hz))
    gamma = (z_ohm - 50) / (z_ohm + 50) + noise
    stack = Stack(f_hz, gamma, np.ones(gamma.shape), np.full(gamma.shape, 0.0014))
    places = find_all_dip_samples(stack.magnitude, stack.noise)
    which = np.repeat(np.arange(40), [len(each) for each in places])
    flat = [place for each in places for place in each]
    left_early, calls = dips.fit_dips(stack, which, flat), []
    monkeypatch.setattr(
        dips, "is_settled", lambda *words: calls.append(1) or np.zeros(len(words[2]), dtype=bool)
    )
    to_the_end = dips.fit_dips(stack, which, flat)
    assert len(calls) == dips.SETTLING
    for one, other in zip(
        dips.dip_frequencies(left_early, stack, None),
        dips.dip_frequencies(to_the_end, stack, None),
        strict=True,
    ):
        assert one == pytest.approx(other, rel=1e-8, abs=1e-8)
    assert left_early.width_hz == pytest.approx(to_the_end.width_hz, rel=1e-8)
