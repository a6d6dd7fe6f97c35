"""What ``sweepkit review`` promises: JSON, streams, exit codes, bad input."""

from __future__ import annotations

import csv
import json
import pickle
import shutil

import pytest

DIPOLE = "ridge_dipole_40m.s1p"
BEHIND_LINE = "valley_dipole_rg58.s1p"
BAND_KEYS = {
    "name", "low_hz", "high_hz", "covered", "best_swr", "best_hz", "swr_at_low_edge", "swr_at_high_edge",
    "share_within_limit", "verdict", "why", "segments", "line_loss_db", "power_to_antenna_w",
    "power", "line",
}  # fmt: skip


def figures(document):
    """Every figure in a document."""
    if isinstance(document, dict):
        if {"value", "low", "high"} <= set(document):
            yield document
        else:
            for part in document.values():
                yield from figures(part)
    elif isinstance(document, list):
        for part in document:
            yield from figures(part)


def no_constant(name):
    raise AssertionError(f"{name} is no JSON")


def test_one_file_gives_one_object_with_everything_promised(run, samples):
    done = run("review", samples / DIPOLE, "--json", "--measured-at", "feedpoint")
    assert done.returncode == 0
    assert done.stderr == ""
    answer = json.loads(done.stdout, parse_constant=no_constant)
    assert answer["schema"] == "sweepkit/review/1"
    assert set(answer["file"]) == {
        "path", "sha256", "reader", "points", "start_hz", "stop_hz", "reference_ohm",
    }  # fmt: skip
    assert answer["phase"] == "signed"
    assert answer["measured_at"] == "feedpoint"
    assert answer["planes"]["radio"] is None
    plane = answer["planes"]["feedpoint"]
    assert set(plane) == {"dips", "resonances", "swr_bandwidths"}
    assert [width["limit_swr"] for width in plane["swr_bandwidths"]] == [1.5, 2.0, 3.0]
    assert all(set(band) == BAND_KEYS for band in answer["bands"])
    assert answer["adequate"] is True
    assert answer["next_sweeps"] == []


def test_every_figure_holds_its_value_or_a_reason(run, samples):
    answer = json.loads(run("review", samples / DIPOLE, "--json", "--line", "RG-58 15 m").stdout)
    seen = list(figures(answer))
    assert len(seen) > 20
    for figure in seen:
        if figure["value"] is None:
            assert figure["reason"]
            assert figure["low"] is None
            assert figure["high"] is None
        else:
            assert figure["low"] <= figure["value"] <= figure["high"]
    assert any(figure["low"] < figure["high"] for figure in seen)


def test_without_draws_there_are_values_and_no_intervals(run, samples):
    answer = json.loads(run("review", samples / DIPOLE, "--json", "--draws", "0").stdout)
    assert all(figure["low"] is None and figure["high"] is None for figure in figures(answer))
    assert any(figure["value"] is not None for figure in figures(answer))


def test_the_same_seed_gives_the_same_answer(run, samples):
    first, again, other = (
        run("review", samples / DIPOLE, "--json", "--seed", seed).stdout for seed in (7, 7, 8)
    )
    assert first == again
    assert first != other


def test_a_plane_that_is_not_known_is_never_called_resonance(run, samples):
    answer = json.loads(run("review", samples / DIPOLE, "--json").stdout)
    assert answer["measured_at"] == "unknown"
    assert answer["planes"]["feedpoint"] is None
    assert answer["planes"]["radio"]["resonances"] == []


def test_a_line_gives_both_planes(run, samples):
    answer = json.loads(run("review", samples / BEHIND_LINE, "--json", "--line", "RG-58 15 m").stdout)
    assert answer["measured_at"] == "radio"
    assert answer["planes"]["radio"]["resonances"] == []
    assert answer["planes"]["feedpoint"]["resonances"]
    assert answer["bands"][0]["line_loss_db"]["value"] > 0.5


def test_several_files_give_an_array_in_order_and_a_bad_one_does_not_stop_it(run, samples, tmp_path):
    bad = tmp_path / "cut.s1p"
    bad.write_text("# MHz S RI R 50\n7.0 0.5 0.1\n7.1 0.5\n")
    done = run("review", samples / DIPOLE, bad, samples / "spit_whip_40m.s1p", "--json")
    assert done.returncode == 2
    answers = json.loads(done.stdout)
    assert [answer["schema"] for answer in answers] == [
        "sweepkit/review/1", "sweepkit/error/1", "sweepkit/review/1",
    ]  # fmt: skip
    assert answers[1]["path"] == str(bad)
    assert answers[1]["line"] == 3
    assert done.stderr.startswith(f"sweepkit: {bad}:3: ")
    assert "Traceback" not in done.stderr


def test_a_folder_notes_what_is_no_sweep(run, samples, tmp_path):
    shutil.copy(samples / DIPOLE, tmp_path)
    (tmp_path / "notes.txt").write_text("Antenna up at nine, rain at ten.\n")
    done = run("review", tmp_path, "--json")
    assert done.returncode == 0
    assert len(json.loads(done.stdout)) == 1
    assert "notes.txt is no sweep" in done.stderr


def test_a_folder_notes_pictures_databases_and_binaries_and_refuses_a_sweep_that_is_none(
    run, samples, tmp_path
):
    shutil.copy(samples / DIPOLE, tmp_path)
    (tmp_path / "dip.png").write_bytes(b"\x89PNG\r\n\x1a\n\0\0")
    (tmp_path / "sweepkit.sqlite").write_bytes(b"SQLite format 3\0\x10\0")
    (tmp_path / "photo.heic").write_bytes(b"\0\0\0\x18ftypheic")
    done = run("review", tmp_path, "--json")
    assert done.returncode == 0
    assert len(json.loads(done.stdout)) == 1
    for name in ("dip.png", "sweepkit.sqlite", "photo.heic"):
        assert f"sweepkit: note: {name} is no sweep; left out" in done.stderr
    (tmp_path / "other.s1p").write_bytes(b"\x89PNG\r\n\x1a\n\0\0")
    done = run("review", tmp_path, "--json")
    assert done.returncode == 2
    assert "other.s1p:1: this is a picture" in done.stderr


BAD_FILES = {
    "missing.s1p": None,
    "empty.s1p": b"",
    "binary.s1p": bytes(range(256)) * 4,
    "nan.s1p": b"# MHz S RI R 50\n7.0 0.5 0.1\n7.1 nan 0.1\n7.2 0.5 0.1\n",
    "truncated.s1p": b"# MHz S RI R 50\n7.0 0.5 0.1\n7.1 0.5 0.1\n7.2 0.",
    "one_point.s1p": b"# MHz S RI R 50\n7.0 0.5 0.1\n",
    "words.s1p": b"# MHz S RI R 50\n7.0 0.5 oops\n7.1 0.5 0.1\n",
}


@pytest.mark.parametrize("name", sorted(BAD_FILES))
def test_a_bad_file_is_one_line_on_stderr_and_exit_2(run, tmp_path, name):
    path = tmp_path / name
    if BAD_FILES[name] is not None:
        path.write_bytes(BAD_FILES[name])
    done = run("review", path)
    assert done.returncode == 2
    lines = done.stderr.splitlines()
    assert len(lines) == 1, done.stderr
    assert lines[0].startswith(f"sweepkit: {path}")
    assert ";" in lines[0], "what was found; what was expected; what to do"


def test_a_pickle_in_disguise_is_refused_and_does_not_run(run, tmp_path):
    mark = tmp_path / "it_ran"

    class Trap:
        def __reduce__(self):
            return (open, (str(mark), "w"))

    path = tmp_path / "antenna.s1p"
    path.write_bytes(pickle.dumps(Trap()))
    assert run("review", path).returncode == 2
    assert not mark.exists()


def test_bad_options_exit_2_with_one_line(run, samples):
    for words, text in {
        ("--measured-at", "roof"): "--measured-at is 'roof'",
        ("--line", "RG-58"): "length",
        ("--line", "RG-85 15 m"): "RG-58",
        ("--band", "41 m"): "there are 160 m",
        ("--region", "4"): "a whole number from 1 to 3",
        ("--plot", "x.gif"): "a plot ends in .png",
        ("--swr-limit", "0.9"): "--swr-limit is 0.9; it must be 1 to 1000",
        ("--region", "0"): "a whole number from 1 to 3",
    }.items():
        done = run("review", samples / DIPOLE, *words)
        assert done.returncode == 2, words
        assert text in done.stderr, done.stderr
        assert len(done.stderr.splitlines()) == 1


def test_strict_judges_the_named_bands_only(run, samples):
    good, bad = samples / DIPOLE, samples / "spit_whip_40m_coarse.s1p"
    assert run("review", good, "--band", "40 m", "--strict").returncode == 0
    assert run("review", bad, "--band", "40m", "--strict").returncode == 1
    assert run("review", bad, "--band", "40m").returncode == 0
    assert run("review", good, "--band", "20 m", "--strict").returncode == 1, "not swept: cannot be said"
    assert run("review", bad, "--strict").returncode == 1, "no band is usable"
    assert run("review", good, "--strict").returncode == 0


def test_text_fits_on_forty_columns(run, samples):
    for path in sorted(samples.glob("*.s1p")):
        for words in ([], ["--explain"]):
            text = run("review", path.name, "--draws", 50, *words, columns="40", cwd=samples).stdout
            broken = [line for line in text.splitlines() if len(line.split()) > 1]  # a checksum stays whole
            assert max(map(len, broken)) <= 40, path.name


def test_a_sweep_that_leaves_nothing_to_say_is_to_be_taken_again_first(run, samples):
    lines = run("review", samples / "spit_whip_40m_coarse.s1p").stdout.splitlines()
    assert lines[0] == "SWEEP AGAIN"
    assert "6.52 to 7.68 MHz with 101 points" in lines[1]


def test_explain_says_what_the_short_text_holds_back(run, samples):
    words = ("review", samples / DIPOLE, "--draws", 50)
    short, whole = run(*words).stdout, run(*words, "--explain").stdout
    assert "More: --explain." in short
    assert "More: --explain." not in whole
    for held_back in (
        "return loss there",
        "SWR 3 bandwidth",
        "share within SWR 2",
        "sha256",
        "75 % at 2, 40 % at 3",
    ):
        assert (held_back in short, held_back in whole) == (False, True)


def test_several_answers_name_the_defaults_once(run, samples):
    text = run("review", samples / DIPOLE, samples / "spit_whip_40m.s1p", "--draws", 20).stdout
    assert text.count("Defaults: region, radio, tuner, analyzer (--kit).") == 1


def test_plot_and_table_are_written_once_and_not_over_inputs(run, samples, tmp_path):
    picture, table = tmp_path / "dip.svg", tmp_path / "table.csv"
    words = ("review", samples / DIPOLE, "--plot", picture, "--csv", table)
    assert run(*words).returncode == 0
    assert picture.read_text().startswith("<?xml")
    rows = list(csv.DictReader(table.read_text().splitlines()))
    assert len(rows) == 1
    assert float(rows[0]["dip_hz_low"]) < float(rows[0]["dip_hz"]) < float(rows[0]["dip_hz_high"])
    assert rows[0]["resonance_hz"] == rows[0]["q"] == ""  # nobody told that it is the feedpoint
    again = run(*words)
    assert again.returncode == 2
    assert "exists already" in again.stderr
    assert run(*words, "--force").returncode == 0
    copy = tmp_path / "sweep.csv"
    shutil.copy(samples / DIPOLE, copy)
    done = run("review", copy, "--csv", copy, "--force")
    assert done.returncode == 2
    assert "stays as it is" in done.stderr
    assert copy.read_bytes() == (samples / DIPOLE).read_bytes()


def test_what_setup_toml_says_beside_the_file_holds_and_is_said(run, samples, tmp_path):
    outing = samples / "outings" / "2026-08-08_ridge_dipole"
    words = ("--draws", 0, "--json")
    done = run("review", outing / "ridge_dipole_0808.s1p", *words)
    answer = json.loads(done.stdout, parse_constant=no_constant)
    assert answer["measured_at"] == "radio"
    assert answer["planes"]["feedpoint"]["dips"]
    assert done.stderr.count("setup.toml: the line and where it was measured") == 1
    alone = tmp_path / "alone.s1p"
    shutil.copy(outing / "ridge_dipole_0808.s1p", alone)
    told = run("review", alone, "--line", "RG-58 15 m", "--measured-at", "radio", *words)
    assert json.loads(told.stdout)["planes"] == answer["planes"]
    other = run("review", outing / "ridge_dipole_0808.s1p", "--line", "RG-58 7 m", *words)
    assert json.loads(other.stdout)["planes"]["feedpoint"] != answer["planes"]["feedpoint"]


def test_a_line_beside_a_sweep_without_phase_holds_as_one_that_was_told(run, tmp_path):
    rows = "\n".join(f"{7.0 + k / 100:.2f},{1.5 + abs(k - 10) / 20:.3f}" for k in range(21))
    (tmp_path / "a.csv").write_text(f"Frequency (MHz),SWR\n{rows}\n", encoding="utf-8")
    told = run("review", tmp_path / "a.csv", "--line", "RG-58 15 m", "--draws", 0, "--json")
    (tmp_path / "setup.toml").write_text('line = ["RG-58 15 m"]\n', encoding="utf-8")
    done = run("review", tmp_path / "a.csv", "--draws", 0, "--json")
    assert (done.returncode, done.stdout) == (told.returncode, told.stdout)
    assert "setup.toml: the line" in done.stderr


def test_one_answer_needs_one_line_beside_all_files(run, samples, tmp_path):
    for folder, metres in (("a", 15), ("b", 7)):
        (tmp_path / folder).mkdir()
        shutil.copy(samples / DIPOLE, tmp_path / folder / "x.s1p")
        (tmp_path / folder / "setup.toml").write_text(f'line = ["RG-58 {metres} m"]\n', encoding="utf-8")
    done = run("review", "--setup", tmp_path / "a" / "x.s1p", tmp_path / "b" / "x.s1p")
    assert done.returncode == 2
    assert "another line or place" in done.stderr
    broken = tmp_path / "a" / "setup.toml"
    broken.write_text("line = \n", encoding="utf-8")
    shutil.copy(samples / DIPOLE, tmp_path / "a" / "y.s1p")
    done = run("review", tmp_path / "a")
    assert done.returncode == 2
    assert done.stderr.count("setup.toml") == 1
    assert "Traceback" not in done.stderr
