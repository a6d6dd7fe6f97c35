"""Figures of logged sweeps: kept, given again, computed anew when what they depend on changed."""

from __future__ import annotations

import json

import pytest

from sweepkit.errors import BadInput, UnreadableFile
from sweepkit.logbook import (
    NewSetup,
    NewSweep,
    add_sweeps,
    edit_setup,
    edit_sweep,
    find_sweep,
    open_logbook,
    summaries,
    summary_of,
)
from sweepkit.logbook.computed import keep_figures
from sweepkit.logbook.past import past_states, score_predictions
from sweepkit.readers import read_sweep
from sweepkit.reviews import review, summarise

DIPOLE = "ridge_dipole_40m.s1p"
LONG = "ridge_dipole_40m_long.s1p"


@pytest.fixture
def kept(log, samples):
    facts = {"measured_at": "feedpoint", "length_m": 10.2, "when": "2026-05-02T09:00+02:00"}
    setup = NewSetup({"antenna": "ridge-dipole", "site": "ridge"})
    add_sweeps(log, [NewSweep(DIPOLE, (samples / DIPOLE).read_bytes(), facts)], setup=setup)
    return log


def count_reviews(monkeypatch):
    calls = []

    def counted(*args, **known):
        calls.append(known)
        return review(*args, **known)

    monkeypatch.setattr("sweepkit.reviews.review", counted)
    return calls


def test_they_are_those_of_the_review(kept, samples):
    expected = summarise(review(read_sweep(samples / DIPOLE), measured_at="feedpoint"))
    assert summary_of(kept, find_sweep(kept, 1)) == expected


def test_they_are_computed_once(kept, monkeypatch):
    calls = count_reviews(monkeypatch)
    first = summary_of(kept, find_sweep(kept, 1))
    assert summary_of(kept, find_sweep(kept, 1)) == first
    assert [summary for _, summary in summaries(kept)] == [first]
    assert len(calls) == 1


@pytest.mark.parametrize(
    "change",
    [
        lambda log: edit_setup(log, 1, {"line": ["RG-58 5 m"]}),
        lambda log: edit_sweep(log, 1, {"measured_at": "radio"}),
    ],
)
def test_an_edit_leaves_no_old_figure_standing(kept, change, monkeypatch):
    before = summary_of(kept, find_sweep(kept, 1))
    calls = count_reviews(monkeypatch)
    change(kept)
    after = summary_of(kept, find_sweep(kept, 1))
    assert len(calls) == 1
    assert set(after.planes) != set(before.planes)
    with kept.reading() as connection:
        assert connection.execute("SELECT count(*) FROM computed").fetchone()[0] == 1


def test_a_note_changes_no_figure(kept, monkeypatch):
    summary_of(kept, find_sweep(kept, 1))
    calls = count_reviews(monkeypatch)
    edit_setup(kept, 1, {"note": "rained later"})
    summary_of(kept, find_sweep(kept, 1))
    assert calls == []


def test_another_version_computes_anew(kept, monkeypatch):
    summary_of(kept, find_sweep(kept, 1))
    calls = count_reviews(monkeypatch)
    monkeypatch.setattr("sweepkit.logbook.computed.__version__", "99")
    summary_of(kept, find_sweep(kept, 1))
    assert len(calls) == 1


def test_a_sweep_that_cannot_be_reviewed_says_why_and_is_kept(log):
    one_point = b"# MHz S RI R 50\n7.1 0.1 0.2\n"
    add_sweeps(log, [NewSweep("one.s1p", one_point)], setup=NewSetup())
    with pytest.raises(BadInput, match="at least 2"):
        summary_of(log, find_sweep(log, 1))
    ((sweep, summary),) = summaries(log)
    assert (sweep.id, summary) == (1, None)


def test_damaged_figures_are_said_and_not_believed(kept):
    summary_of(kept, find_sweep(kept, 1))
    with kept.writing() as connection:
        connection.execute('UPDATE computed SET answer = \'{"schema": "sweepkit/summary/1"}\'')
    with pytest.raises(UnreadableFile, match="damaged"):
        summary_of(kept, find_sweep(kept, 1))


def test_figures_must_be_strict_json(kept):
    with pytest.raises(ValueError, match="JSON"):
        keep_figures(kept, {1: ("summary 0", {"swr": float("nan")})}, instead_of="summary")


def test_a_logbook_that_cannot_be_written_answers_all_the_same(kept, monkeypatch):
    def refuse(*args, **known):
        raise BadInput("read-only")

    monkeypatch.setattr("sweepkit.logbook.summarising.keep_figures", refuse)
    assert summary_of(kept, find_sweep(kept, 1)).planes["feedpoint"]


def test_log_add_keeps_them_and_log_show_shows_them(run, samples, tmp_path):
    log = tmp_path / "log.sqlite"
    run(
        "log",
        "add",
        samples / DIPOLE,
        "--antenna",
        "ridge-dipole",
        "--measured-at",
        "feedpoint",
        "--log",
        log,
    )
    with open_logbook(log) as opened, opened.reading() as connection:
        assert connection.execute("SELECT count(*) FROM computed").fetchone()[0] == 1
    shown = run("log", "show", "1", "--log", log).stdout
    dip = summarise(review(read_sweep(samples / DIPOLE), measured_at="feedpoint")).planes["feedpoint"][0]
    assert f"dip {dip.dip_hz.value / 1e6:.3f} (" in shown
    document = json.loads(run("log", "show", "1", "--log", log, "--json").stdout)
    assert document["sweeps"][0]["figures"]["planes"]["feedpoint"][0]["dip_hz"] == dip.dip_hz.to_json()


def trimming(log, samples):
    """Two sweeps of one setup, a fold between them that was predicted."""
    when = "2026-05-02T0{}:00+02:00"
    first = {"measured_at": "feedpoint", "length_m": 10.6, "when": when.format(8)}
    second = {
        "measured_at": "feedpoint",
        "length_m": 10.2,
        "when": when.format(9),
        "by": "fold",
        "change_m": -0.4,
    }
    second |= {"predicted_hz": 7.1e6, "predicted_low_hz": 7.09e6, "predicted_high_hz": 7.12e6}
    sweeps = [
        NewSweep(LONG, (samples / LONG).read_bytes(), first),
        NewSweep(DIPOLE, (samples / DIPOLE).read_bytes(), second),
    ]
    add_sweeps(log, sweeps, setup=NewSetup({"antenna": "ridge-dipole"}))


def test_earlier_sweeps_of_the_setup_come_with_how_they_led_on(log, samples):
    trimming(log, samples)
    present = find_sweep(log, 2)
    known = {"antenna": "ridge-dipole", "measured_at": "feedpoint"}
    (state,) = past_states(log, sha256=present.sha256, length_m=10.2, **known)
    assert (state.sweep.source.path, state.length_m, state.by) == (LONG, 10.6, "fold")
    assert past_states(log, sha256=find_sweep(log, 1).sha256, length_m=10.6, **known) == []
    assert (
        past_states(log, sha256=present.sha256, length_m=10.2, antenna="ridge-dipole", measured_at="radio")
        == []
    )


def test_predictions_are_scored_against_what_came(log, samples):
    trimming(log, samples)
    (scored,) = score_predictions(log, antenna="ridge-dipole")
    dip_hz = summary_of(log, find_sweep(log, 2)).planes["feedpoint"][0].dip_hz.value
    assert scored.dip_hz == dip_hz
    assert scored.is_inside == (7.09e6 <= dip_hz <= 7.12e6)
    assert score_predictions(log, antenna="another") == []


def test_trim_learns_from_the_logbook_and_says_how_it_did(run, samples, tmp_path):
    log = tmp_path / "log.sqlite"
    with open_logbook(log, create=True) as opened:
        trimming(opened, samples)
    told = (
        "--kind",
        "dipole",
        "--target",
        "7.15 MHz",
        "--antenna",
        "ridge-dipole",
        "--measured-at",
        "feedpoint",
    )
    done = run("trim", samples / DIPOLE, *told, "--log", log, "--json")
    answer = json.loads(done.stdout)
    by_hand = run(
        "trim", samples / DIPOLE, "--kind", "dipole", "--target", "7.15 MHz", "--measured-at", "feedpoint",
        "--length", "10.2 m", "--earlier", f"fold:10.6 m={samples / LONG}", "--json",
    )  # fmt: skip
    assert answer["change_m"] == json.loads(by_hand.stdout)["change_m"]
    (score,) = [finding for finding in answer["findings"] if finding["code"] == "past-predictions"]
    assert "1 past prediction" in score["text"]
    assert "--set 'predicted=" in done.stderr
