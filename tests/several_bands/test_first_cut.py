"""How much of a whole change is cut at first, where it moves several dips."""

import numpy as np
import pytest

from sweepkit.several_bands.first_cut import first_share
from sweepkit.trim.move import CUT_CAP, CUT_CAP_LEARNED

DICE = np.random.default_rng(4).standard_normal((401, 1))
DICE[0] = 0.0  # the measured draw


def moved_hz(share, *, unsure):
    """A dip brought from 6.6 to 7.0 MHz, by so much more or less of the way."""
    return 6.6e6 + 0.4e6 * share * (1 + unsure * DICE)


def coax_hz():
    """A dip of the coax beside it, which stays and of which little is known."""
    return 2.97e6 * (1 + 0.012 * DICE)


@pytest.mark.parametrize(("learned", "cap"), [(False, CUT_CAP), (True, CUT_CAP_LEARNED)])
def test_a_dip_that_stays_where_it_is_bounds_no_cut(learned, cap):
    def dips_hz(share):
        return np.hstack([moved_hz(share, unsure=0.02), coax_hz()])

    assert first_share(dips_hz, learned=learned) == cap


def test_a_dip_that_may_go_too_far_makes_the_first_cut_smaller():
    share = first_share(lambda share: np.hstack([moved_hz(share, unsure=0.6), coax_hz()]), learned=False)
    assert 0.3 < share < CUT_CAP
    beyond = moved_hz(share, unsure=0.6)[1:] > 1.005 * 7.0e6
    assert 0 < beyond.mean() <= 0.05


def test_where_no_dip_moves_the_cap_is_all_there_is():
    assert first_share(lambda share: coax_hz(), learned=False) == CUT_CAP
