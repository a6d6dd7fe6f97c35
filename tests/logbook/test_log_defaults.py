import pytest
from log_files import put_setup, s1p

from sweepkit.logbook import find_last
from sweepkit.logbook.adding import NewSetup, NewSweep, add_sweeps
from sweepkit.logbook.defaults import setup_defaults, sweep_defaults

SETUP = {
    "antenna": "ridge", "site": "hill", "line": ["RG-58 15 m"], "radials": 4, "ground": "rock",
    "feed_height_m": 6.0,
    "weather": ["rain"], "note": "first", "grid": "KM72",
}  # fmt: skip


def test_an_antenna_never_seen_has_no_last_setup(filled):
    assert find_last(filled, antenna="loop") is None


def test_the_last_setup_is_the_one_swept_last_not_the_one_added_last(log):
    for number, when in enumerate(("2026-06-01", "2026-05-01")):
        sweep = NewSweep("a", s1p(number), {"when": when})
        add_sweeps(log, [sweep], setup=NewSetup({"antenna": "ridge", "note": when}))
    assert find_last(log, antenna="ridge").setup.facts["note"] == "2026-06-01"


def test_a_setup_without_sweeps_is_a_last_setup_too(log):
    put_setup(log, NewSetup(SETUP))
    last = find_last(log, antenna="ridge")
    assert (last.setup.id, last.sweep) == ("S1", None)


def test_at_another_site_only_the_antennas_own_facts_are_taken_over(log):
    add_sweeps(log, [NewSweep("a", s1p(1))], setup=NewSetup(SETUP))
    last = find_last(log, antenna="ridge")
    assert setup_defaults(last, site="beach") == {"line": ["RG-58 15 m"], "radials": 4}
    assert setup_defaults(last, site=None) == {"line": ["RG-58 15 m"], "radials": 4}


def test_at_the_same_site_the_facts_of_the_place_are_taken_over_but_never_the_weather(log):
    add_sweeps(log, [NewSweep("a", s1p(1))], setup=NewSetup(SETUP))
    taken = setup_defaults(find_last(log, antenna="ridge"), site="hill")
    assert set(taken) == {"line", "radials", "ground", "feed_height_m", "grid"}


BEFORE = {"length_m": 10.2, "measured_at": "radio", "tail_m": 0.05, "when": "2026-05-01", "change_m": -0.3}


# A fold of 9 cm ends the wire 9 cm nearer and its tail is 9 cm longer: exact, by the meaning of the words.
@pytest.mark.identity
@pytest.mark.parametrize(
    ("stated", "length_m", "tail_m"),
    [
        ({}, 10.2, 0.05),
        ({"by": "fold", "change_m": -0.09}, 10.11, 0.14),
        ({"by": "fold", "change_m": 0.05}, 10.25, 0.0),
        ({"by": "slide", "change_m": -0.1}, 10.1, 0.05),
        ({"by": "cut", "change_m": -0.1}, 10.1, None),
        ({"change_m": -0.1}, 10.1, None),
        ({"change_m": -11.0}, None, None),
    ],
)
def test_a_change_gives_the_next_length(stated, length_m, tail_m):
    carried = sweep_defaults(BEFORE, stated)
    assert carried.get("length_m") == length_m
    assert carried.get("tail_m") == tail_m
    assert carried["measured_at"] == "radio"
    assert "when" not in carried
    assert "change_m" not in carried


def test_a_change_of_an_unknown_length_gives_no_length():
    assert "length_m" not in sweep_defaults({"measured_at": "radio"}, {"change_m": 0.1})
