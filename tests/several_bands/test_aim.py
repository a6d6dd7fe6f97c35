"""Which change is best by the aim, where one place cannot be bettered."""

import numpy as np
import pytest

from sweepkit.several_bands.aim import Losses, is_surely_gained

CHANGE_M = np.linspace(-1.0, 1.0, 201)
UNCHANGED = 100
HALF = np.random.default_rng(4).normal(0, 1, (50, 1))
DRAWS = np.concatenate([[[0.0]], HALF, -HALF])  # so that their median is none


def losses(*curves):
    """Losses of places over changes, shape (draws, m) each."""
    loss_db = np.array([np.broadcast_to(curve, (101, 201)) for curve in curves])
    return Losses(CHANGE_M, np.array(loss_db), np.ones(len(curves)))


def bowl(middle_m, depth_db=2.0):
    """A place that is best at one change, the same on every draw."""
    return 0.2 + depth_db * (CHANGE_M - middle_m) ** 2


HOPELESS = 4.0 + 0.4 * DRAWS  # whatever the length
TILTED = HOPELESS + 0.1 * CHANGE_M - 0.3 * DRAWS * CHANGE_M  # hardly better for shorter, or for longer


@pytest.mark.parametrize("hopeless", [HOPELESS, TILTED])
def test_a_place_that_no_change_betters_does_not_keep_the_others_from_it(hopeless):
    best = losses(hopeless, bowl(-0.6)).best("worst")
    assert best.set_aside == 0
    assert CHANGE_M[best.number] == pytest.approx(-0.6, abs=0.05)
    assert best.gain_db[0] == pytest.approx(2.0 * 0.36, abs=0.01)
    assert is_surely_gained(best.gain_db)


def test_the_place_that_is_set_aside_is_not_made_worse():
    """It goes up by 0.1 dB a metre, and 0.003 of a reflection of 0.776 are 0.051 dB."""
    best = losses(TILTED, bowl(0.6)).best("worst")
    assert best.set_aside == 0
    assert CHANGE_M[best.number] == pytest.approx(0.51, abs=0.011)


def test_the_worst_place_goes_first_where_it_can_be_bettered():
    """As far as both are alike: 4 + 1.5 m = 0.2 + 2 (m - 0.3)^2 at m = -0.83."""
    best = losses(HOPELESS + 1.5 * CHANGE_M, bowl(0.3)).best("worst")
    assert best.set_aside is None
    assert CHANGE_M[best.number] == pytest.approx(-0.83, abs=0.015)


def test_nothing_is_set_aside_for_nothing_and_never_for_the_mean():
    best = losses(HOPELESS, bowl(0.1)).best("worst")
    assert best.set_aside is None
    assert not is_surely_gained(best.gain_db)
    assert losses(HOPELESS, bowl(-0.6)).best("mean").set_aside is None


def test_a_change_that_leaves_the_sweep_is_not_taken():
    short = np.where(CHANGE_M < -0.4, np.nan, HOPELESS)
    best = losses(short, bowl(-0.6)).best("worst")
    assert CHANGE_M[best.number] >= -0.4
