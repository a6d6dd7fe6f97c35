import pytest

from sweepkit.errors import BadInput
from sweepkit.facts import BY_KEY, BY_NAME, LOGGED, fact_of
from sweepkit.logbook.values import complaint_about, parse_value, value_text


@pytest.mark.parametrize(
    ("key", "written", "kept"),
    [
        ("antenna", " ridge dipole ", "ridge dipole"),
        ("ground", "Wet", "wet"),
        ("weather", "rain, Wind", ["rain", "wind"]),
        ("line", "RG-58 15 m", ["RG-58 15 m"]),
        ("line", ["jumper", "RG-58 15 m"], ["jumper", "RG-58 15 m"]),
        ("radials", "4", 4),
        ("radials", 4, 4),
        ("length", "33 ft 4 in", 10.16),
        ("change", "-9 cm", -0.09),
        ("predicted", "7100 kHz", 7.1e6),
        ("temperature", "50 F", 10.0),
        ("temperature", "-3.5 °C", -3.5),
        ("grid", "km72", "KM72"),
        ("grid", "km72LF", "KM72lf"),
        ("when", "2026-05-02T09:30+02:00", "2026-05-02T09:30:00+02:00"),
        ("when", "2026-05-02T09:30:12.5Z", "2026-05-02T09:30:12+00:00"),
        ("when", "2026-05-02", "2026-05-02"),
        ("ground", "unknown", None),
        ("length", "", None),
        ("lengths", "40 m=10.61 m, 20 m=5.36 m", "40 m=10.61 m, 20 m=5.36 m"),
        ("lengths", {"40 m": "10.61 m", "20 m": "17 ft 7 in"}, "40 m=10.61 m, 20 m=17 ft 7 in"),
    ],
)
def test_a_value_is_kept_in_si(key, written, kept):
    value = parse_value(fact_of(key), written)
    assert value == (pytest.approx(kept) if isinstance(kept, float) else kept)


@pytest.mark.parametrize(
    ("key", "written", "words"),
    [
        ("length", "10.2", "length: '10.2' has no unit"),
        ("length", 10.2, "length: '10.2' has no unit"),
        ("length", "-1 m", "length: -1.0 is not 0 to 10000 m"),
        ("length", "102 km", "not one of mm, cm, m"),
        ("change", "20000 m", "-10000 to 10000 m was expected; check the unit"),
        (
            "lengths",
            "40 m 10.61 m, 20 m 5.36 m",
            "lengths is '40 m 10.61 m'; a place and its value were expected",
        ),
        ("lengths", "40 m=10.61, 20 m=5.36", "lengths: '10.61' has no unit"),
        ("ground", "mud", "'mud' is not one of sea, wet"),
        ("weather", "rain, mud", "'mud' is not one of dry"),
        ("radials", "four", "'four' is not a count"),
        ("radials", True, "True is not a count"),
        ("radials", "2000", "2000 is not a whole number from 0 to 1000"),
        ("temperature", "12", "with its unit; write it like 12 C"),
        ("temperature", "200 C", "200.0 is not -90 to 80 C"),
        ("when", "2026-05-02T09:30", "has no zone"),
        ("when", "yesterday", "is not a date and time"),
        ("when", "2026-13-01", "is not a date and time"),
        ("grid", "KM7", "is not a locator"),
        ("grid", "ZZ99", "is not a locator"),
        ("note", "a\x1b[2Jb", "characters that are no text"),
        ("note", "x" * 10_001, "at most 10000 are kept"),
        ("line", [], "is not a list of 1 to 100"),
        ("measured_at", "tuner", "is not one of radio, feedpoint"),
    ],
)
def test_what_cannot_be_is_refused_with_the_way_to_write_it(key, written, words):
    with pytest.raises(BadInput) as error:
        parse_value(fact_of(key), written)
    assert words in str(error.value)
    assert str(error.value).startswith(f"{key}: ")


def test_an_unknown_word_is_refused_and_the_nearest_named_first():
    with pytest.raises(BadInput, match="no field 'grond'; one of these was expected: ground, "):
        fact_of("grond")


def test_a_dash_in_a_word_is_as_good_as_an_underscore():
    assert fact_of("radial-length").name == "radial_length_m"


def test_keys_and_names_are_each_used_once():
    assert len(BY_KEY) == len(BY_NAME) == len(LOGGED)


@pytest.mark.parametrize("value", [True, {}, [], "", float("nan"), [{}], -1e9, b"x", "\ud800"])
def test_kept_values_are_not_trusted(value):
    assert [field.key for field in LOGGED if not complaint_about(field, value)] == []


@pytest.mark.parametrize(
    ("key", "kept", "text"),
    [
        ("line", ["jumper", "RG-58 15 m"], "jumper + RG-58 15 m"),
        ("change", -0.09, "-9.0 cm"),
        ("coil", 11.3e-6, "11.3 uH"),
        ("transformer", 49.0, "49:1"),
        ("predicted", 7.1e6, "7.100 MHz"),
        ("temperature", 12.0, "12 C"),
        ("ground", None, "unknown"),
    ],
)
def test_values_for_people(key, kept, text):
    assert value_text(fact_of(key), kept) == text
