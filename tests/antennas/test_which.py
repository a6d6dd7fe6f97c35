"""Which dip belongs to a length, and lengths that belong to none."""

import pytest

from sweepkit.antennas.catalogue import KINDS
from sweepkit.antennas.which import choose_dip, expected_hz
from sweepkit.errors import BadInput


def test_of_several_dips_it_is_the_one_that_kind_and_length_predict():
    assert choose_dip(KINDS["dipole"], 10.2, [21.8e6, 7.05e6, 14.1e6]).number == 1
    assert choose_dip(KINDS["end-fed"], 20.3, [14.4e6, 6.9e6, 21.7e6]).number == 1
    assert choose_dip(KINDS["loaded-whip"], 2.6, [7.1e6, 28.5e6]).number == 0


def test_a_sweep_that_shows_only_an_overtone_is_told_so():
    choice = choose_dip(KINDS["dipole"], 10.2, [21.8e6])
    assert choice.number is None
    assert choice.overtone == pytest.approx(3.09)


@pytest.mark.parametrize(
    ("kind", "length_m", "f_hz", "asks"),
    [
        ("dipole", 20.4, 7.05e6, r"is that the total\? give one leg, --length 10\.20 m"),
        ("dipole", 33.5, 7.05e6, r"is that feet\? write --length '33\.5 ft'"),
        ("dipole", 10.2 * 0.3048, 7.05e6, r"is that metres, not feet\? write --length '10\.2 m'"),
        ("loop", 10.7, 14.1e6, r"is that half of it\? give the whole loop wire"),
        ("vertical", 10.2, 14.1e6, r"is it another kind, such as an end-fed half wave"),
        ("dipole", 1.0, 7.05e6, r"a leg of 1\.00 m cannot belong to a dipole that dips at 7\.050 MHz"),
    ],
)
def test_a_length_that_belongs_to_no_dip_is_asked_about(kind, length_m, f_hz, asks):
    with pytest.raises(BadInput, match=asks):
        choose_dip(KINDS[kind], length_m, [f_hz])


def test_insulated_wire_and_the_second_pair_of_a_fan_pass():
    assert choose_dip(KINDS["dipole"], 10.2 * 0.95, [7.05e6]).number == 0
    assert choose_dip(KINDS["dipole"], 10.2 * 1.09, [7.05e6]).number == 0


def test_the_expected_dip_of_a_dipole_is_the_trades():
    # Common practice: half a wave is about 143/f metres, so a leg of 10.2 m dips near 7.0 MHz.
    assert expected_hz(KINDS["dipole"], 10.2) == pytest.approx(143 / 20.4 * 1e6, rel=0.02)
