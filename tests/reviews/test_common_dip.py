"""Which dip is which, after it moved; and when two sweeps of one setup say different things."""

from __future__ import annotations

import pytest

from sweepkit.antennas.rungs import trade_limit
from sweepkit.figures import Figure
from sweepkit.reviews.common_dip import MOST_LOG, find_common_dip, find_disagreement
from sweepkit.reviews.summary import DipSummary, Summary

NONE = Figure.none("not asked for")


def dips(*pairs, plane="feedpoint"):
    """Dips in MHz with their SWR, the deepest first."""
    made = [
        DipSummary(Figure(mhz * 1e6, mhz * 1e6 - 500, mhz * 1e6 + 500), Figure(swr), NONE, NONE, NONE, NONE)
        for mhz, swr in sorted(pairs, key=lambda pair: pair[1])
    ]
    return {plane: tuple(made)}


def swept(*pairs, span=(2.0, 30.0), plane="feedpoint"):
    return Summary(dips(*pairs, plane=plane), {}, span[0] * 1e6, span[1] * 1e6, 201, "signed", True, ())


def common_mhz(a, b):
    pair = find_common_dip(a, b)
    return None if pair is None else tuple(dip.dip_hz.value / 1e6 for dip in pair)


@pytest.mark.parametrize("moved", [0.8, 0.9, 0.97, 1.0, 1.06, 1.12, 1.24])
def test_a_lone_dip_is_found_wherever_it_moved_to(moved):
    pair = common_mhz(swept((7.1, 1.4)), swept((7.1 * moved, 1.9)))
    assert pair == pytest.approx((7.1, 7.1 * moved))


def test_too_far_is_another_dip():
    assert common_mhz(swept((7.1, 1.4)), swept((10.1, 1.4))) is None
    assert 1.2 < 2.718281828**MOST_LOG < 18.1 / 14.1


def test_neighbours_tell_which_dip_moved():
    """12 m and 10 m shortened by 5 %: the moved lower one lies nearer to where the upper one was."""
    before = swept((24.9, 1.5), (28.4, 1.3))
    after = swept((24.9 * 1.05, 1.5), (28.4 * 1.05, 1.3))
    assert common_mhz(before, after) == pytest.approx((28.4, 28.4 * 1.05))
    assert common_mhz(after, before) == pytest.approx((28.4 * 1.05, 28.4))


def test_one_leg_of_a_fan_moves_alone():
    before = swept((24.9, 1.5), (28.4, 1.3))
    after = swept((24.9, 1.5), (28.4 * 0.95, 1.3))
    assert common_mhz(before, after) == pytest.approx((28.4, 28.4 * 0.95))


def test_a_ripple_of_the_line_is_not_the_dip():
    assert common_mhz(swept((7.1, 1.3)), swept((7.5, 1.3), (7.2, 4.0))) == pytest.approx((7.1, 7.5))


def test_sweeps_of_two_bands_share_no_dip():
    """15 m and 17 m are nearer than a dip may move; neither sweep covers the other's."""
    a, b = swept((18.1, 1.3), span=(17.5, 18.8)), swept((21.2, 1.3), span=(20.5, 22.0))
    assert common_mhz(a, b) is None
    wide = swept((18.1, 1.3), (21.2, 1.5))
    assert common_mhz(wide, b) == pytest.approx((21.2, 21.2))
    assert common_mhz(a, wide) == pytest.approx((18.1, 18.1))


def test_no_dip_and_no_common_plane():
    assert common_mhz(swept((7.1, 1.3), span=(0.0, 30.0)), swept((7.2, 1.3), span=(0.0, 30.0))) == (7.1, 7.2)
    assert common_mhz(swept((7.1, 1.3)), swept()) is None
    assert common_mhz(swept((7.1, 1.3)), swept((7.1, 1.3), plane="unknown")) is None


@pytest.mark.parametrize(("times", "apart"), [(0.9, False), (1.2, True), (100.0, True)])
def test_sweeps_of_one_setup_agree_within_joining_anew(times, apart):
    limit = trade_limit("dip_hz", "wire", "joined-anew")
    b = swept((7.1 * (1 - times * limit), 1.4))
    found = find_disagreement(swept((7.1, 1.4)), b, ("a.s1p", "b.s1p"), body="wire")
    assert (found is not None) == apart
    if found is not None:
        assert found.text.startswith("the dip of b.s1p is ")
        assert "below that of a.s1p" in found.text
        assert "more than joining anew explains" in found.text


def test_sweeps_that_share_no_dip_do_not_disagree():
    assert find_disagreement(swept((7.1, 1.4)), swept((14.1, 1.4)), ("a", "b"), body="wire") is None


def with_r(r_ohm, wide=0.02, plane="feedpoint"):
    """A dip at 7.1 MHz with its R and the half width of that, relative; no interval for 0."""
    r = Figure(r_ohm, r_ohm * (1 - wide), r_ohm * (1 + wide)) if wide else Figure(r_ohm)
    dip = DipSummary(Figure(7.1e6, 7.0995e6, 7.1005e6), Figure(1.4), r, NONE, NONE, NONE)
    return Summary({plane: (dip,)}, {}, 2e6, 30e6, 201, "signed", True, ())


@pytest.mark.parametrize(
    ("second_ohm", "wide", "apart"),
    [(62.0, 0.02, False), (74.6, 0.06, True), (46.0, 0.02, True), (74.6, 0.15, False), (74.6, 0.0, False)],
)
def test_a_dip_at_its_place_with_another_r_is_another_state(second_ohm, wide, apart):
    """A joint that became bad leaves the dip; what the intervals or joining anew explain is no difference."""
    found = find_disagreement(with_r(60.6, wide), with_r(second_ohm, wide), ("a", "b"), body="wire")
    assert (found is not None) == apart
    if found is not None:
        assert found.quantity == "r_ohm"
        way = "above" if second_ohm > 60.6 else "below"
        assert found.text.startswith(f"R at the dip of b is {abs(second_ohm - 60.6):.0f} ohm {way} that of a")
        assert "more than joining anew explains" in found.text
