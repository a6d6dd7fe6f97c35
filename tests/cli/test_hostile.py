"""Names that mean harm, through every output; limits and odd inputs at the command line."""

from __future__ import annotations

import csv
import io
import json
import os
import re
import shutil
import sys
from pathlib import Path

import numpy as np
import pytest

from sweepkit.visible import cell, visible

# Terminal codes, marks that turn the writing, line ends, markup, a formula, mathematics of a picture.
LETTERS = "a\x1b]0;x\x07\x1b[31m\u202eb\r\n\u2028\x85<script>alert(1)</script>&\"'$x_{1}$|`*=1+1 \u200b"
NAME = (LETTERS.replace("</", "<")[:90]).replace("/", "") + ".s1p"
RULES = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200b-\u200f\u2028-\u202e\u2066-\u2069\ud800-\udfff]")
CAN_HOLD_IT = pytest.mark.skipif(os.name == "nt", reason="Windows allows no such file names")


@pytest.fixture(scope="module")
def hostile(samples, tmp_path_factory) -> Path:
    path = tmp_path_factory.mktemp("names") / NAME
    shutil.copy(samples / "ridge_dipole_40m.s1p", path)
    return path


def assert_harmless(text: str, *, lines: bool = True) -> None:
    found = RULES.search(text)
    assert found is None, f"{found!r} in {text[max(0, found.start() - 40) : found.end() + 40]!r}"
    if lines:
        assert "\\x1b" in text
        assert "\\u202e" in text


@CAN_HOLD_IT
@pytest.mark.parametrize(
    "words",
    [
        ("review",),
        ("review", "--explain"),
        ("review", "--card"),
        ("trim", "--kind", "dipole", "--length", "10.2 m", "--target", "7.1 MHz"),
        ("diagnose",),
        ("compare",),
        ("feedline", "--end", "open"),
        ("convert", "--to", "csv"),
        ("convert", "--to", "touchstone"),
    ],
    ids=" ".join,
)
def test_nothing_of_a_file_name_rules_the_terminal(run, hostile, words):
    done = run(words[0], hostile, *words[1:], *(() if words[0] == "convert" else ("--draws", 0)))
    assert_harmless(done.stdout + done.stderr, lines=False)
    assert done.stderr.count("\n") <= 2


@CAN_HOLD_IT
def test_json_gives_the_name_back(run, hostile):
    done = run("review", hostile, "--draws", 0, "--json")
    assert done.stdout.isascii()
    assert json.loads(done.stdout)["file"]["path"] == str(hostile)


@CAN_HOLD_IT
def test_pages_pictures_and_tables(run, hostile, tmp_path):
    for name in ("a.html", "a.md"):
        assert run("review", hostile, "--draws", 0, "--report", tmp_path / name).returncode == 0
        text = (tmp_path / name).read_text(encoding="utf-8")
        assert_harmless(text)
        assert "<script>alert" not in text
    assert run("plot", hostile, "--draws", 0, "-o", tmp_path / "a.svg").returncode == 0
    assert_harmless((tmp_path / "a.svg").read_text(encoding="utf-8"), lines=False)
    for command in (("review", hostile), ("compare", hostile, hostile)):
        done = run(*command, "--draws", 0, "--csv", tmp_path / "a.csv", "--force")
        assert done.returncode == 0, done.stderr
        text = (tmp_path / "a.csv").read_text(encoding="utf-8")
        assert_harmless(text)
        assert len({len(row) for row in csv.reader(io.StringIO(text))}) == 1


@CAN_HOLD_IT
@pytest.mark.skipif(sys.platform == "darwin", reason="its file system takes UTF-8 only")
def test_bytes_that_are_no_text(run_process, samples, tmp_path):
    path = os.fsencode(tmp_path) + b"/na\xffme.s1p"
    shutil.copy(samples / "ridge_dipole_40m.s1p", path)
    done = run_process("review", os.fsdecode(path), "--draws", 0, "--report", "a.html", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert "na\\xffme.s1p" in done.stdout
    assert "na\\xffme.s1p" in (tmp_path / "a.html").read_text(encoding="utf-8")
    missing = run_process("review", os.fsdecode(os.fsencode(tmp_path) + b"/gone\xfe\x1b[2J.s1p"))
    assert missing.returncode == 2
    assert missing.stderr.count("\n") == 1
    assert "gone\\xfe\\x1b[2J.s1p" in missing.stderr


@CAN_HOLD_IT
def test_sites_antennas_and_notes_of_the_logbook(run, samples, tmp_path):
    log, evil = tmp_path / "log.sqlite", "hill\u202e\n=cmd|x"
    sample = samples / "ridge_dipole_40m.s1p"
    done = run("log", "add", sample, "--log", log, "--site", evil, "--antenna", evil, "--set", f"note={evil}")
    assert done.returncode == 0, done.stderr
    for words in (("list",), ("show", "1"), ("show", "S1")):
        done = run("log", *words, "--log", log)
        assert done.returncode == 0
        assert_harmless(done.stdout + done.stderr, lines=False)
        assert "hill\\u202e\\n=cmd" in done.stdout
    done = run("compare", "--log", log, "--csv", tmp_path / "a.csv", "--report", tmp_path / "a.html")
    assert done.returncode == 0, done.stderr
    assert_harmless(done.stdout, lines=False)
    assert_harmless((tmp_path / "a.csv").read_text(encoding="utf-8"), lines=False)
    assert_harmless((tmp_path / "a.html").read_text(encoding="utf-8"), lines=False)


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("=1+1", "'=1+1"),
        (" @SUM(1)", " '@SUM(1)"),
        ("\uff1d1", "'\uff1d1"),
        ("a;=1+1", "a;'=1+1"),
        ("-3.5", "-3.5"),
        ("+1e3", "+1e3"),
        ("-3.5-1", "'-3.5-1"),
        ("ridge-40", "ridge-40"),
        ("a\r=1", "a\\r=1"),
        ("\t=1", "\\t=1"),
    ],
)
def test_cells_that_a_spreadsheet_would_run(text, shown):
    assert cell(text) == shown


def test_different_names_stay_different():
    letters = [chr(code) for code in (*range(0x500), *range(0x2000, 0x2100), *range(0xDC80, 0xDD00))]
    assert len({visible(letter) for letter in letters}) == len(letters)
    assert not any(RULES.search(visible(letter)) for letter in letters)


@pytest.mark.parametrize(
    "words",
    [
        ("--draws", 10**9),
        ("--draws", -1),
        ("--seed", 2**64),
        ("--swr-limit", "1e300"),
        ("--swr-limit", "nan"),
        ("--swr-limit", "0.5"),
        ("--reference-ohm", "1e300"),
        ("--region", 4),
        ("--line", "RG-58 1000000 m"),
        ("--line", "RG-58 1000 km"),
        ("--line", "RG-58 1e300 m"),
    ],
    ids=lambda words: " ".join(map(str, words)),
)
def test_what_no_station_has_is_refused_in_one_line(run, samples, words):
    done = run("review", samples / "ridge_dipole_40m.s1p", *words)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.startswith("sweepkit: ")
    assert done.stderr.count("\n") == 1


def test_an_option_given_twice_is_said_in_every_command(run):
    from typer.main import get_command

    from sweepkit.cli.main import app

    tried = 0
    pending = [((), get_command(app))]
    while pending:
        path, command = pending.pop()
        if hasattr(command, "commands"):
            pending += [((*path, name), below) for name, below in command.commands.items()]
            continue
        for option in command.params:
            if option.param_type_name != "option" or option.multiple or option.is_flag:
                continue
            done = run(*path, option.opts[0], "1", option.opts[0], "1")
            assert done.returncode == 2
            assert re.fullmatch(r"sweepkit: invalid value for .*given twice.*\n", done.stderr), done.stderr
            tried += 1
    assert tried > 100


def test_odd_names_and_tables(run, samples, tmp_path):
    sample = samples / "ridge_dipole_40m.s1p"
    for words in (("review", "x" * 300), ("review", sample, "--csv", tmp_path / ("x" * 300))):
        done = run(*words, "--draws", 0) if len(words) > 2 else run(*words)
        assert done.returncode == 2
        assert done.stderr.count("\n") == 1
    table = tmp_path / "bands.csv"
    for text, what in (
        ("name,region,low,high\n" + "x" * 200_000 + ",,7 MHz,7.2 MHz\n", "bands.csv"),
        (
            "name,region,low,high\n40 m,,7 MHz,7.2 MHz\n40m,2,7 MHz,7.3 MHz\n",
            "bands.csv:3: 40m has another row",
        ),
        ("name,region,low,high\na\x1bb,,7 MHz,7.2 MHz\n", "bands.csv:2: "),
    ):
        table.write_text(text, encoding="utf-8")
        done = run("review", sample, "--bands", table, "--draws", 0)
        assert done.returncode == 2
        assert what in done.stderr
        assert done.stderr.count("\n") == 1


def test_odd_sweeps_get_an_answer_or_a_reason(run, tmp_path):
    f_hz = np.linspace(6.9e6, 7.3e6, 101)
    turning = np.exp(-1j * np.linspace(0, 3, 101))
    noise = np.random.default_rng(1)
    only_noise = 0.01 * (noise.normal(size=101) + 1j * noise.normal(size=101))
    for name, gamma in (("all", turning), ("noise", only_noise), ("one", turning[:1])):
        rows = zip(f_hz, gamma.real, gamma.imag, strict=False)
        text = "# Hz S RI R 50\n" + "".join(f"{f:.1f} {a:.17g} {b:.17g}\n" for f, a, b in rows)
        path = tmp_path / f"{name}.s1p"
        path.write_text(text)
        page = ("--report", tmp_path / "a.html", "--force", "--draws", 50)
        for words in (
            ("review", path, "--plot", tmp_path / "a.png", *page),
            ("review", path, "--line", "RG-58 15 m", *page),
            ("feedline", path, *page),
            ("diagnose", path, *page),
            ("trim", path, "--kind", "dipole", "--length", "10.2 m", "--target", "7.1 MHz", *page),
        ):
            done = run(*words)
            assert done.returncode in (0, 2), (words, done.stderr[-1500:])
            assert "Traceback" not in done.stderr
            assert "Warning" not in done.stderr


def test_code_in_a_folder_is_left_out_with_a_note_by_kind(run, samples, tmp_path):
    shutil.copy(samples / "ridge_dipole_40m.s1p", tmp_path)
    for number in range(40):
        (tmp_path / f"make_{number:02}.py").write_text("f, r, x = 1, 2, 3\n1,2,3\n")
    done = run("review", tmp_path, "--draws", 0, "--json")
    assert done.returncode == 0, done.stderr
    assert len(json.loads(done.stdout)) == 1
    assert done.stderr == (
        "sweepkit: note: 40 .py files are no sweeps; left out: make_00.py, make_01.py, make_02.py and 37 more\n"
    )
