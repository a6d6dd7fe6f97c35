"""Figures: an interval that holds as often as it says, however few the draws, and arithmetic that keeps it."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sweepkit.figures import COVERAGE_QUANTILES, QUANTILE_METHOD, Figure

numbers = st.floats(-1e9, 1e9)


# One more draw falls below the k-th of n sorted ones with a chance of k/(n + 1), whatever the distribution.
@pytest.mark.identity
@pytest.mark.parametrize("draws", [39, 79, 199, 1000])
def test_one_more_draw_falls_inside_with_95_percent(draws):
    dice = np.random.default_rng(draws)
    trials = 6000
    drawn = dice.exponential(size=(trials, draws))
    middle = np.full((trials, 1), np.log(2))
    one_more = dice.exponential(size=trials)
    inside = 0
    for row, truth in zip(np.hstack([middle, drawn]), one_more, strict=True):
        figure = Figure.from_draws(row, reason="-")
        inside += figure.low <= truth <= figure.high
    assert inside / trials == pytest.approx(0.95, abs=4 * math.sqrt(0.95 * 0.05 / trials))


@pytest.mark.identity
@given(st.lists(numbers, min_size=1, max_size=400))
def test_ends_are_the_quantiles_of_the_draws_to_the_last_bit(drawn):
    figure = Figure.from_draws(np.array([np.median(drawn), *drawn]), reason="-")
    low, high = np.quantile(drawn, COVERAGE_QUANTILES, method=QUANTILE_METHOD)
    assert (figure.low, figure.high) == (min(low, figure.value), max(high, figure.value))


@given(st.lists(st.one_of(numbers, st.just(math.nan)), min_size=2, max_size=60))
def test_low_value_high_are_in_order_or_there_is_a_reason(values):
    figure = Figure.from_draws(np.array(values), reason="lost")
    if figure.value is None:
        assert figure.reason.startswith("lost")
        assert figure.low is None
        assert figure.high is None
    else:
        assert figure.low <= figure.value <= figure.high


@given(numbers, numbers, numbers, st.floats(-1e6, 1e6))
def test_another_unit_keeps_the_order(a, b, c, factor):
    low, value, high = sorted((a, b, c))
    scaled = Figure(value, low, high).scaled(factor)
    assert scaled.low <= scaled.value <= scaled.high
    assert scaled.value == value * factor


def test_no_answer_stays_no_answer():
    lost = Figure.none("the dip is gone")
    assert lost.scaled(3.0) is lost
    assert lost.mapped(abs) is lost
    assert Figure(2.0).scaled(-3.0) == Figure(-6.0)
    assert Figure(2.0).mapped(math.sqrt).low is None
    assert Figure(4.0, 1.0, 9.0).mapped(math.sqrt) == Figure(2.0, 1.0, 3.0)


def test_half_of_the_draws_is_enough_and_less_is_not():
    values = np.array([1.0] + [1.0] * 50 + [np.nan] * 50)
    assert Figure.from_draws(values, reason="lost").value == 1.0
    values[1] = np.nan
    assert "only 49% of equally believable sweeps" in Figure.from_draws(values, reason="lost").reason
    values[0] = np.nan
    assert Figure.from_draws(values, reason="lost").reason == "lost"


def test_an_end_near_the_wall_is_set_to_it_and_one_far_away_is_not():
    near = np.concatenate([[0.1], np.linspace(0.001, 0.2, 400)])
    assert Figure.from_draws(near, reason="-", wall=0.0).low == 0.0
    assert Figure.from_draws(near, reason="-").low > 0.0
    assert Figure.from_draws(near + 0.1, reason="-", wall=0.0).low > 0.1
    assert Figure.from_draws(-near, reason="-", wall=0.0).high == 0.0


@pytest.mark.parametrize(
    ("parts", "words"),
    [
        ((1.0, 0.5, None), "low and high come together or not at all"),
        ((None, 0.5, 1.0, "lost"), "a figure without a value has no interval"),
        ((1.0, None, None, "lost"), "exactly one must be given"),
        ((math.nan,), "must be finite"),
    ],
)
def test_what_is_no_figure_is_refused(parts, words):
    with pytest.raises(ValueError, match=words):
        Figure(*parts)
