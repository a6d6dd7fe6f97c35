import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from log_files import every_setup, put_setup, s1p

from sweepkit.errors import BadInput
from sweepkit.logbook import edit_sweep, find_setup, find_sweep, list_sweeps, open_logbook
from sweepkit.logbook.adding import NewSetup, NewSweep, add_sweeps
from sweepkit.logbook.computed import raw_bytes
from sweepkit.logbook.reading import read_logged_sweep


def test_what_went_in_comes_out(filled):
    sweep = find_sweep(filled, 1)
    assert (sweep.name, sweep.facts, sweep.setup.id) == ("wide.s1p", {"length_m": 10.2}, "S1")
    assert sweep.setup.facts == {"antenna": "ridge", "site": "hill", "ground": "dry"}
    assert raw_bytes(filled, sweep) == s1p(1)


@settings(max_examples=25, deadline=None)
@given(data=st.binary(min_size=1, max_size=5000))
def test_any_bytes_come_out_as_they_went_in(tmp_path_factory, data):
    with open_logbook(tmp_path_factory.mktemp("log") / "l.sqlite", create=True) as log:
        (added,) = add_sweeps(log, [NewSweep("x", data)], setup=NewSetup())
        assert raw_bytes(log, find_sweep(log, added.id)) == data


def test_the_same_file_twice_is_noticed(filled):
    (again,) = add_sweeps(filled, [NewSweep("copy.s1p", s1p(2))], setup=NewSetup({"antenna": "ridge"}))
    assert (again.id, again.setup, again.new, again.differs) == (2, "S1", False, ())
    assert len(list_sweeps(filled)) == 3
    assert len(every_setup(filled)) == 2


def test_the_same_file_twice_in_one_go_is_noticed(log):
    first, second = add_sweeps(log, [NewSweep("a", s1p(1)), NewSweep("b", s1p(1))], setup=NewSetup())
    assert (first.new, second.new, second.id) == (True, False, first.id)


def test_a_fact_stated_differently_for_a_file_that_is_there_is_not_swallowed(filled):
    setup = NewSetup({"antenna": "ridge", "ground": "wet"})
    (again,) = add_sweeps(filled, [NewSweep("wide.s1p", s1p(1), {"length_m": 10.3})], setup=setup)
    assert again.differs == ("length_m", "ground")
    assert find_sweep(filled, 1).facts["length_m"] == 10.2


def test_sweeps_are_added_to_a_setup_that_stands(filled):
    (added,) = add_sweeps(filled, [NewSweep("later.s1p", s1p(4))], setup=1)
    setup, sweeps = find_setup(filled, 1)
    assert (added.setup, setup.id) == ("S1", "S1")
    assert [sweep.id for sweep in sweeps] == [1, 2, 4]


def test_a_setup_that_is_not_there_takes_nothing(filled):
    with pytest.raises(BadInput, match="there is no setup S7"):
        add_sweeps(filled, [NewSweep("later.s1p", s1p(4))], setup=7)
    assert len(list_sweeps(filled)) == 3


def test_a_setup_may_be_there_before_its_sweeps(log):
    number = put_setup(log, NewSetup({"antenna": "ridge"}))
    assert find_setup(log, number)[1] == []


def test_unknown_is_not_there_and_beats_what_was_taken_over(log):
    setup = NewSetup({"ground": None}, {"ground": "dry", "radials": 4})
    add_sweeps(log, [NewSweep("a", s1p(1))], setup=setup)
    kept = find_sweep(log, 1).setup
    assert dict(kept.facts) == {"radials": 4}
    assert kept.taken_over == ("radials",)


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        ({"ground": "mud"}, "ground: 'mud' is not one of"),
        ({"length_m": 1.0}, "is no field of a setup"),
        ({"colour": "red"}, "is no field of a setup"),
        ({"radials": float("nan")}, "radials: nan is not a whole number"),
    ],
)
def test_facts_that_cannot_be_are_refused(log, facts, words):
    with pytest.raises(BadInput, match=words):
        add_sweeps(log, [NewSweep("a", s1p(1))], setup=NewSetup(facts))
    assert list_sweeps(log) == []


def test_sweeps_are_listed_by_the_time_they_were_swept(log):
    times = ("2026-05-02T09:30:00+02:00", "2026-05-02T08:00:00+00:00", "2026-05-02")
    for number, when in enumerate(times):
        add_sweeps(log, [NewSweep("a", s1p(number), {"when": when})], setup=NewSetup())
    add_sweeps(log, [NewSweep("time unknown, so after the others", s1p(9))], setup=NewSetup())
    assert [sweep.id for sweep in list_sweeps(log)] == [3, 1, 2, 4]


def test_sweeps_of_an_antenna_or_a_site(filled):
    assert [sweep.id for sweep in list_sweeps(filled, antenna="ridge")] == [1, 2]
    assert [sweep.id for sweep in list_sweeps(filled, site="beach")] == [3]
    assert list_sweeps(filled, antenna="ridge", site="beach") == []


def test_a_logged_sweep_is_a_sweep_again(filled):
    edit_sweep(filled, 1, {"measured_at": "feedpoint"})
    sweep = read_logged_sweep(filled, find_sweep(filled, 1))
    assert (sweep.measured_at, sweep.source.path, sweep.f_hz.size) == ("feedpoint", "wide.s1p", 11)
    assert sweep.source.sha256 == find_sweep(filled, 1).sha256


def test_a_logged_sweep_is_read_with_its_hints(log):
    text = b"freq,r,x\n" + b"".join(b"%.2f,50,%d\n" % (7 + k / 100, k) for k in range(5))
    add_sweeps(log, [NewSweep("t.csv", text, hints={"unit": "MHz", "columns": "f,r,x"})], setup=NewSetup())
    assert find_sweep(log, 1).hints == {"unit": "MHz", "columns": "f,r,x"}
