"""Figures of logged sweeps: reviewed under what the logbook says, kept, reviewed anew when that changed."""

import json
import subprocess
import sys
from pathlib import Path

import pytest
from log_files import alter, s1p

from sweepkit.errors import BadInput, UnreadableFile
from sweepkit.logbook import (
    check_logbook,
    edit_setup,
    edit_sweep,
    find_sweep,
    list_lines,
    open_logbook,
    refresh_figures,
    reviewed,
    summary_of,
)
from sweepkit.logbook.adding import NewSetup, NewSweep, add_sweeps
from sweepkit.logbook.computed import keep_figures
from sweepkit.logbook.digests import digest_sql
from sweepkit.logbook.reviewed import summaries
from sweepkit.readers import read_sweep
from sweepkit.reviews import review, summarise

SAMPLES = Path(__file__).resolve().parents[2] / "sample_sweeps"
RIDGE = SAMPLES / "ridge_dipole_40m.s1p"
pytestmark = pytest.mark.usefixtures("each_review_once")


@pytest.fixture
def ridge(log):
    """A dipole with its line, measured at the radio."""
    setup = NewSetup({"antenna": "ridge", "site": "hill", "line": ["RG-58 15 m"]})
    add_sweeps(log, [NewSweep(RIDGE.name, RIDGE.read_bytes(), {"measured_at": "radio"})], setup=setup)
    return log


@pytest.fixture
def reviews(monkeypatch):
    """Numbers of the sweeps that were reviewed, while the reviews go on as ever."""
    done = []
    as_ever = reviewed._review

    def counted(log, sweep, hearing):
        done.append(sweep.id)
        return as_ever(log, sweep, hearing)

    monkeypatch.setattr(reviewed, "_review", counted)
    return done


def assert_same(one, other):
    """Equal texts, and numbers to 1e-12: where numpy puts an array in memory may move a last digit."""
    if isinstance(other, dict):
        assert one.keys() == other.keys()
        for name in other:
            assert_same(one[name], other[name])
    elif isinstance(other, list):
        assert len(one) == len(other)
        for left, right in zip(one, other, strict=True):
            assert_same(left, right)
    else:
        assert one == (pytest.approx(other, rel=1e-12, abs=0) if isinstance(other, float) else other)


def as_if_of_another_version(monkeypatch):
    monkeypatch.setattr("sweepkit.logbook.computed.__version__", "99")


def test_the_figures_are_those_of_a_review_under_what_the_logbook_says(ridge):
    expected = summarise(review(read_sweep(RIDGE), lines=["RG-58 15 m"], measured_at="radio"))
    assert_same(summary_of(ridge, find_sweep(ridge, 1)).to_json(), expected.to_json())
    assert expected.planes["feedpoint"][0].dip_hz.value is not None


def test_figures_are_reviewed_once_and_read_back_the_same(ridge, reviews):
    first = summary_of(ridge, find_sweep(ridge, 1))
    assert summary_of(ridge, find_sweep(ridge, 1)) == first
    assert [(sweep.id, figures) for sweep, figures in summaries(ridge)] == [(1, first)]
    assert reviews == [1]


@pytest.mark.parametrize(
    "change",
    [
        lambda log: edit_sweep(log, 1, {"measured_at": "feedpoint"}),
        lambda log: edit_setup(log, 1, {"line": ["RG-58 10 m"]}),
    ],
)
def test_what_the_figures_depend_on_makes_them_new(ridge, reviews, change):
    before = summary_of(ridge, find_sweep(ridge, 1))
    change(ridge)
    assert list_lines(ridge)[0].dip_hz is None
    assert summary_of(ridge, find_sweep(ridge, 1)) != before
    assert reviews == [1, 1]


def test_another_version_reviews_anew_and_older_figures_go(ridge, reviews, monkeypatch):
    summary_of(ridge, find_sweep(ridge, 1))
    as_if_of_another_version(monkeypatch)
    summary_of(ridge, find_sweep(ridge, 1))
    assert reviews == [1, 1]
    with ridge.reading() as connection:
        rows = connection.execute("SELECT version, what FROM computed").fetchall()
    assert [(version, what.split()[0]) for version, what in rows] == [("99", "dip"), ("99", "summary")]


def test_what_has_no_part_in_the_figures_leaves_them_alone(ridge, reviews):
    summary_of(ridge, find_sweep(ridge, 1))
    edit_sweep(ridge, 1, {"length_m": 10.1, "sweep_note": "rain"})
    edit_setup(ridge, 1, {"ground": "wet"})
    summary_of(ridge, find_sweep(ridge, 1))
    assert reviews == [1]


def test_a_kit_that_was_kept_gives_the_named_line(log):
    kit = b'[lines.spool]\ntype = "RG-58"\nlength = "15 m"\n'
    named, spelled = NewSetup({"line": ["spool"]}, kit=kit), NewSetup({"line": ["RG-58 15 m"]})
    add_sweeps(log, [NewSweep("a.s1p", RIDGE.read_bytes(), {"measured_at": "radio"})], setup=named)
    data = b"! again\n" + RIDGE.read_bytes()
    add_sweeps(log, [NewSweep("b.s1p", data, {"measured_at": "radio"})], setup=spelled)
    one, other = (figures for _, figures in summaries(log))
    assert one is not None
    assert_same(one.to_json(), other.to_json())


def test_a_sweep_that_cannot_be_reviewed_is_told_and_stops_no_other(ridge, reviews):
    data = b"! again\n" + RIDGE.read_bytes()
    add_sweeps(ridge, [NewSweep("b.s1p", data)], setup=NewSetup({"line": ["no such line"]}))
    assert [figures is None for _, figures in summaries(ridge)] == [False, True]
    with pytest.raises(BadInput, match="not in the kit") as told:
        summary_of(ridge, find_sweep(ridge, 2))
    assert "b.s1p" in told.value.path
    assert reviews == [1, 2]  # why it cannot be is kept too


def test_sweeps_of_an_antenna_in_the_order_swept(log):
    for number, when in enumerate(("2026-05-03", "2026-05-02", "2026-05-04")):
        setup = NewSetup({"antenna": "whip" if number == 2 else "ridge", "site": "hill"})
        add_sweeps(log, [NewSweep("a.s1p", s1p(number), {"when": when})], setup=setup)
    assert [sweep.id for sweep, _ in summaries(log)] == [2, 1, 3]
    assert [sweep.id for sweep, _ in summaries(log, antenna="ridge")] == [2, 1]
    assert [sweep.id for sweep, _ in summaries(log, antenna="ridge", site="valley")] == []


def test_few_at_a_time_gives_the_same(log, monkeypatch):
    add_sweeps(log, [NewSweep(f"{n}.s1p", s1p(n)) for n in range(5)], setup=NewSetup())
    at_once = list(summaries(log))
    monkeypatch.setattr(reviewed, "SWEEPS_AT_A_TIME", 2)
    assert list(summaries(log)) == at_once
    assert len(at_once) == 5


def test_figures_of_all_sweeps_are_made_at_once_and_only_where_they_are_missing(ridge, reviews, monkeypatch):
    data = b"! again\n" + RIDGE.read_bytes()
    add_sweeps(
        ridge, [NewSweep("b.s1p", data)], setup=NewSetup({"line": ["no such line"], "antenna": "whip"})
    )
    summary_of(ridge, find_sweep(ridge, 1))
    total, answers = refresh_figures(ridge)
    done = list(answers)
    assert total == 2
    assert [(one.sweep.id, one.is_new) for one in done] == [(1, False), (2, True)]
    assert done[0].reason is None
    assert "not in the kit" in done[1].reason
    assert [one.is_new for one in refresh_figures(ridge)[1]] == [False, False]
    as_if_of_another_version(monkeypatch)
    assert [(one.sweep.id, one.is_new) for one in refresh_figures(ridge, antenna="whip")[1]] == [(2, True)]
    assert reviews == [1, 2, 2]


def test_figures_that_cannot_be_kept_are_an_error_where_keeping_them_is_all_that_was_asked(
    ridge, monkeypatch
):
    def full(*_):
        raise BadInput("the disk is full")

    monkeypatch.setattr(reviewed, "keep_figures", full)
    with pytest.raises(BadInput, match="full"):
        list(refresh_figures(ridge)[1])


def test_the_logbook_can_be_edited_while_the_figures_come(ridge):
    for sweep, figures in summaries(ridge):
        edit_sweep(ridge, sweep.id, {"sweep_note": "seen"})
        assert figures is not None
    assert find_sweep(ridge, 1).facts["sweep_note"] == "seen"


def test_a_dip_is_listed_where_it_was_kept(ridge):
    assert list_lines(ridge)[0].dip_hz is None
    figures = summary_of(ridge, find_sweep(ridge, 1))
    assert list_lines(ridge)[0].dip_hz == figures.planes["feedpoint"][0].dip_hz.value


def test_a_logbook_that_cannot_be_written_answers_all_the_same(ridge, monkeypatch):
    def full(*_):
        raise BadInput("the disk is full")

    monkeypatch.setattr(reviewed, "keep_figures", full)
    assert summary_of(ridge, find_sweep(ridge, 1)).points == read_sweep(RIDGE).f_hz.size
    assert list_lines(ridge)[0].dip_hz is None


@pytest.mark.parametrize("answer", ["no JSON", "[]", '{"schema": "sweepkit/summary/1"}'])
@pytest.mark.parametrize("signed", [False, True])
def test_figures_that_were_altered_are_computed_again(ridge, path, answer, signed):
    whole = summary_of(ridge, find_sweep(ridge, 1))
    alter(path, f"UPDATE computed SET answer = '{answer}'")
    if signed:
        alter(path, f"UPDATE computed SET digest = {digest_sql('computed')}")
    assert_same(summary_of(ridge, find_sweep(ridge, 1)).to_json(), whole.to_json())
    if not signed:  # and kept, so that the logbook is whole again
        assert check_logbook(ridge).problems == ()


def test_figures_of_a_damaged_sweep_are_an_error_and_not_kept(ridge, path):
    alter(path, "DROP TRIGGER raw_is_fixed", "UPDATE raw SET packed = x'00'")
    with pytest.raises(UnreadableFile, match="what its hash says"):
        summary_of(ridge, find_sweep(ridge, 1))


def test_figures_must_be_strict_json(filled):
    with pytest.raises(ValueError, match="JSON"):
        keep_figures(filled, {1: {"review": {"swr": float("nan")}}})


def test_only_figures_of_the_same_kind_make_room(filled):
    keep_figures(filled, {1: {"dip a": {"x": 1}, "dips a": {"x": 2}}})
    keep_figures(filled, {1: {"dip b": {"x": 3}}})
    with filled.reading() as connection:
        rows = connection.execute("SELECT what FROM computed ORDER BY what").fetchall()
    assert [what for (what,) in rows] == ["dip b", "dips a"]


def test_opening_and_listing_load_no_numpy(ridge, path):
    summary_of(ridge, find_sweep(ridge, 1))
    code = (
        "import sys, json; from sweepkit.logbook import *; log = open_logbook(sys.argv[1]);"
        "lines = list_lines(log); print(json.dumps([lines[0].dip_hz is None, 'numpy' in sys.modules]))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(path)], capture_output=True, text=True, check=True, timeout=60
    )
    assert json.loads(done.stdout) == [False, False]


def test_a_logbook_opened_again_has_its_figures(ridge, path, reviews):
    first = summary_of(ridge, find_sweep(ridge, 1))
    with open_logbook(path) as again:
        assert summary_of(again, find_sweep(again, 1)) == first
    assert reviews == [1]
