"""``sweepkit diagnose`` as a user runs it, and its page."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from sweepkit.diagnosis.answer import Diagnosis, Hypothesis, Outcome
from sweepkit.readers import read_sweep
from sweepkit.records.beside import read_beside
from sweepkit.report.diagnose_page import diagnose_page
from sweepkit.report.page_text import page_text

ROOT = Path(__file__).resolve().parents[2]
PAGE = ROOT / "docs" / "diagnose.md"
KEYS = ["schema", "changed", "false_alarm_rate", "hypotheses", "nothing_wrong", "cannot_say"]
pytestmark = pytest.mark.usefixtures("each_review_once")
CAUSE = {"code", "weight", "evidence_for", "evidence_against", "next_step", "test"}


def test_json_has_what_was_promised(run):
    done = run(
        "diagnose",
        "sample_sweeps/meadow_vertical_1.s1p",
        "sample_sweeps/meadow_vertical_2.s1p",
        *("--kind", "vertical", "--line", "RG-58 12 m", "--changed", "cut the frobnitz", "--json"),
        cwd=ROOT,
    )
    assert done.returncode == 0, done.stderr
    assert "not understood: frobnitz" in done.stderr
    answer = json.loads(done.stdout)
    assert list(answer) == KEYS
    assert (answer["schema"], answer["changed"]) == ("sweepkit/diagnosis/1", "yes")
    assert 0 < answer["false_alarm_rate"] < 0.1
    assert answer["cannot_say"] is None
    assert len(answer["hypotheses"]) >= 2
    assert answer["hypotheses"][0]["code"] == "length-changed"
    for cause in answer["hypotheses"]:
        assert CAUSE <= set(cause) <= CAUSE | {"distance_m"}
        assert 0 <= cause["weight"] <= 1
        assert cause["next_step"].startswith("radio off and disconnected")


def test_a_file_that_is_not_there_exits_2(run):
    done = run("diagnose", "nowhere.s1p")
    assert done.returncode == 2
    assert done.stderr.startswith("sweepkit: nowhere.s1p: ")


@pytest.mark.parametrize("changed", ["yes", "no", "cannot_say"])
def test_the_first_screen_is_small(changed):
    causes = (
        ()
        if changed == "no"
        else tuple(
            Hypothesis(code, weight, ("a",), ("b",), "radio off and disconnected: c", "wiggled")
            for code, weight in (("common-mode", 0.4), ("wrong-impedance-piece", 0.3), ("hot-drift", 0.3))
        )
    )
    missing = "a thing" if changed == "cannot_say" else None
    page = diagnose_page(Diagnosis(changed, 0.01, causes, 1.0 - bool(causes), missing), [])
    assert len(page_text(page, width=72).splitlines()) <= 12
    text = page_text(page, width=40)
    first = text.splitlines()
    assert any("TEST: " in line for line in first) == (changed == "yes")
    assert ("MISSING" in text) == (changed == "cannot_say")
    assert all(len(line) <= 40 for line in first)
    assert first[0].startswith(
        {"yes": "CHANGED", "no": "NOT CHANGED", "cannot_say": "CHANGED? CANNOT SAY"}[changed]
    )
    whole = page_text(page, width=40, explain=True).lower()
    assert whole.count("radio off and disconnected") >= len(causes) + bool(causes) + 1


@pytest.mark.parametrize(
    ("changed", "nothing_wrong", "headline"),
    [
        ("no", 0.97, "NOT CHANGED"),
        ("no", 0.8, "PROBABLY NOT CHANGED"),
        ("no", 0.52, "NO CHANGE SEEN"),
        ("yes", 0.02, "CHANGED"),
        ("yes", 0.15, "PROBABLY CHANGED"),
        ("cannot_say", 0.3, "CHANGED? CANNOT SAY"),
    ],
)
def test_a_headline_is_no_firmer_than_its_number(changed, nothing_wrong, headline):
    cause = Hypothesis("wet-wire", 1 - nothing_wrong, ("a",), (), "radio off and disconnected: c", "dried")
    page = diagnose_page(Diagnosis(changed, 0.03, (cause,), nothing_wrong, None), [])
    assert page_text(page, width=72).splitlines()[0] == headline


def test_a_vague_test_that_costs_little_does_not_go_before_that_of_the_cause():
    causes = tuple(
        Hypothesis(code, weight, ("a",), (), "radio off and disconnected: c", test)
        for code, weight, test in (
            ("no-counterpoise", 0.5, "counterpoise-on"),
            ("other-antenna", 0.2, "put-back"),
        )
    )
    text = page_text(diagnose_page(Diagnosis("yes", 0.03, causes, 0.0, None), []), width=72)
    assert "(--test counterpoise-on)" in " ".join(text.split())


def test_of_the_two_heaviest_causes_the_cheaper_test_comes_first():
    causes = tuple(
        Hypothesis(code, weight, ("a",), (), f"radio off and disconnected: {code}", "put-back")
        for code, weight in (("drier-soil", 0.5), ("radial-off", 0.4))
    )
    page = diagnose_page(Diagnosis("yes", 0.01, causes, 0.1, None), [])
    assert page.steps == (
        "Radio off and disconnected: radial-off; then the same command with --test put-back --test-sweep FILE.",
    )


@pytest.mark.parametrize(
    ("showed", "is_proved", "word", "asked"),
    [
        ("back to the good one (97 % back)", True, "AFTER wiggled: BACK TO THE GOOD ONE", None),
        ("no change (3 % back)", False, "AFTER wiggled: NO CHANGE", "(--test antenna-unplugged)"),
    ],
)
def test_the_first_words_after_a_test_are_what_it_showed(showed, is_proved, word, asked):
    causes = (
        Hypothesis("loose-joint", 0.96, ("a",), (), "radio off and disconnected: b", "antenna-unplugged"),
        Hypothesis("wet-wire", 0.04, ("a",), (), "radio off and disconnected: c", "dried"),
    )
    tested = Outcome("wiggled", showed, is_proved=is_proved)
    text = page_text(diagnose_page(Diagnosis("yes", 0.03, causes, 0.0, None, tested=tested), []), width=72)
    assert text.splitlines()[0].endswith(word)
    assert ("that was it" in text) == is_proved
    assert ("TEST:" not in text) if asked is None else (asked in " ".join(text.split()))


def test_a_test_that_was_made_is_not_asked_for_again():
    causes = (Hypothesis("radial-off", 1.0, ("a",), (), "radio off and disconnected: b", "radials-clipped"),)
    tested = Outcome("radials-clipped", "no change (3 % back)", is_proved=False)
    page = diagnose_page(Diagnosis("yes", 0.03, causes, 0.0, None, tested=tested), [])
    assert "TEST:" not in page_text(page, width=72)
    assert not page.steps


def test_a_file_held_against_itself_says_nothing(run, samples):
    twin = samples / "meadow_vertical_2.s1p"
    answer = json.loads(run("diagnose", twin, "--baseline", twin, "--kind", "vertical", "--json").stdout)
    assert answer["changed"] == "cannot_say"
    assert "one file was given twice" in answer["cannot_say"]


OUTINGS = ROOT / "sample_sweeps" / "outings"
APRIL, AUGUST = (
    OUTINGS / f"{day}_ridge_dipole" / f"ridge_dipole_{file}.s1p"
    for day, file in (("2026-04-18", "0418_3"), ("2026-08-08", "0808"))
)


def test_what_setup_toml_tells_beside_both_files_is_known(run):
    done = run("diagnose", AUGUST, "--baseline", APRIL, "--json")
    told = ("--kind", "dipole", "--line", "RG-58 15 m", "--measured-at", "radio", "--put-up-again")
    assert json.loads(done.stdout) == json.loads(
        run("diagnose", AUGUST, "--baseline", APRIL, *told, "--json").stdout
    )
    assert json.loads(done.stdout)["changed"] == "no"
    assert (
        "from setup.toml beside the files: kind, line, where they were measured, putting up again"
        in done.stderr
    )


def test_an_option_goes_before_setup_toml(run):
    done = run("diagnose", AUGUST, "--baseline", APRIL, "--kept", "--json")
    assert json.loads(done.stdout)["false_alarm_rate"] == 0.03
    assert json.loads(done.stdout)["changed"] == "yes"
    assert "putting up again" not in done.stderr


def test_files_of_two_places_are_no_pair(run):
    may, june = (
        OUTINGS / f"2026-{day[:2]}-{day[2:]}_meadow_whip" / f"meadow_whip_{day}.s1p"
        for day in ("0530", "0627")
    )
    answer = json.loads(run("diagnose", june, "--baseline", may, "--json").stdout)
    assert answer["changed"] == "cannot_say"
    assert "one sweep was taken at the radio, another at the feedpoint" in answer["cannot_say"]


def test_files_of_two_states_are_said():
    longer = APRIL.with_name("ridge_dipole_0418_1.s1p")
    beside = read_beside([read_sweep(longer), read_sweep(AUGUST)], {})
    assert "setup.toml tells another length and tail of these files" in beside.notes[-1]


def test_the_baseline_of_a_name_is_the_nearest_measured_at_the_same_place(run, tmp_path):
    log = ("--log", tmp_path / "log.sqlite")
    days = (OUTINGS / f"2026-{day}_ridge_dipole" for day in ("05-16", "06-13", "08-08"))
    for day in (APRIL, *days):
        run("log", "add", day, *log)
    done = run("diagnose", AUGUST, "--antenna", "dipole-40m", *log, "--json")
    assert "the baseline is sweep 2, ridge_dipole_0516.s1p" in done.stderr  # sweep 3 is of the feedpoint
    assert json.loads(done.stdout)["changed"] == "no"


@pytest.mark.parametrize(
    ("site", "said"),
    [(("--site", "ridge"), "is sweep 1, ridge"), ((), "is sweep 2, valley")],
    ids=["told", "newest"],
)
def test_the_baseline_of_a_name_is_of_the_site_that_is_told(run, tmp_path, site, said):
    log, bare = ("--log", tmp_path / "log.sqlite"), tmp_path / "now.s1p"
    for name in ("2026-05-16_ridge_dipole", "2026-07-25_valley_dipole"):
        run("log", "add", *(OUTINGS / name).glob("*.s1p"), *log)
    bare.write_bytes(AUGUST.read_bytes())
    known = ("diagnose", bare, "--antenna", "dipole-40m", "--line", "RG-58 15 m", *log)
    assert said in run(*known, *site, "--json").stderr  # read at the radio, as a line is told
