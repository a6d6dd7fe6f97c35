import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from log_files import alter, s1p

from sweepkit.errors import BadInput
from sweepkit.logbook import (
    edit_setup,
    find_setup,
    find_sweep,
    list_lines,
    list_sweeps,
    open_logbook,
    reviewed,
)
from sweepkit.logbook.computed import raw_bytes
from sweepkit.quantities import frequency_text
from sweepkit.readers import read_sweep
from sweepkit.reviews import review, summarise
from tests.command_line import run_here

ROOT = Path(__file__).parents[2]
pytestmark = pytest.mark.usefixtures("each_review_once")


@pytest.fixture
def run(files, monkeypatch):
    """Run ``sweepkit log`` in the folder with the sweeps."""
    monkeypatch.chdir(files)
    monkeypatch.delenv("SWEEPKIT_LOG", raising=False)
    monkeypatch.setenv("COLUMNS", "120")  # wide enough for a listing in columns

    def command(*arguments, code=0):
        done = run_here("log", *arguments)
        assert done.returncode == code, done.stdout + done.stderr
        return done

    return command


RIDGE = ("--site", "hill", "--antenna", "ridge")


def test_ids_go_to_stdout_one_a_line_and_the_rest_to_stderr(run, files):
    done = run("add", "sweep1.s1p", "sweep2.s1p", *RIDGE)
    assert done.stdout == "1\n2\n"
    assert f"sweepkit: note: made the logbook {files / 'sweepkit.sqlite'}\n" in done.stderr
    assert "not known yet: when, measured_at, kind, length, line" in done.stderr
    assert "made the logbook" not in run("add", "sweep3.s1p", *RIDGE).stderr
    with open_logbook("sweepkit.sqlite") as log:
        assert raw_bytes(log, find_sweep(log, 2)) == s1p(2)
        assert [sweep.setup.id for sweep in list_sweeps(log)] == ["S1", "S1", "S2"]


@pytest.mark.parametrize("way", ["option", "environment", "both"])
def test_where_the_logbook_is(run, tmp_path, monkeypatch, way):
    path = tmp_path / "my log.sqlite"
    if way != "option":
        monkeypatch.setenv("SWEEPKIT_LOG", str(path if way == "environment" else tmp_path / "no"))
    run("add", "sweep1.s1p", *(["--log", str(path)] if way != "environment" else []))
    assert path.exists()
    assert not Path("sweepkit.sqlite").exists()


def test_facts_come_from_options_then_the_file_then_the_last_setup_then_the_kit(run, files):
    Path("kit.toml").write_text(
        '[lines.spool]\ntype = "RG-58"\nlength = "15 m"\n'
        '[antennas.ridge]\nkind = "dipole"\nlength = "10.2 m"\nline = "spool"\nradials = 2\n'
    )
    first = run(
        "add", "sweep1.s1p", *RIDGE, "--kit", "kit.toml", "--set", "radials=3", "--set", "choke=at feed"
    )
    assert (
        "not stated, so from the kit and the line: "
        "kind = dipole; line = spool; measured_at = radio; length = 10.20 m\n" in first.stderr
    )
    Path("setup.toml").write_text('ground = "wet"\nchoke = "none"\nsite = "moor"\n')
    second = run("add", "sweep2.s1p", *RIDGE, "--set", "ground=dry")
    assert (
        "so from setup S1: kind = dipole; line = spool; radials = 3; measured_at = radio; length = 10.20 m\n"
        in second.stderr
    )
    with open_logbook("sweepkit.sqlite") as log:
        setup = find_setup(log, 2)[0]
    assert dict(setup.facts) == {
        "antenna": "ridge", "site": "hill", "kind": "dipole", "line": ["spool"], "radials": 3, "ground": "dry",
        "choke": "none",
    }  # fmt: skip
    assert setup.taken_over == ("kind", "line", "radials")
    assert setup.kit_sha256 is not None  # the kit goes with the line that it names


def test_a_fold_shortens_and_belongs_to_the_first_of_several_files(run):
    run("add", "sweep1.s1p", *RIDGE, "--set", "length=10.2 m", "--set", "tail=0 m")
    run("add", "sweep2.s1p", "sweep3.s1p", *RIDGE, "--set", "by=fold", "--set", "change=-9 cm")
    sweeps = json.loads(run("list", "--json").stdout)["sweeps"]
    assert [(one["length_m"], one["tail_m"], one["by"], one["change_m"]) for one in sweeps] == [
        (10.2, 0.0, None, None), (10.11, 0.09, "fold", -0.09), (10.11, 0.09, None, None),
    ]  # fmt: skip


def test_each_file_can_have_its_own_part_of_the_setup_file(run):
    Path("setup.toml").write_text(
        'antenna = "ridge"\nlength = "10.2 m"\n[sweep."sweep2.s1p"]\nby = "cut"\nchange = "-5 cm"\n'
        'length = "10.15 m"\n[sweep."sweep3.s1p"]\nmeasured-at = "feedpoint"\n'
    )
    run("add", "sweep1.s1p", "sweep2.s1p", "sweep3.s1p")
    sweeps = json.loads(run("list", "--json").stdout)["sweeps"]
    assert [(one["length_m"], one["by"], one["measured_at"]) for one in sweeps] == [
        (10.2, None, None), (10.15, "cut", None), (10.2, None, "feedpoint"),
    ]  # fmt: skip


def test_fresh_takes_nothing_over(run):
    run("add", "sweep1.s1p", *RIDGE, "--set", "radials=4", "--measured-at", "feedpoint")
    assert "not stated" not in run("add", "sweep2.s1p", *RIDGE, "--fresh").stderr
    assert json.loads(run("show", "S2", "--json").stdout)["setup"]["radials"] is None


def test_adding_to_the_setup_that_still_stands(run):
    run("add", "sweep1.s1p", *RIDGE, "--set", "ground=wet")
    assert "if S1 still stood, log edit ID --setup S1 joins them" in run("add", "sweep2.s1p", *RIDGE).stderr
    run("edit", "2", "--setup", "S1")
    run("add", "sweep3.s1p", "--antenna", "ridge", "--setup", "last")
    assert [one["setup"] for one in json.loads(run("list", "--json").stdout)["sweeps"]] == ["S1"] * 3


def test_a_standing_setup_is_not_changed_by_the_way(run):
    run("add", "sweep1.s1p", *RIDGE, "--set", "ground=wet")
    done = run("add", "sweep2.s1p", "--setup", "S1", "--set", "ground=dry", code=2)
    assert "setup S1 has another ground than stated" in done.stderr
    assert "log edit S1 --set ground=" in done.stderr
    assert done.stdout == ""


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--setup", "S9"), "there is no setup S9"),
        (("--setup", "9"), "'9' is no setup; one that log list shows was expected; write it like S4"),
        (("--setup", "last"), "no antenna was named"),
        (("--setup", "last", "--antenna", "loop"), "there is no setup of 'loop' yet"),
        (("--set", "ground"), "--set 'ground' has no '='"),
        (("--set", "grond=wet"), "no field 'grond'; one of these was expected: ground"),
        (("--set", "length=10"), "length: '10' has no unit"),
        (("--measured-at", "tuner"), "'tuner' is not one of radio, feedpoint"),
        (("--when", "2026-05-02T10:00"), "has no zone"),
        (("--line", "spool"), "line 'spool' is not in the kit"),
        (("--set", "grid=KM72lf"), "'KM72lf' tells the place more exactly than its square; write KM72"),
        (("--kit", "none.toml"), "none.toml"),
        (("--unit", "furlong"), "--unit is 'furlong'"),
    ],
)
def test_a_mistake_costs_one_line_and_adds_nothing(run, arguments, words):
    done = run("add", "sweep1.s1p", *arguments, code=2)
    assert words in done.stderr
    assert done.stdout == ""
    assert "Traceback" not in done.stderr
    assert not Path("sweepkit.sqlite").exists() or "no such sweeps" in run("list").stderr


def test_a_place_is_kept_exactly_only_on_request(run):
    run("add", "sweep1.s1p", "--set", "grid=km72LF", "--exact-place")
    assert json.loads(run("show", "S1", "--json").stdout)["setup"]["grid"] == "KM72lf"
    assert "tells the place" in run("edit", "S1", "--set", "grid=KM72lg", code=2).stderr


def test_a_bad_file_among_good_ones_stops_nothing(run):
    Path("notes.txt").write_text("nothing to see")
    done = run("add", "sweep1.s1p", "notes.txt", "none.s1p", "sweep2.s1p", *RIDGE, code=2)
    assert done.stdout == "1\n2\n"
    assert "sweepkit: notes.txt:" in done.stderr
    assert "sweepkit: none.s1p: no such file" in done.stderr


def test_json_keeps_the_order_with_errors_in_their_place(run):
    Path("notes.txt").write_text("nothing to see")
    done = run("add", "sweep1.s1p", "notes.txt", "sweep2.s1p", "--json", code=2)
    document = json.loads(done.stdout)
    assert document["schema"] == "sweepkit/log-add/1"
    assert [one.get("id") or one["schema"] for one in document["sweeps"]] == [1, "sweepkit/error/1", 2]


def test_when_nothing_can_be_read_no_logbook_is_made(run):
    run("add", "none.s1p", code=2)
    assert not Path("sweepkit.sqlite").exists()


def test_a_folder_gives_its_sweeps(run, files, tmp_path):
    (files / "notes.txt").write_text("nothing to see")
    done = run("add", str(files), *RIDGE, "--log", str(tmp_path / "log.sqlite"))
    assert done.stdout == "1\n2\n3\n"
    assert "notes.txt is no sweep; left out" in done.stderr


def test_folders_have_their_own_setup_file_and_setup(run, files):
    (files / "other").mkdir()
    (files / "other" / "late.s1p").write_bytes(s1p(9))
    (files / "other" / "setup.toml").write_text("site = 'beach'\n")
    run("add", "sweep1.s1p", "other/late.s1p", "--antenna", "ridge")
    assert [one["site"] for one in json.loads(run("list", "--json").stdout)["sweeps"]] == [None, "beach"]
    assert (
        "left out" not in run("add", "other", "--antenna", "ridge").stderr
    )  # it was read, though it is no sweep


def test_a_bad_setup_file_keeps_out_its_folder_only(run, files):
    (files / "other").mkdir()
    (files / "other" / "late.s1p").write_bytes(s1p(9))
    (files / "other" / "setup.toml").write_text("site = hill\n")
    done = run("add", "sweep1.s1p", "other/late.s1p", "sweep2.s1p", code=2)
    assert done.stdout == "1\n2\n"
    assert "setup.toml: this is not TOML" in done.stderr


def test_the_same_file_twice_is_noticed_and_its_number_given(run):
    run("add", "sweep1.s1p", *RIDGE)
    done = run("add", "sweep1.s1p", *RIDGE, "--when", "now")
    assert done.stdout == "1\n"
    assert "sweep1.s1p is in the logbook already, as sweep 1 of setup S1; nothing was added" in done.stderr
    other = run("add", "sweep1.s1p", "--antenna", "whip", code=2)
    assert "with another antenna; it was not changed; use log edit 1" in other.stderr


def test_the_time_of_the_file_or_of_now_only_when_asked(run):
    os.utime("sweep1.s1p", (1_777_710_600, 1_777_710_600))
    run("add", "sweep1.s1p", "--when", "file")
    run("add", "sweep2.s1p", "--when", "now")
    run("add", "sweep3.s1p")
    from datetime import UTC, datetime

    first, second, third = (one["when"] for one in json.loads(run("list", "--json").stdout)["sweeps"])
    assert datetime.fromisoformat(first) == datetime.fromtimestamp(1_777_710_600, UTC)
    assert abs((datetime.fromisoformat(second) - datetime.now(UTC)).total_seconds()) < 60
    assert third is None


def test_hints_are_kept_so_that_the_file_can_be_read_again(run):
    Path("table.csv").write_text("freq,r,x\n" + "".join(f"{7 + k / 100:.2f},50,{k}\n" for k in range(12)))
    run("add", "table.csv", "--unit", "MHz")
    assert json.loads(run("show", "1", "--json").stdout)["sweeps"][0]["hints"] == {"unit": "MHz"}


def test_list_show_and_edit_for_people(run):
    run("add", "sweep1.s1p", *RIDGE, "--when", "2026-05-02T09:30+02:00", "--set", "length=10.2 m")
    run("add", "sweep2.s1p", "--antenna", "whip", "--set", "ground=wet")
    listed = run("list").stdout.splitlines()
    assert listed[0].split() == ["sweep", "setup", "when", "antenna", "site", "at", "length", "dip", "file"]
    assert listed[1].split() == [
        "1", "S1", "2026-05-02T09:30:00+02:00", "ridge", "hill", "-", "10.20", "m", "-", "sweep1.s1p",
    ]  # fmt: skip
    assert len(run("list", "--antenna", "whip").stdout.splitlines()) == 2
    assert "no such sweeps" in run("list", "--site", "moon").stderr
    assert run("edit", "2", "--set", "ground=dry", "--set", "set-aside=coax was off").stdout == (
        "sweep 2: set_aside: unknown -> coax was off\nS2: ground: wet -> dry\n"
    )
    shown = run("show", "2").stdout
    assert "  ground = dry\n" in shown
    assert "S2: ground: wet -> dry\n" in shown
    assert "sweep2.s1p (set aside)" in run("list").stdout
    assert "was so already" in run("edit", "2", "--set", "ground=dry").stderr
    assert "length = 10.20 m\n" in run("show", "1").stdout
    assert "sweep1.s1p" in run("show", "s1").stdout


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("show", "77"), "there is no sweep 77"),
        (("show", "S77"), "there is no setup S77"),
        (("show", "ridge"), "'ridge' is no number of the logbook"),
        (("show", "9" * 30), "is no number of the logbook"),
        (("edit", "1"), "nothing to change was given"),
        (("edit", "S1", "--setup", "S1"), "S1 is a setup; only a sweep moves"),
        (("edit", "S1", "--set", "length=1 m"), "length_m belongs to one sweep"),
        (("list", "--log", "none.sqlite"), "none.sqlite: there is no logbook here"),
        (("check", "--log", "sweep1.s1p"), "sweep1.s1p: this file is not a logbook"),
        (("import", "."), "logbook.json: there is no such file; import reads a folder"),
    ],
)
def test_what_is_not_there_is_said_in_one_line(run, arguments, words):
    run("add", "sweep1.s1p", *RIDGE)
    done = run(*arguments, code=2)
    assert words in done.stderr
    assert len(done.stderr.splitlines()) == 1


def test_export_import_check(run, files):
    run("add", "sweep1.s1p", "sweep2.s1p", *RIDGE)
    assert run("export", "out").stdout == "2 sweeps written to out\n"
    assert (files / "out" / "raw" / "00001-sweep1.s1p").read_bytes() == s1p(1)
    assert "add --force" in run("export", "out", code=2).stderr
    run("export", "out", "--force")
    again = run("import", "out", "--log", "other.sqlite")
    assert again.stdout == "new: 2 sweeps, 1 setup, 0 edits; there already: 0 sweeps\n"
    document = json.loads(run("import", "out", "--log", "other.sqlite", "--json").stdout)
    assert (document["schema"], document["sweeps"], document["there_already"]) == (
        "sweepkit/log-import/1",
        [],
        2,
    )
    size = len(s1p(1)) + len(s1p(2))
    assert (
        run("check").stdout == f"sweepkit.sqlite is whole: 2 sweeps, 1 setup, 2 raw files of {size} bytes\n"
    )
    assert json.loads(run("check", "--json").stdout)["whole"] is True


def test_check_of_a_damaged_logbook_ends_with_2(run):
    run("add", "sweep1.s1p", *RIDGE)
    alter("sweepkit.sqlite", "UPDATE sweep SET facts = '{\"length_m\": -1}'")
    done = run("check", "--json", code=2)
    assert json.loads(done.stdout)["problems"] == [
        "sweep 1: it is not as it was written (its digest differs); the sweep is left out"
    ]
    assert "sweepkit: sweepkit.sqlite: sweep 1: it is not as it was written" in done.stderr
    assert (
        "note: keep this file; log export DIR and log import DIR into a new logbook give back" in done.stderr
    )


def test_no_name_or_note_rules_the_terminal(run):
    os.rename("sweep1.s1p", "a\x1b[2Jb.s1p")
    done = run("add", "a\x1b[2Jb.s1p")
    for output in (done.stderr, run("list").stdout, run("show", "1").stdout, run("list", "--json").stdout):
        assert "\x1b" not in output
    assert "a\\x1b[2Jb.s1p" in run("list").stdout


def test_listing_loads_no_numpy(run):
    run("add", "sweep1.s1p", *RIDGE)
    code = (
        "import sys; from sweepkit.cli.main import app\n"
        "try: app(['log', 'list'])\n"
        "except SystemExit as end: assert end.code == 0\n"
        "print(sorted({'numpy', 'skrf', 'pandas', 'matplotlib', 'scipy'} & set(sys.modules)))"
    )
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, env=environment)
    assert done.stdout.splitlines()[-1] == "[]"
    assert "sweep1.s1p" in done.stdout


RIDGE_SWEEP = ROOT / "sample_sweeps" / "valley_dipole_rg58.s1p"


@pytest.fixture
def ridge(run):
    """A dipole at the end of its line, added."""
    run("add", str(RIDGE_SWEEP), *RIDGE, "--line", "RG-58 15 m", "--measured-at", "radio")
    return summarise(review(read_sweep(RIDGE_SWEEP), lines=["RG-58 15 m"], measured_at="radio"))


def test_adding_keeps_the_figures_and_the_listing_has_the_dip(run, ridge):
    dip_hz = ridge.planes["feedpoint"][0].dip_hz.value
    with open_logbook("sweepkit.sqlite") as log:
        assert [line.dip_hz for line in list_lines(log)] == [dip_hz]
    assert f"  {frequency_text(dip_hz)}  {RIDGE_SWEEP.name}" in run("list").stdout
    assert f"  {frequency_text(dip_hz)}  {RIDGE_SWEEP.name}" in run("show", "S1").stdout


def test_figures_are_made_for_all_sweeps_and_what_has_none_is_told(run, ridge):
    assert run("figures").stdout == "1 sweep: 0 reviewed now, 0 without figures\n"
    run("edit", "S1", "--set", "line=no such line")
    done = run("figures")
    assert done.stdout == "1 sweep: 1 reviewed now, 1 without figures\n"
    assert "sweep 1 has no figures: " in done.stderr
    kept = json.loads(run("figures", "--json").stdout)
    assert (kept["schema"], kept["sweeps"], kept["reviewed"]) == ("sweepkit/log-figures/1", 1, 0)
    assert [one["id"] for one in kept["without"]] == [1]
    assert "not in the kit" in kept["without"][0]["reason"]


def test_show_has_the_figures_with_their_intervals(run, ridge):
    assert json.loads(run("show", "1", "--json").stdout)["sweeps"][0]["figures"] == ridge.to_json()
    dip = ridge.planes["feedpoint"][0]
    shown = run("show", "1").stdout
    assert "figures at the feedpoint\n" in shown
    assert "figures at the radio\n" in shown
    for label, figure, scale, digits, unit in (
        ("dip", dip.dip_hz, 1e6, 3, " MHz"),
        ("SWR", dip.dip_swr, 1, 2, ""),
        ("R", dip.r_ohm, 1, 1, " ohm"),
        ("Q", dip.q, 1, 1, ""),
        ("bandwidth at SWR 2", dip.bandwidth_hz, 1e3, 0, " kHz"),
    ):
        value, low, high = (f"{part / scale:.{digits}f}" for part in (figure.value, figure.low, figure.high))
        assert f"  {label} = {value} ({low} to {high}){unit}\n" in shown


@pytest.mark.parametrize("error", [BadInput("no dip of ours"), ZeroDivisionError("our fault")])
def test_a_review_that_fails_loses_nothing(run, files, monkeypatch, error):
    def fail(*_):
        with open_logbook("sweepkit.sqlite") as log:  # by then all of them are there for anyone to read
            assert [raw_bytes(log, sweep) for sweep in list_sweeps(log)] == [s1p(1), s1p(2)]
        raise error

    monkeypatch.setattr(reviewed, "_review", fail)
    done = run("add", "sweep1.s1p", "sweep2.s1p", *RIDGE)
    assert done.stdout == "1\n2\n"
    assert "sweep 1 is stored" in done.stderr
    assert "sweep 2 is stored" in done.stderr
    assert str(error) in done.stderr


def test_an_interrupted_review_leaves_every_sweep_stored(run, monkeypatch):
    def interrupt(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr(reviewed, "_review", interrupt)
    assert run("add", "sweep1.s1p", "sweep2.s1p", *RIDGE, code=130).stdout == "1\n2\n"
    with open_logbook("sweepkit.sqlite") as log:
        assert [raw_bytes(log, sweep) for sweep in list_sweeps(log)] == [s1p(1), s1p(2)]


def test_why_a_sweep_has_no_figures_is_shown(run):
    run("add", "sweep1.s1p", *RIDGE)
    with open_logbook("sweepkit.sqlite") as log:
        edit_setup(log, 1, {"line": ["no such line"]})
    assert "no figures: line 'no such line' is not in the kit" in run("show", "1").stdout
    assert "not in the kit" in json.loads(run("show", "1", "--json").stdout)["sweeps"][0]["figures"]["reason"]


@pytest.mark.parametrize(
    ("line", "kept"), [(("--line", "RG-58 15 m"), "radio"), (("--line", "none"), None), ((), None)]
)
def test_with_a_line_it_was_measured_at_the_radio_unless_told(run, files, line, kept):
    done = run("add", "sweep1.s1p", *RIDGE, *line)
    assert ("measured_at" in done.stderr.partition("not known yet")[2]) == (kept is None)
    assert ("not stated, so from the line: measured_at = radio\n" in done.stderr) == (kept == "radio")
    run("add", "sweep2.s1p", *RIDGE, *line, "--measured-at", "feedpoint")
    with open_logbook("sweepkit.sqlite") as log:
        assert [one.facts.get("measured_at") for one in list_sweeps(log)] == [kept, "feedpoint"]
