"""Help with examples that run, stdin as a file, a logbook found above, kits begun and checked, a row per band."""

import csv
import io
import json
import shlex
import sys

import pytest

from sweepkit.cli.help import EXAMPLES, ORDER
from sweepkit.cli.main import COMMANDS
from sweepkit.kit import read_kit
from tests.cli.everyday_lines import HELP
from tests.conftest import ROOT

DIPOLE = "ridge_dipole_40m.s1p"
LIBRARY_WORDS = ("<int>", "<str>", "<float>", "INTEGER", " TEXT", "PATH...", "RANGE")
JARGON = ("statistic", "degrees of freedom", "posterior", "off the circle", "e+02", "nan", "None")


class Piped(io.TextIOWrapper):
    def __init__(self, data):
        super().__init__(io.BytesIO(data), encoding="utf-8")


@pytest.mark.parametrize("name", EXAMPLES)
def test_help_has_groups_two_examples_and_no_words_of_the_library(run, name):
    helped = run(*name.split(), "-h", columns="80")
    assert helped.returncode == 0
    assert helped.stdout == run(*name.split(), "--help", columns="80").stdout
    assert ("How to read:" in helped.stdout) == (
        (name in COMMANDS and name not in ("kit", "log")) or name == "log add"
    )
    assert not [word for word in (*LIBRARY_WORDS, *JARGON) if word in helped.stdout]
    sections = [
        line.rstrip(":") for line in helped.stdout.splitlines() if line.endswith(":") and line[0] != " "
    ]
    if name in ("", "kit", "log"):
        assert sections == ["Options", "Commands", "Examples"]
    else:
        assert [*(group for group in ORDER if group in sections), "Examples"] == sections
    assert helped.stdout.count("\n  sweepkit ") == 2


def test_every_command_has_examples():
    assert set(HELP) == set(EXAMPLES)


@pytest.mark.parametrize(
    ("typed", "wanted"),
    [("sweepkit rev", "review"), ("sweepkit trim --leng", "--length"), ("sweepkit log ex", "export")],
)
def test_a_shell_completes_commands_and_options(run, typed, wanted, monkeypatch):
    asked = {"_SWEEPKIT_COMPLETE": "complete_bash", "COMP_WORDS": typed, "COMP_CWORD": str(typed.count(" "))}
    for name, value in asked.items():
        monkeypatch.setenv(name, value)
    assert run().stdout.split() == [wanted]


@pytest.mark.parametrize("line", [line for lines in EXAMPLES.values() for line in lines])
def test_the_examples_of_help_run_from_a_clone(run, line, tmp_path, monkeypatch):
    """With the kit, the logbook and its export of earlier examples, where they are named."""
    (tmp_path / "sample_sweeps").symlink_to(ROOT / "sample_sweeps")
    monkeypatch.delenv("SWEEPKIT_LOG", raising=False)
    before = [EXAMPLES["kit"][0]] if "kit.toml" in line and " kit new" not in line else []
    if " log " in line and " log add" not in line:
        before.append(EXAMPLES["log"][0])
    if " log import" in line:
        before.append(EXAMPLES["log export"][0])
    for earlier in before:
        assert run(*shlex.split(earlier)[1:], cwd=tmp_path).returncode == 0
    few = () if line.split()[1] in ("log", "kit", "convert") or "--help" in line else ("--draws", "20")
    done = run(*shlex.split(line)[1:], *few, cwd=tmp_path)
    assert done.returncode == 0, done.stderr


def test_a_sweep_is_read_from_stdin(run, samples, monkeypatch):
    data = (samples / DIPOLE).read_bytes()
    monkeypatch.setattr(sys, "stdin", Piped(data))
    piped = run("review", "-", "--measured-at", "feedpoint", "--json")
    named = run("review", samples / DIPOLE, "--measured-at", "feedpoint", "--json")
    assert piped.returncode == 0
    assert piped.stdout.replace('"path": "-"', "") == named.stdout.replace(
        f'"path": "{samples / DIPOLE}"', ""
    )
    monkeypatch.setattr(sys, "stdin", Piped(data))
    assert run("feedline", "-", "--end", "open", "--draws", "5").returncode in (0, 2)
    monkeypatch.setattr(sys, "stdin", Piped(data))
    assert run("review", "-").stdout.count("stdin: 6.500 to 7.700 MHz") == 1
    places = ("--kind", "dipole", "--length", "10.58 m", "--band", "40 m", "--target", "7.05 MHz")
    places = (*places, "--draws", 20)
    named = run("trim", samples / DIPOLE, *places)
    monkeypatch.setattr(sys, "stdin", Piped(data))
    piped = run("trim", "-", *places)
    assert piped.returncode == named.returncode == 0
    assert piped.stdout.replace("stdin", DIPOLE) == named.stdout


def test_a_sweep_on_stdin_goes_into_the_logbook_byte_for_byte(run, samples, tmp_path, monkeypatch):
    data = (samples / "ridge_dipole_40m.s1p").read_bytes()
    monkeypatch.setattr(sys, "stdin", Piped(data))
    done = run(
        "log",
        "add",
        "-",
        "--site",
        "ridge",
        "--antenna",
        "a",
        "--when",
        "now",
        "--log",
        "l.sqlite",
        cwd=tmp_path,
    )
    assert (done.returncode, done.stdout) == (0, "1\n")
    assert run("log", "export", "out", "--log", "l.sqlite", cwd=tmp_path).returncode == 0
    assert [path.read_bytes() for path in tmp_path.glob("out/raw/*stdin")] == [data]
    monkeypatch.setattr(sys, "stdin", Piped(data + b"\n"))
    done = run("log", "add", "-", "--antenna", "a", "--when", "file", "--log", "l.sqlite", cwd=tmp_path)
    assert done.returncode == 2
    assert "tell when=now" in done.stderr


@pytest.mark.parametrize(("data", "says"), [(b"", "stdin is empty"), (b"no sweep at all\n", "sweepkit: -:")])
def test_nothing_or_nonsense_on_stdin_is_one_line(run, data, says, monkeypatch):
    monkeypatch.setattr(sys, "stdin", Piped(data))
    done = run("review", "-")
    assert done.returncode == 2
    assert says in done.stderr
    assert done.stderr.count("\n") == 1


def test_the_logbook_in_the_nearest_folder_above_is_found_and_named(run, samples, tmp_path, monkeypatch):
    monkeypatch.delenv("SWEEPKIT_LOG", raising=False)
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    monkeypatch.setenv("USERPROFILE", str(tmp_path / "home"))
    inside = tmp_path / "home" / "outing" / "ridge"
    inside.mkdir(parents=True)
    run("log", "add", samples / DIPOLE, "--site", "ridge", "--antenna", "dipole", cwd=tmp_path / "home")
    listed = run("log", "list", cwd=inside)
    assert len(listed.stdout.splitlines()) == 2
    assert (
        listed.stderr
        == f"sweepkit: note: the logbook is {(tmp_path / 'home' / 'sweepkit.sqlite').resolve()}\n"
    )
    run("log", "add", samples / DIPOLE, "--site", "ridge", "--antenna", "dipole", cwd=inside)
    assert not (inside / "sweepkit.sqlite").exists()


def test_no_logbook_above_the_home_folder_is_taken(run, samples, tmp_path, monkeypatch):
    monkeypatch.delenv("SWEEPKIT_LOG", raising=False)
    home = tmp_path / "home"
    (home / "outing").mkdir(parents=True)
    run("log", "add", samples / DIPOLE, "--site", "s", "--antenna", "a", cwd=tmp_path)
    for name in ("HOME", "USERPROFILE"):
        monkeypatch.setenv(name, str(home))
    assert run("log", "list", cwd=home / "outing").returncode == 2


def test_a_kit_is_begun_reads_back_and_is_explained(run, tmp_path):
    told = (
        "--power",
        "10 W",
        "--region",
        "2",
        "--line",
        "spool=RG-58 15 m",
        "--antenna",
        "ridge=dipole 10.2 m",
    )
    made = run("kit", "new", *told, "--tuner-swr", "1", "--points", "101", cwd=tmp_path)
    assert made.returncode == 0, made.stderr
    kit = read_kit(tmp_path / "kit.toml")
    assert (kit.radio.power_w, kit.region, kit.tuner, kit.analyzer.points) == (10, 2, None, (101,))
    assert kit.lines["spool"].length_m == 15
    assert kit.antennas["ridge"].kind == "dipole"
    said = run("kit", "check", "kit.toml", cwd=tmp_path).stdout
    assert "radio: 10 W" in said
    assert "line spool: RG-58, 15.00 m" in said
    assert run("kit", "new", *told, cwd=tmp_path).returncode == 2  # nothing is written over


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ((), "without a terminal nothing can be asked"),
        (("--power", "10"), 'write it like "10 W"'),
        (("--line", "RG-58 15 m"), "a name of its own"),
        (("--line", "spool=RG-85 15 m"), "RG-58"),
        (("--antenna", "ridge=dipol 10 m"), "dipole"),
        (("--antenna", "ridge=dipole"), "has no length"),
    ],
)
def test_a_kit_that_cannot_be_is_one_line_and_no_file(run, words, says, tmp_path, monkeypatch):
    monkeypatch.setattr(sys, "stdin", Piped(b""))
    done = run("kit", "new", *words, cwd=tmp_path)
    assert done.returncode == 2
    assert says in done.stderr
    assert done.stderr.count("\n") == 1
    assert not list(tmp_path.iterdir())


def test_a_mistyped_key_of_a_kit_is_named_with_its_line(run, tmp_path):
    (tmp_path / "kit.toml").write_text("[radio]\npower = 10\n", encoding="utf-8")
    done = run("kit", "check", "kit.toml", cwd=tmp_path)
    assert done.returncode == 2
    assert done.stderr.startswith("sweepkit: kit.toml:2: ")
    assert "power_w" in done.stderr


def test_the_legs_of_a_fan_are_written_and_shown(run, tmp_path):
    told = ("--antenna", "glade=fan 40 m=10.72 m, 20 m=5.34 m")
    assert run("kit", "new", *told, cwd=tmp_path).returncode == 0
    assert read_kit(tmp_path / "kit.toml").antennas["glade"].lengths_m == {"40 m": 10.72, "20 m": 5.34}
    said = run("kit", "check", "kit.toml", cwd=tmp_path).stdout
    assert "antenna glade: fan, 10.72 m for 40 m, 5.34 m for 20 m" in said
    half = run("kit", "new", "--antenna", "glade=fan 40 m=10.72 m, 20 m", "--force", cwd=tmp_path)
    assert half.returncode == 2


def test_bands_have_rows_of_their_own(run, samples, tmp_path):
    tables = ("--csv", tmp_path / "sweeps.csv", "--csv-bands", tmp_path / "bands.csv")
    done = run("review", samples / "spit_whip_40m_coarse.s1p", samples / DIPOLE, *tables, "--draws", "20")
    assert done.returncode == 0, done.stderr
    rows = list(csv.DictReader(io.StringIO((tmp_path / "bands.csv").read_text(encoding="utf-8"))))
    sweeps = list(csv.DictReader(io.StringIO((tmp_path / "sweeps.csv").read_text(encoding="utf-8"))))
    assert [row["path"] for row in sweeps] == [
        str(samples / "spit_whip_40m_coarse.s1p"),
        str(samples / DIPOLE),
    ]
    assert rows[-1]["band"] == "40 m"
    assert rows[-1]["verdict"] == "direct"
    assert float(rows[-1]["direct_low_hz"]) == 7.0e6
    assert len(rows) == sum(len(row["bands"].split("; ")) for row in sweeps)
    same = run("review", samples / DIPOLE, "--csv", tmp_path / "x.csv", "--csv-bands", tmp_path / "x.csv")
    assert same.returncode == 2


@pytest.mark.parametrize(
    "words",
    [
        ("trim", "BAD", "--kind", "dipole", "--length", "10 m", "--target", "7 MHz"),
        ("feedline", "BAD", "--end", "open"),
        ("diagnose", "BAD"),
        ("diagnose", "GOOD", "BAD"),
        ("bench", "BAD", "--into", "open"),
        ("review", "GOOD", "--band", "nowhere"),
        ("review", "GOOD", "--seed", "soon"),
        ("log", "show", "1", "--log", "NONE"),
    ],
    ids=" ".join,
)
def test_json_is_one_document_where_there_is_no_answer_too(run, samples, tmp_path, words):
    bad = tmp_path / "bad.s1p"
    bad.write_text("# MHz S RI R 50\n7.0 0.1 0.2\n7.1 oops 0.2\n")
    paths = {"BAD": bad, "GOOD": samples / DIPOLE, "NONE": tmp_path / "none.sqlite"}
    done = run(*(paths.get(word, word) for word in words), "--json")
    assert done.returncode == 2
    document = json.loads(done.stdout)
    assert document["schema"] == "sweepkit/error/1"
    where = document["path"] or ""
    line = f"{where}:{document['line']}" if document["line"] else where
    assert done.stderr.splitlines()[-1] == "sweepkit: " + (f"{line}: " if line else "") + document["text"]
    if "BAD" in words:
        assert (document["path"], document["line"]) == (str(bad), 3)


def test_an_empty_folder_takes_no_other_file_along(run, samples, tmp_path):
    done = run("review", tmp_path, samples / DIPOLE, "--json", "--draws", "0")
    assert done.returncode == 2
    assert [one["schema"] for one in json.loads(done.stdout)] == ["sweepkit/error/1", "sweepkit/review/1"]
    assert "the folder holds no files" in done.stderr


@pytest.mark.parametrize(
    "words",
    [("review", "FOLDER"), ("plot", "FOLDER", "-o", "PICTURE"), ("log", "add", "FOLDER", "--log", "LOG")],
    ids=" ".join,
)
def test_a_folder_without_a_sweep_is_said_with_exit_2(run, tmp_path, words):
    folder = tmp_path / "outing"
    folder.mkdir()
    (folder / "notes.txt").write_text("Antenna up at nine, rain at ten.\n")
    (folder / "list.md").write_text("- coax\n")
    paths = {"FOLDER": folder, "PICTURE": tmp_path / "dip.png", "LOG": tmp_path / "own.sqlite"}
    done = run(*(paths.get(word, word) for word in words))
    assert done.returncode == 2
    assert done.stdout == ""
    assert (
        f"sweepkit: {folder}: there is no sweep among these files; name a folder with sweeps" in done.stderr
    )
