"""``trim --antenna`` learns from the logbook, scores its past predictions and says how to keep the next one."""

from __future__ import annotations

import json
import shlex

import pytest

ASKED = ("--antenna", "mast", "--target", "14.15 MHz", "--by", "cut", "--draws", "100")
TOLD = ("--kind", "vertical", "--radials", "3", "--line", "RG-58 12 m", "--measured-at", "radio")


@pytest.fixture(scope="module")
def outing(run, samples, tmp_path_factory):
    """The vertical trimmed once, each time logged as trim says; with the path and the second file."""
    log = tmp_path_factory.mktemp("log") / "log.sqlite"
    facts = ("--set", "kind=vertical", "--set", "radials=3", "--set", "length=5.62 m")
    place = ("--antenna", "mast", "--site", "meadow", "--line", "RG-58 12 m", "--measured-at", "radio")
    first, second = samples / "meadow_vertical_1.s1p", samples / "meadow_vertical_2.s1p"
    added = run("log", "add", first, *place, *facts, "--when", "2026-05-02T09:00+00:00", "--log", log)
    assert added.returncode == 0, added.stderr
    trimmed = run("trim", first, *ASKED, "--log", log, "--json")
    assert trimmed.returncode == 0, trimmed.stderr
    command = trimmed.stderr.splitlines()[-1].partition("prediction: ")[2]
    words = shlex.split(command.replace("NEXT_FILE", shlex.quote(str(second))))[1:]
    words = [word.replace("now", "2026-05-02T10:00+00:00") if word == "now" else word for word in words]
    words = ["change=-22 cm" if word.startswith("change=") else word for word in words]  # what was done
    kept = run(*words)
    assert kept.stdout == "2\n", kept.stderr
    return log, first, second, json.loads(trimmed.stdout)


def test_the_command_it_tells_keeps_the_move_and_the_prediction(run, outing):
    log, _, _, predicted = outing
    (sweep,) = json.loads(run("log", "show", "2", "--log", log, "--json").stdout)["sweeps"]
    after = predicted["after_first_move_hz"]
    assert (sweep["by"], sweep["setup"]) == ("cut", "S1")
    assert sweep["length_m"] == pytest.approx(5.40)
    for name, end in (("predicted_hz", "value"), ("predicted_low_hz", "low"), ("predicted_high_hz", "high")):
        assert sweep[name] == pytest.approx(after[end], abs=50)


def test_a_sweep_that_is_not_logged_is_to_be_logged_first(run, outing):
    log, first, second, _ = outing
    alone = log.with_name("first only.sqlite")
    facts = ("--set", "kind=vertical", "--set", "length=5.62 m", "--line", "RG-58 12 m")
    when = ("--when", "2026-05-02T09:00+00:00")
    assert run("log", "add", first, "--antenna", "mast", *facts, *when, "--log", alone).returncode == 0
    said = run("trim", second, *ASKED, "--log", alone, "--json").stderr.splitlines()[-1]
    assert "--setup" not in said
    words = shlex.split(said.partition("prediction: ")[2])[1:]
    assert words == ["log", "add", str(second), "--antenna", "mast", "--when", "now", "--log", str(alone)]
    assert run(*words).stdout == "2\n"
    then = run("trim", second, *ASKED, "--log", alone, "--json").stderr.splitlines()[-1]
    assert "log add NEXT_FILE --setup S2" in then


def test_earlier_sweeps_of_the_setup_are_learned_from(run, outing):
    log, first, second, _ = outing
    from_log = json.loads(run("trim", second, *ASKED, "--log", log, "--json").stdout)
    told = ("--length", "5.40 m", "--earlier", f"cut:5.62 m={first}", *ASKED[2:])
    by_hand = json.loads(run("trim", second, *TOLD, *told, "--json").stdout)
    assert by_hand["learned_from"] == 1
    past = from_log.pop("past_predictions")
    assert from_log == by_hand
    assert [each["sweep"] for each in past] == [2]


def test_one_calibration_of_the_setup_sharpens_what_is_learned(run, outing, tmp_path):
    log, _, second, _ = outing
    told = tmp_path / "told.sqlite"
    told.write_bytes(log.read_bytes())
    assert run("log", "edit", "S1", "--set", "calibrated=meadow", "--log", told).returncode == 0
    widths = []
    for book in (log, told):
        answer = json.loads(run("trim", second, *ASKED, "--log", book, "--json").stdout)
        widths.append(answer["sensitivity_hz_per_m"]["high"] - answer["sensitivity_hz_per_m"]["low"])
    assert widths[1] < widths[0]


def test_past_predictions_are_scored_in_text_and_json(run, outing):
    log, _, second, _ = outing
    (past,) = json.loads(run("trim", second, *ASKED, "--log", log, "--json").stdout)["past_predictions"]
    assert past["off_hz"] == pytest.approx(past["dip_hz"]["value"] - past["predicted_hz"]["value"])
    low, high = past["predicted_hz"]["low"], past["predicted_hz"]["high"]
    assert past["inside"] is (low <= past["dip_hz"]["value"] <= high)
    text = " ".join(run("trim", second, *ASKED, "--log", log).stdout.split())
    inside = int(past["inside"])
    assert (
        f"1 past prediction for this antenna: off by {past['off_hz'] / 1e3:+.0f} kHz; {inside} of 1 inside"
        in text
    )


def test_what_else_was_changed_ends_the_past(run, outing, samples, tmp_path):
    log = tmp_path / "log.sqlite"
    log.write_bytes(outing[0].read_bytes())
    assert run("log", "edit", "2", "--set", "changed=radials moved", "--log", log).returncode == 0
    answer = json.loads(run("trim", outing[2], *ASKED, "--log", log, "--json").stdout)
    assert answer["learned_from"] == 0


def test_an_earlier_sweep_that_shows_no_dip_stops_nothing(run, outing, samples, tmp_path):
    log, third = tmp_path / "log.sqlite", samples / "meadow_vertical_3.s1p"
    log.write_bytes(outing[0].read_bytes())
    words = ("--setup", "S1", "--set", "by=cut", "--set", "change=-4 cm", "--log", log)
    flat = tmp_path / "flat.s1p"
    rows = "".join(f"{13 + step / 50:.2f} 0.5 0.0\n" for step in range(101))
    flat.write_text(f"# MHz S RI R 50\n{rows}", encoding="utf-8")
    bad = run("log", "add", flat, *words, "--when", "2026-05-02T11:00+00:00")
    assert bad.returncode == 0, bad.stderr
    words = ("--setup", "S1", "--set", "by=cut", "--set", "change=-5.5 cm", "--log", log)
    assert run("log", "add", third, *words, "--when", "2026-05-02T12:00+00:00").returncode == 0
    done = run("trim", third, *ASKED, "--log", log, "--json")
    assert done.returncode == 0, done.stderr
    assert "earlier sweeps of the logbook were left out (sweep 1, meadow_vertical_1.s1p;" in done.stderr
    assert json.loads(done.stdout)["learned_from"] == 0
    assert run("log", "edit", "3", "--set", "set-aside=no antenna", "--log", log).returncode == 0
    again = run("trim", third, *ASKED, "--log", log, "--json")
    assert json.loads(again.stdout)["learned_from"] == 2
    assert "earlier sweeps of this setup, from the logbook: sweep 1," in again.stderr


def test_the_length_to_begin_with_comes_from_its_own_sweeps(run, outing):
    log = outing[0]
    asked = ("trim", "--antenna", "mast", "--kind", "vertical", "--target", "10.1 MHz", "--start", "--json")
    own = json.loads(run(*asked, "--log", log).stdout)
    assert own["from"] == "this antenna's own 2 sweeps in the logbook"
    # 5.62 m dipped at 13.53 MHz, 5.40 m at 13.94 MHz
    assert own["length_m"]["value"] == pytest.approx(5.62 * 13.53 / 10.1, rel=0.01)
