"""The one dip of an antenna that its sweeps are held to."""

import pytest

from sweepkit.antennas.usual_dip import find_usual_dip

SEVERAL = [(7.00e6, 1.3), (13.8e6, 1.2), (7.05e6, 1.2), (13.9e6, 1.3), (7.10e6, 1.1)]


def test_it_is_the_middle_one_of_the_dips_that_most_sweeps_show():
    assert SEVERAL[find_usual_dip(SEVERAL)][0] == 7.05e6


def test_of_dips_that_as_many_show_it_is_the_deeper_whichever_comes_first():
    shallow, deep = [(7.0e6, 1.5), (7.1e6, 1.9)], [(14.0e6, 1.2), (14.1e6, 1.4)]
    assert find_usual_dip(shallow + deep) in (2, 3)
    assert find_usual_dip(deep + shallow) in (0, 1)


def test_a_dip_whose_swr_is_not_known_gives_way_and_without_dips_there_is_none():
    assert find_usual_dip([(7.0e6, None), (14.0e6, 5.0)]) == 1
    assert find_usual_dip([]) is None


@pytest.mark.parametrize("shift", [0.9, 1.1])
def test_it_is_the_same_on_another_scale(shift):
    assert find_usual_dip([(f_hz * shift, swr) for f_hz, swr in SEVERAL]) == find_usual_dip(SEVERAL)
