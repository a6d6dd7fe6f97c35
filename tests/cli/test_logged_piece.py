"""``feedline --piece``: a piece of line against its own record in the logbook."""

from __future__ import annotations

import json

import numpy as np
import pytest

from sweepkit.feedline.loss_check import OwnRecord, check_against_record, loss_excess_over_record_db
from sweepkit.feedline.measure import measure_line
from sweepkit.feedline.told import Told
from sweepkit.readers import read_sweep

SPOOL = ("spool_open.s1p", "spool_short.s1p")
FEW = ("--draws", "100", "--json")


@pytest.fixture(scope="module")
def log(run, samples, tmp_path_factory):
    """A logbook with the record of the spool."""
    path = tmp_path_factory.mktemp("log") / "log.sqlite"
    files = [samples / name for name in SPOOL]
    done = run("log", "add", *files, "--set", "piece=spool", "--when", "2026-05-02", "--log", path)
    assert done.stdout == "1\n2\n"
    assert done.stderr.splitlines() == [f"sweepkit: note: made the logbook {path}"]
    return path


@pytest.fixture(scope="module")
def measured(samples):
    def measure(name, end):
        return measure_line([(read_sweep(samples / name), end)], Told(), draws=100)

    return {name: measure(name, name.split("_")[-1].split(".")[0]) for name in (*SPOOL, "wet_line_open.s1p")}


def test_a_wet_line_is_told_by_its_own_record(run, samples, log):
    words = ("--end", "open", "--piece", "spool", "--log", log)
    done = run("feedline", samples / "wet_line_open.s1p", *words, *FEW)
    assert done.returncode == 0, done.stderr
    answer = json.loads(done.stdout)
    compared = answer["compared_with"]
    assert (compared["type"], compared["record"]) == ("spool", {"sweeps": [1, 2], "when": "2026-05-02"})
    excess = compared["loss_excess_db"]
    assert 0.1 < excess["low"] <= excess["value"] <= excess["high"]
    assert "line-loss" in [finding["code"] for finding in answer["findings"]]
    text = run("feedline", samples / "wet_line_open.s1p", *words, "--draws", "100").stdout
    flat = " ".join(text.split())
    assert "loss over its own record, 2026-05-02, " in flat
    assert f"MHz {excess['value']:+.2f} dB (" in flat


def test_the_files_of_the_record_are_not_compared_with_themselves(run, samples, log):
    done = run("feedline", samples / SPOOL[0], "--end", "open", "--piece", "spool", "--log", log, *FEW)
    assert json.loads(done.stdout)["compared_with"] is None
    assert "no earlier sweep of 'spool'" in done.stderr
    assert "log add FILE --set piece='spool'" in done.stderr


def test_a_piece_that_is_logged_is_reviewed_as_no_antenna(run, log):
    assert (
        "no figures: a piece of line by itself is no antenna" in run("log", "show", "1", "--log", log).stdout
    )


def test_open_and_short_of_the_same_day_agree(measured):
    record = OwnRecord("spool", (1,), None, measured["spool_short.s1p"])
    excess = loss_excess_over_record_db(measured["spool_open.s1p"], record)
    assert excess.low < 0 < excess.high
    assert check_against_record(measured["spool_open.s1p"], record) == []


def test_the_excess_is_the_difference_of_both_losses(measured):
    now, then = measured["wet_line_open.s1p"], measured["spool_open.s1p"]
    excess = loss_excess_over_record_db(now, OwnRecord("spool", (1,), None, then))
    at = np.array([30e6]) if 30e6 in now.loss_hz else now.loss_hz[now.loss_hz <= 30e6][-1:]
    assert excess.value == pytest.approx(float(now.draws.loss_db(at)[0, 0] - then.draws.loss_db(at)[0, 0]))


def test_a_piece_of_another_length_is_not_compared_but_told(samples, measured):
    broken = measure_line([(read_sweep(samples / "broken_line.s1p"), "open")], Told(), draws=100)
    record = OwnRecord("spool", (1,), None, measured["spool_open.s1p"])
    assert "another length" in loss_excess_over_record_db(broken, record).reason
    (finding,) = check_against_record(broken, record)
    assert (finding.code, finding.level) == ("length-contradicts-delay", "stop")
    assert finding.next_step.startswith("radio off and disconnected")
