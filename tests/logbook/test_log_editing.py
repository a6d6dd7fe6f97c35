import pytest
from log_files import put_setup

from sweepkit.errors import BadInput
from sweepkit.logbook import edit_setup, edit_sweep, find_setup, find_sweep, read_history
from sweepkit.logbook.adding import NewSetup


def test_what_stood_there_before_is_kept(filled):
    edit_sweep(filled, 1, {"length_m": 10.1})
    edit_sweep(filled, 1, {"length_m": None})
    assert "length_m" not in find_sweep(filled, 1).facts
    history = read_history(filled, sweep=find_sweep(filled, 1))
    assert [(edit.of, edit.name, edit.old, edit.new) for edit in history] == [
        ("1", "length_m", 10.2, 10.1),
        ("1", "length_m", 10.1, None),
    ]


def test_a_fact_of_the_setup_changes_for_all_its_sweeps(filled):
    (edit,) = edit_sweep(filled, 1, {"ground": "wet"})
    assert (edit.of, edit.old, edit.new) == ("S1", "dry", "wet")
    assert find_sweep(filled, 2).setup.facts["ground"] == "wet"


def test_the_antenna_can_be_corrected(filled):
    edit_setup(filled, 1, {"antenna": "hedge"})
    assert find_setup(filled, 1)[0].facts["antenna"] == "hedge"


def test_saying_the_same_again_is_no_edit(filled):
    assert edit_sweep(filled, 1, {"length_m": 10.2}) == []
    assert read_history(filled) == []


def test_stating_what_was_only_taken_over_makes_it_stated(log):
    number = put_setup(log, NewSetup({}, {"radials": 4, "line": ["RG-58 15 m"]}))
    (edit,) = edit_setup(log, number, {"radials": 4})
    assert (edit.old, edit.new) == (4, 4)
    assert find_setup(log, number)[0].taken_over == ("line",)


def test_a_sweep_can_be_moved_to_its_true_setup(filled):
    (edit,) = edit_sweep(filled, 2, {}, to_setup=2)
    assert (edit.old, edit.new) == ("S1", "S2")
    assert find_sweep(filled, 2).setup.id == "S2"
    assert [(edit.old, edit.new) for edit in read_history(filled)] == [("S1", "S2")]
    assert edit_sweep(filled, 2, {}, to_setup=2) == []


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        ({"ground": "mud"}, "is not one of"),
        ({"colour": "red"}, "'colour' is no field"),
        ({"length_m": -1.0}, "is not 0 to 10000 m"),
    ],
)
def test_an_edit_that_cannot_be_changes_nothing(filled, facts, words):
    with pytest.raises(BadInput, match=words):
        edit_sweep(filled, 1, {"site": "moor", **facts})
    assert find_sweep(filled, 1).setup.facts["site"] == "hill"


def test_a_fact_of_one_sweep_is_no_edit_of_a_setup(filled):
    with pytest.raises(BadInput, match="length_m belongs to one sweep"):
        edit_setup(filled, 1, {"length_m": 10.0})


def test_what_is_not_there_cannot_be_edited(filled):
    with pytest.raises(BadInput, match="there is no sweep 77"):
        edit_sweep(filled, 77, {"ground": "wet"})
    with pytest.raises(BadInput, match="there is no setup S77"):
        edit_sweep(filled, 1, {}, to_setup=77)
