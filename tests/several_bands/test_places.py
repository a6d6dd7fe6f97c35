"""What is asked of the places, and not guessed."""

import pytest

from sweepkit.errors import BadInput
from sweepkit.several_bands.places import parse_lengths_m, places_of


def test_places_of_all_sorts_stand_lowest_first_with_their_weights():
    places = places_of(
        bands=["20 m"],
        segments=["40 m cw=7000-7040 kHz"],
        targets=["21.2 MHz"],
        weights=["40 m cw=3"],
        region=2,
    )
    assert [(place.name, place.weight) for place in places] == [
        ("40 m cw", 3.0),
        ("20 m", 1.0),
        ("21.2 MHz", 1.0),
    ]
    assert (places[0].low_hz, places[0].high_hz, places[0].target_hz) == (7.0e6, 7.04e6, None)
    assert (places[2].low_hz, places[2].high_hz, places[2].target_hz) == (21.2e6, 21.2e6, 21.2e6)


def test_a_target_of_a_named_band_is_where_its_dip_is_to_go():
    (place,) = places_of(bands=["40 m"], targets=["40m=7.1 MHz"], region=1)
    assert (place.low_hz, place.high_hz, place.target_hz) == (7.0e6, 7.2e6, 7.1e6)


@pytest.mark.parametrize(
    ("told", "words"),
    [
        ({"bands": ["40 m", "40m"]}, "40 m is named twice"),
        ({"targets": ["7.1 MHz", "7.1 MHz"]}, "7.1 MHz is named twice"),
        ({"bands": ["40 m"], "weights": ["20 m=2"]}, "--weight is told for '20 m', which is not among"),
        ({"bands": ["40 m"], "weights": ["40 m=0"]}, "a number above 0"),
        ({"bands": ["40 m"], "weights": ["3"]}, "a place and its value were expected"),
        ({"bands": ["40 m"], "weights": ["40 m=2", "40 m=3"]}, "told twice for 40 m"),
        ({"bands": ["41 m"]}, "no band is called '41 m'"),
    ],
)
def test_what_cannot_be_is_asked(told, words):
    with pytest.raises(BadInput, match=words):
        places_of(**told, region=1)


def test_lengths_stand_by_place():
    assert parse_lengths_m(["40 m=10.61 m", "20 m=5.36 m"]) == {"40 m": 10.61, "20 m": 5.36}
    with pytest.raises(BadInput, match="told twice"):
        parse_lengths_m(["40 m=10.61 m", "40m=5.36 m"])
