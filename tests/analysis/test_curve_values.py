"""Curves on a grid that are computed where they are looked at: as if all of them had been computed."""

import numpy as np
import pytest

from sweepkit.analysis.curve import SmoothCurves
from sweepkit.analysis.moebius import Moebius
from sweepkit.analysis.share import share_within

pytestmark = pytest.mark.identity

DRAWS, POINTS = 5, 12
DICE = np.random.default_rng(3)
MODEL = Moebius(*(DICE.standard_normal((3, DRAWS)) + 1j * DICE.standard_normal((3, DRAWS)) for _ in range(3)))
OWNER = np.repeat([0, 2, 1], POINTS // 3)
U = np.linspace(-0.3, 0.3, POINTS)
TURN = np.exp(2j * U)
P0, P1, Q = (part[OWNER].T for part in MODEL)
WHOLE = (P0 + P1 * U) / (1 + Q * U) * TURN
CURVES = SmoothCurves(MODEL, OWNER, U)


@pytest.mark.parametrize(
    "key",
    [
        slice(None),
        0,
        (slice(None), 7),
        (slice(0, 1), slice(4, 5)),
        (slice(None), np.array([1, 8, 11])),
        (slice(None), U > 0.1),
        (2, slice(3, 9)),
    ],
    ids=str,
)
def test_what_is_asked_for_is_what_stands_there(key):
    values = CURVES.values(slice(None), TURN)
    assert values.shape == WHOLE.shape
    np.testing.assert_allclose(values[key], WHOLE[key], rtol=1e-13)


def test_the_measured_curve_alone_and_a_part_of_the_grid():
    part = slice(3, 9)
    first = CURVES.values(part, None).first()
    assert first.shape == (6,)
    for key in (slice(None), 2, slice(1, 2), np.array([0, 5])):
        np.testing.assert_allclose(first[key], (WHOLE / TURN)[0, part][key], rtol=1e-13)


@pytest.mark.parametrize("draws", [1, DRAWS])
def test_sizes_are_those_of_the_values(draws):
    model = Moebius(*(part[:, :draws] for part in MODEL))
    size = SmoothCurves(model, OWNER, U).magnitudes()
    np.testing.assert_allclose(size, np.abs(WHOLE[:draws]), rtol=1e-12)


def test_a_match_has_no_size():
    one = np.ones((1, 1), dtype=complex)
    match = SmoothCurves(Moebius(-0.1 * one, one, one), np.zeros(1, dtype=int), np.array([0.1]))
    assert match.magnitudes()[0, 0] == pytest.approx(0.0, abs=1e-8)


def test_the_share_within_a_limit_is_that_of_straight_lines_between_points():
    values = np.array([[0.0, 1, 2, 3, 4], [4, 2, 0, 2, 4], [1.5] * 5, [2] * 5, [0, 4, 0, 4, 0]])
    np.testing.assert_allclose(share_within(values, 1.5), [3 / 8, 3 / 8, 1, 0, 3 / 8], rtol=1e-15)
