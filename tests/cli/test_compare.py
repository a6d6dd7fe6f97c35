"""What ``sweepkit compare`` promises: JSON, streams, exit codes, the table, bad input."""

from __future__ import annotations

import csv
import json
import re
import shutil

import pytest

DIPOLE = "ridge_dipole_40m.s1p"
LONG = "ridge_dipole_40m_long.s1p"
OUTINGS = "outings"


@pytest.fixture(scope="module")
def log(run, samples, tmp_path_factory):
    """The sample outings in a logbook."""
    path = tmp_path_factory.mktemp("log") / "demo.sqlite"
    for outing in sorted((samples / OUTINGS).iterdir()):
        if outing.is_dir():
            assert run("log", "add", *sorted(outing.glob("*.s1p")), "--log", path).returncode == 0
    return path


@pytest.fixture(scope="module")
def small_log(run, samples, tmp_path_factory):
    """A logbook of one outing."""
    path = tmp_path_factory.mktemp("log") / "small.sqlite"
    outing = samples / OUTINGS / "2026-08-08_ridge_dipole"
    assert run("log", "add", *sorted(outing.glob("*.s1p")), "--log", path).returncode == 0
    return path


def no_constant(name):
    raise AssertionError(f"{name} is no JSON")


def answer_of(done):
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout, parse_constant=no_constant)


def test_two_files_give_all_that_is_promised(run, samples):
    answer = answer_of(
        run(
            "compare",
            samples / DIPOLE,
            samples / LONG,
            "--measured-at",
            "feedpoint",
            "--kind",
            "dipole",
            "--json",
        )
    )
    assert answer["schema"] == "sweepkit/compare/2"
    assert [setup["id"] for setup in answer["setups"]] == [DIPOLE, LONG]
    assert {
        "id",
        "site",
        "antenna",
        "when",
        "dip_hz",
        "dip_swr",
        "r_ohm",
        "q",
        "bandwidth_hz",
        "line_loss_db",
    } <= set(answer["setups"][0])
    for difference in answer["differences"]:
        assert {"quantity", "a", "b", "difference", "usual_spread", "scales", "verdict", "why"} <= set(
            difference
        )
        assert difference["verdict"] in ("same", "within", "different", "cannot_say", None)
        assert all(set(scale) == {"what", "limit", "beyond"} for scale in difference["scales"])
        assert set(difference["difference"]) >= {"value", "low", "high"}
    assert all(set(unfair) == {"code", "text"} for unfair in answer["fairness"])


def test_the_same_file_twice_is_named(run, samples, tmp_path):
    shutil.copy(samples / DIPOLE, tmp_path / "again.s1p")
    answer = answer_of(
        run("compare", samples / DIPOLE, tmp_path / "again.s1p", "--measured-at", "feedpoint", "--json")
    )
    assert answer["verdicts"] == [{"a": DIPOLE, "b": "again.s1p", "verdict": "within"}]
    assert "same-file" in {unfair["code"] for unfair in answer["fairness"]}
    assert answer["differences"][0]["difference"]["value"] == 0


def test_a_kind_that_nobody_told_is_said_where_it_decides(run, samples):
    pair = ("compare", samples / DIPOLE, samples / LONG, "--draws", "50")
    untold, told = run(*pair, columns="160").stdout, run(*pair, "--kind", "dipole", columns="160").stdout
    assert "practice says of a whip, which moves most: nobody told the kind (--kind)." in " ".join(
        untold.split()
    )
    assert "practice says of a wire." in " ".join(told.split())
    assert "-0.00 (" not in untold + told


def test_the_verdict_comes_first_and_fits_forty_columns(run, samples):
    done = run(
        "compare",
        samples / DIPOLE,
        samples / LONG,
        "--measured-at",
        "feedpoint",
        "--kind",
        "dipole",
        "--same-site",
        columns="40",
    )
    assert done.stdout.startswith("DIFFERENT: ")
    assert max(map(len, done.stdout.splitlines())) <= 40
    assert "neither" in done.stdout


def test_sites_of_the_sample_outings(run, log):
    answer = answer_of(run("compare", "--log", log, "--antenna", "dipole-40m", "--by", "site", "--json"))
    told = {(d["a"], d["b"]): d["verdict"] for d in answer["differences"] if d["quantity"] == "r_ohm"}
    assert told == {
        ("ridge", "valley"): "same",
        ("ridge", "meadow"): "different",
        ("valley", "meadow"): "different",
    }
    assert "missing-control" in {unfair["code"] for unfair in answer["fairness"]}
    assert answer["ranking"] is None


def test_radials_of_the_sample_outing(run, log):
    answer = answer_of(run("compare", "--log", log, "--antenna", "whip-40m", "--by", "radials", "--json"))
    assert [step["more"] for step in answer["radials"]["dip_hz"]["steps"]] == [2, 4, 8]
    assert answer["radials"]["dip_hz"]["next_change"]["high"] < 0


def test_files_of_a_known_antenna_are_held_against_its_past(run, samples, log):
    """Its own setups come from the logbook; the facts from setup.toml beside the file."""
    two = [
        next((samples / OUTINGS / name).glob("*.s1p"))
        for name in ("2026-05-16_ridge_dipole", "2026-08-08_ridge_dipole")
    ]
    answer = answer_of(run("compare", *two, "--antenna", "dipole-40m", "--log", log, "--json"))
    assert [setup["site"] for setup in answer["setups"]] == ["ridge", "ridge"]
    assert "own setups" in answer["differences"][0]["why"]


def test_a_sweep_of_another_state_is_named_at_once_and_never_averaged(run, samples, tmp_path):
    book = tmp_path / "book.sqlite"
    told = (
        "--log",
        book,
        "--antenna",
        "a",
        "--site",
        "ridge",
        "--measured-at",
        "feedpoint",
        "--set",
        "kind=dipole",
    )
    first = run("log", "add", samples / DIPOLE, *told)
    assert (first.stdout, "no earlier sweep" in first.stderr) == ("1\n", True)
    again = tmp_path / "again.s1p"
    again.write_text("! swept again\n" + (samples / DIPOLE).read_text(encoding="utf-8"), encoding="utf-8")
    assert "no more than joining anew explains" in run("log", "add", again, *told, "--setup", "last").stderr
    second = run("log", "add", samples / LONG, *told, "--setup", "last")
    assert second.stdout == "3\n"
    assert "sweep 3, setup 1: dip 6.800 MHz, 294 kHz below sweep 2: more than joining anew" in second.stderr
    assert "log edit 3" in second.stderr
    logged = answer_of(run("compare", "--antenna", "a", "--log", book, "--json"))
    assert "disagreeing-sweeps" in {unfair["code"] for unfair in logged["fairness"]}
    assert logged["setups"][0]["dip_hz"]["value"] == pytest.approx(6.8e6, rel=1e-3)


def test_one_file_of_a_known_antenna_is_held_against_the_nearest_earlier_setup(run, samples, tmp_path):
    book = tmp_path / "book.sqlite"
    told = (
        "--log",
        book,
        "--antenna",
        "a",
        "--site",
        "ridge",
        "--measured-at",
        "feedpoint",
        "--set",
        "kind=dipole",
    )
    run("log", "add", samples / DIPOLE, *told)
    words = ("--antenna", "a", "--log", book, "--measured-at", "feedpoint", "--kept", "--json")
    answer = answer_of(run("compare", samples / LONG, *words))
    assert [setup["id"] for setup in answer["setups"]] == ["S1", LONG]
    dip = answer["differences"][0]
    assert (dip["quantity"], dip["told"], dip["verdict"]) == ("dip_hz", "swept-again", "different")


def logged_book(run, tmp_path, samples):
    """A dipole at the ridge, swept again with an SWR that is another, and later at the valley."""
    book, again, valley = (tmp_path / name for name in ("book.sqlite", "again.s1p", "valley.s1p"))
    again.write_bytes(b"! swept again\n" + (samples / DIPOLE).read_bytes())
    valley.write_bytes(b"! at the valley\n" + (samples / LONG).read_bytes())
    told = ("--log", book, "--antenna", "a", "--measured-at", "feedpoint", "--set", "kind=dipole")
    ridge = (*told, "--site", "ridge", "--when", "2026-09-01T10:00Z")
    assert run("log", "add", samples / DIPOLE, *ridge).returncode == 0
    assert run("log", "add", again, *ridge, "--setup", "last").returncode == 0
    assert run("log", "add", valley, *told, "--site", "valley", "--when", "2026-10-01T10:00Z").returncode == 0
    return book, again


def test_a_logged_file_is_held_against_what_was_swept_before_it_in_its_own_setup(run, samples, tmp_path):
    book, again = logged_book(run, tmp_path, samples)
    answer = answer_of(run("compare", again, "--antenna", "a", "--log", book, "--kept", "--json"))
    assert [setup["id"] for setup in answer["setups"]] == ["S1", "again.s1p"]
    assert [setup["site"] for setup in answer["setups"]] == ["ridge", "ridge"]
    dip = answer["differences"][0]
    assert (dip["quantity"], dip["told"], dip["verdict"]) == ("dip_hz", "swept-again", "within")


def test_site_tells_where_a_file_of_today_was_swept(run, samples, tmp_path):
    book, _ = logged_book(run, tmp_path, samples)
    today = tmp_path / "today.s1p"
    today.write_bytes(b"! today\n" + (samples / DIPOLE).read_bytes())
    words = (
        "compare",
        today,
        "--antenna",
        "a",
        "--log",
        book,
        "--measured-at",
        "feedpoint",
        "--kept",
        "--json",
    )
    for site, first in (("ridge", ["S1"]), ("valley", ["S2"]), ("beach", [])):
        setups = answer_of(run(*words, "--site", site))["setups"]
        assert [setup["id"] for setup in setups] == [*first, "today.s1p"], site
        assert setups[-1]["site"] == site


def test_a_diagnosis_has_the_nearest_earlier_sweep_for_its_baseline(run, samples, tmp_path):
    book = tmp_path / "book.sqlite"
    told = (
        "--log",
        book,
        "--antenna",
        "a",
        "--site",
        "ridge",
        "--measured-at",
        "feedpoint",
        "--set",
        "kind=dipole",
    )
    run("log", "add", samples / DIPOLE, *told)
    words = ("diagnose", samples / LONG, "--antenna", "a", "--log", book, "--json")
    done = run(*words, "--measured-at", "feedpoint", "--changed", "re-erected")
    assert answer_of(done)["changed"] == "yes"
    assert "the baseline is sweep 1" in done.stderr
    assert "held against what another site does" in run(*words, "--measured-at", "feedpoint").stderr
    elsewhere = run(*words, "--measured-at", "radio")
    assert answer_of(elsewhere)["changed"] == "cannot_say"
    assert "measured at: feedpoint" in elsewhere.stderr


def test_the_card_says_the_likely_cause_since_the_nearest_earlier_sweep(run, samples, tmp_path):
    book, alike = tmp_path / "book.sqlite", tmp_path / "alike.s1p"
    alike.write_bytes(b"! the same once more\n" + (samples / DIPOLE).read_bytes())
    told = ("--log", book, "--antenna", "a", "--site", "ridge", "--measured-at", "feedpoint")
    run("log", "add", samples / DIPOLE, *told, "--set", "kind=dipole", "--set", "ground=wet")
    cards = {file: run("review", file, *told, "--card").stdout for file in (alike, samples / LONG)}
    assert "= as usual for wet ground here\n" in cards[alike]
    assert re.search(r"^[?] [0-9]+ % another length of wire or whip$", cards[samples / LONG], re.MULTILINE)
    assert all(len(line) <= 40 for card in cards.values() for line in card.splitlines())
    findings = answer_of(run("review", samples / LONG, *told, "--json"))["findings"]
    assert next(one for one in findings if one["code"] == "likely-cause")["level"] == "warning"


def test_a_setup_of_two_lengths_is_not_joined(run, samples):
    done = run("review", "--setup", samples / DIPOLE, samples / LONG, "--measured-at", "feedpoint", "--json")
    answer = answer_of(done)
    assert "disagreeing-sweeps" in {finding["code"] for finding in answer["findings"]}
    assert len(answer["planes"]["feedpoint"]["dips"]) == 1


def test_today_is_held_against_the_past(run, samples, log):
    file = samples / OUTINGS / "2026-08-08_ridge_dipole" / "ridge_dipole_0808.s1p"
    told = ("--antenna", "dipole-40m", "--log", log, "--site", "ridge")
    done = run("review", file, *told, "--json")
    codes = {finding["code"] for finding in answer_of(done)["findings"]}
    assert "inside-usual" in codes
    assert "line = RG-58 15 m" in done.stderr
    text = run("review", file, *told).stdout
    assert "inside what this antenna usually does: " in text
    assert text.count("\n") <= 15
    other = samples / OUTINGS / "2026-05-03_valley_dipole" / "valley_dipole_0503.s1p"
    codes = {finding["code"] for finding in answer_of(run("review", other, *told, "--json"))["findings"]}
    assert "outside-usual" in codes, "a dipole of the valley is no dipole of the ridge"


def test_the_table_has_a_row_per_setup_and_no_formulas(run, samples, tmp_path):
    shutil.copy(samples / DIPOLE, tmp_path / "=1+1.s1p")
    table = tmp_path / "table.csv"
    done = run("compare", tmp_path / "=1+1.s1p", samples / LONG, "--measured-at", "feedpoint", "--csv", table)
    assert done.returncode == 0
    with table.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["id"] for row in rows] == ["'=1+1.s1p", LONG]
    assert float(rows[0]["dip_hz_low"]) < float(rows[0]["dip_hz"]) < float(rows[0]["dip_hz_high"])
    assert run("compare", samples / DIPOLE, "--csv", table).returncode == 2, "never over another file"


def test_one_file_says_what_is_missing(run, samples):
    done = run("compare", samples / DIPOLE)
    assert done.returncode == 0
    assert done.stdout.startswith("CANNOT SAY")
    assert "a comparison needs two" in " ".join(done.stdout.split())


@pytest.mark.parametrize(
    ("words", "text"),
    [
        ((), "nothing to compare"),
        (("nowhere.s1p",), "nowhere.s1p"),
        ((DIPOLE, "--by", "weather"), "--by is 'weather'"),
        ((DIPOLE, "--kind", "kite"), "kite"),
        ((DIPOLE, DIPOLE, "--kept", "--rejoined"), "--kept and --rejoined say different things"),
        (("--antenna", "nobody", "--log", "LOG"), "no sweep of 'nobody'"),
        (("--antenna", "x", "--log", "none.sqlite"), "no logbook"),
        ((DIPOLE, "--antenna", "a", "--antenna", "b", "--log", "LOG"), "give --antenna once"),
    ],
)
def test_bad_input_exits_2_with_one_line(run, samples, small_log, words, text):
    told = [samples / DIPOLE if word == DIPOLE else small_log if word == "LOG" else word for word in words]
    done = run("compare", *told)
    assert done.returncode == 2
    assert done.stderr.startswith("sweepkit: ")
    assert text in done.stderr
    assert "Traceback" not in done.stderr


def test_the_logbook_beside_is_compared_where_nothing_is_named(run, small_log, tmp_path, monkeypatch):
    monkeypatch.delenv("SWEEPKIT_LOG", raising=False)
    (tmp_path / "sweepkit.sqlite").write_bytes(small_log.read_bytes())
    words = ("compare", "--by", "site", "--draws", "0", "--json")
    beside, named = run(*words, cwd=tmp_path), run(*words, "--log", small_log)
    assert beside.returncode == 0, beside.stderr
    assert json.loads(beside.stdout) == json.loads(named.stdout)


def test_a_bad_file_does_not_stop_the_others(run, samples, tmp_path):
    bad = tmp_path / "bad.s1p"
    bad.write_text("# MHz S RI R 50\n7 0.1\n", encoding="ascii")
    done = run("compare", samples / DIPOLE, bad, samples / LONG, "--measured-at", "feedpoint", "--json")
    assert done.returncode == 2
    assert len(json.loads(done.stdout)["setups"]) == 2
    assert "bad.s1p" in done.stderr


@pytest.mark.parametrize("option", ["--csv", "--report"])
@pytest.mark.parametrize("command", ["compare", "review"])
def test_the_logbook_is_an_input_and_never_written_over(run, samples, small_log, tmp_path, command, option):
    book = tmp_path / ("book.html" if option == "--report" else "book.sqlite")
    shutil.copy(small_log, book)
    before = book.read_bytes()
    words = (samples / DIPOLE,) if command == "review" else ()
    done = run(command, *words, "--antenna", "dipole-40m", "--log", book, option, book, "--force")
    assert done.returncode == 2
    assert "stays as it is" in done.stderr
    assert book.read_bytes() == before
