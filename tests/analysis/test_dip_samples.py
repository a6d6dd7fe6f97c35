"""Dips of many curves side by side are those of each by itself."""

import numpy as np
import pytest

from sweepkit.analysis.dips import FEWEST_SIDE_BY_SIDE, find_all_dip_samples, find_dip_samples


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
