"""Changes per radial, the next one, and what cannot be said."""

import math

import numpy as np
import pytest

from sweepkit.comparison.radials import describe_radials
from sweepkit.comparison.smallest import Spread


@pytest.mark.identity
def test_a_step_is_the_geometric_change_per_radial():
    trend = describe_radials([2, 4], np.array([7.2e6, 7.0e6]), spread=Spread(0.001))
    step = trend.steps[0]
    assert step.per_radial.value == pytest.approx((7.0 / 7.2) ** 0.5 - 1, rel=1e-12)
    half = 1.959964 * 0.001 * math.sqrt(2) / 2
    assert math.log1p(step.per_radial.high) - math.log1p(step.per_radial.value) == pytest.approx(
        half, rel=1e-5
    )


# Common practice, no source: changes of a modelled whip, from 4 radials to 2 +5.1 %, to 3 +1.85 %, to 8 -3.3 %.
def test_from_two_three_four_radials_eight_is_foreseen_in_sign_and_size():
    seen = describe_radials([2, 3, 4], np.array([1.051, 1.0185, 1.0]), spread=Spread(0.002))
    assert -0.03 < seen.next_change.low < seen.next_change.value < seen.next_change.high < 0
    assert abs(seen.next_change.value) < abs(seen.steps[-1].per_radial.value)


@pytest.mark.parametrize(("sd", "visible"), [(0.0005, "yes"), (0.05, "no")])
def test_whether_another_one_would_be_seen(sd, visible):
    values = np.array([1.051, 1.0185, 1.0])
    assert describe_radials([2, 3, 4] * 30, np.tile(values, 30), spread=Spread(sd)).visible == visible


def test_one_number_of_radials_is_no_trend():
    trend = describe_radials([4, 4], np.array([1.0, 1.1]), spread=Spread(0.01, 4))
    assert trend.visible == "cannot_say"
    assert "same number" in trend.next_change.reason


@pytest.mark.parametrize(("radials", "value"), [(0, 1.0), (2, -1.0)])
def test_nonsense_is_refused(radials, value):
    with pytest.raises(ValueError, match="must be"):
        describe_radials([radials, 4], np.array([value, 1.0]), spread=Spread(0.01))


@pytest.mark.parametrize("power", [0.3, 0.5, 0.9])
def test_the_next_radial_is_inside_the_interval_as_often_as_stated(power):
    dice, counts = np.random.default_rng(11), np.array([1, 2, 4, 8])
    truth = lambda n: 0.3 * np.asarray(n, float) ** -power  # noqa: E731
    inside = 0
    for _ in range(300):
        values = np.exp(truth(counts) + dice.normal(0, 0.01, 4))
        figure = describe_radials(counts, values, spread=Spread(0.01)).next_change
        inside += figure.low <= math.expm1(float(truth(9) - truth(8))) <= figure.high
    assert inside >= 0.93 * 300 - 8  # 95 % less the 4-sigma allowance of a few hundred trials
