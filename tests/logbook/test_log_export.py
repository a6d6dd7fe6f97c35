import csv
import json
import os
import stat

import pytest
from log_files import s1p

from sweepkit.errors import BadInput
from sweepkit.logbook import (
    edit_setup,
    edit_sweep,
    export_logbook,
    find_setup,
    find_sweep,
    import_logbook,
    list_sweeps,
    open_logbook,
    read_history,
)
from sweepkit.logbook.adding import NewSetup, NewSweep, add_sweeps
from sweepkit.logbook.computed import keep_figures, raw_bytes


@pytest.fixture
def rich(filled):
    """Everything a logbook can hold."""
    edit_sweep(filled, 1, {"length_m": 10.1, "ground": "wet"})
    edit_sweep(filled, 2, {}, to_setup=2)
    keep_figures(filled, {1: {"review 1": {"dip_hz": 7.1e6, "note": "Ω"}}})
    return filled


def contents(folder):
    return {
        path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()
    }


def test_an_export_is_read_without_sweepkit(rich, tmp_path):
    assert export_logbook(rich, tmp_path / "out") == 3
    files = contents(tmp_path / "out")
    assert {name for name in files if name.startswith("raw/")} == {
        "raw/00001-wide.s1p", "raw/00002-near.s1p", "raw/00003-wide.s1p",
    }  # fmt: skip
    assert files["raw/00003-wide.s1p"] == s1p(3)
    assert [data for name, data in files.items() if name.startswith("kit/")] == [b"region = 2\n"]
    rows = list(csv.DictReader(files["sweeps.csv"].decode().splitlines()))
    assert [(row["sweep"], row["antenna"], row["length_m"], row["file"]) for row in rows] == [
        ("1", "ridge", "10.1", "raw/00001-wide.s1p"),
        ("2", "whip", "", "raw/00002-near.s1p"),
        ("3", "whip", "", "raw/00003-wide.s1p"),
    ]
    document = json.loads(files["logbook.json"])
    assert document["schema"] == "sweepkit/logbook/1"
    assert document["sweeps"][0]["figures"][0]["answer"] == {"dip_hz": 7.1e6, "note": "Ω"}
    assert [edit["name"] for edit in document["history"]] == ["length_m", "ground", "setup"]
    assert b"sweepkit log import" in files["README.txt"]


def test_nothing_is_lost_on_the_way_through_an_import(rich, tmp_path):
    export_logbook(rich, tmp_path / "out")
    with open_logbook(tmp_path / "other.sqlite", create=True) as other:
        done = import_logbook(other, tmp_path / "out")
        export_logbook(other, tmp_path / "again")
    assert (done.sweeps, done.setups, done.edits) == ({1: 1, 2: 2, 3: 3}, 2, 3)
    assert contents(tmp_path / "again") == contents(tmp_path / "out")


def test_importing_twice_changes_nothing(rich, tmp_path):
    export_logbook(rich, tmp_path / "out")
    done = import_logbook(rich, tmp_path / "out")
    assert (done.sweeps, done.setups, done.edits, done.there_already) == ({}, 0, 0, 3)
    export_logbook(rich, tmp_path / "again")
    assert contents(tmp_path / "again") == contents(tmp_path / "out")


def test_two_logbooks_become_one_and_numbers_that_are_taken_give_way(rich, tmp_path):
    export_logbook(rich, tmp_path / "out")
    with open_logbook(tmp_path / "other.sqlite", create=True) as other:
        add_sweeps(other, [NewSweep("mine", s1p(50))], setup=NewSetup({"antenna": "loop"}))
        done = import_logbook(other, tmp_path / "out")
        assert done.sweeps == {1: 4, 2: 2, 3: 3} or done.sweeps == {1: 2, 2: 3, 3: 4}
        assert raw_bytes(other, find_sweep(other, 1)) == s1p(50)
        assert raw_bytes(other, find_sweep(other, done.sweeps[1])) == s1p(1)
        assert find_sweep(other, done.sweeps[1]).setup.facts["antenna"] == "ridge"


def test_the_same_file_added_in_both_is_kept_twice_and_said(filled, tmp_path):
    export_logbook(filled, tmp_path / "out")
    with open_logbook(tmp_path / "other.sqlite", create=True) as other:
        add_sweeps(other, [NewSweep("mine", s1p(1), {"length_m": 9.0})], setup=NewSetup())
        done = import_logbook(other, tmp_path / "out")
        assert done.same_file == ((done.sweeps[1], 1),)
        assert {sweep.facts.get("length_m") for sweep in list_sweeps(other)} == {9.0, 10.2, None}


def test_of_edits_in_two_places_the_later_holds_and_both_are_kept(filled, tmp_path):
    export_logbook(filled, tmp_path / "first")
    with open_logbook(tmp_path / "other.sqlite", create=True) as other:
        import_logbook(other, tmp_path / "first")
        edit_setup(filled, 1, {"ground": "rock"})
        edit_setup(other, 1, {"ground": "sand"})  # the later one
        edit_setup(other, 1, {"radials": 4})
        edit_setup(filled, 1, {"tap": "3 turns"})
        export_logbook(filled, tmp_path / "here")
        export_logbook(other, tmp_path / "there")
        import_logbook(other, tmp_path / "here")
        import_logbook(filled, tmp_path / "there")
        for log in (filled, other):
            facts = find_setup(log, 1)[0].facts
            assert (facts["ground"], facts["radials"], facts["tap"]) == ("sand", 4, "3 turns")
            assert {edit.new for edit in read_history(log) if edit.name == "ground"} == {"rock", "sand"}


def test_an_export_never_overwrites(filled, tmp_path):
    out = tmp_path / "out"
    export_logbook(filled, out)
    with pytest.raises(BadInput, match=r"out: this folder holds an export; add --force"):
        export_logbook(filled, out)
    edit_sweep(filled, 1, {"length_m": 9.9})
    export_logbook(filled, out, force=True)
    assert b"9.9" in (out / "logbook.json").read_bytes()
    assert sorted(entry.name for entry in tmp_path.iterdir()) == ["log.sqlite", "out"]


def test_an_empty_folder_may_be_filled(filled, tmp_path):
    (tmp_path / "out").mkdir()
    assert export_logbook(filled, tmp_path / "out") == 3


@pytest.mark.parametrize("stranger", ["notes.txt", "raw/mine.txt", "raw/deep/mine.txt", "kit/mine.toml"])
def test_force_never_removes_what_no_export_made(filled, tmp_path, stranger):
    out = tmp_path / "out"
    export_logbook(filled, out)
    (out / stranger).parent.mkdir(exist_ok=True)
    (out / stranger).write_text("mine")
    with pytest.raises(BadInput, match="which no export makes; move it away"):
        export_logbook(filled, out, force=True)
    assert (out / stranger).read_text() == "mine"


@pytest.mark.parametrize("force", [False, True])
def test_a_folder_of_other_things_is_left_alone(filled, tmp_path, force):
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "holiday.txt").write_text("x")
    with pytest.raises(BadInput, match="this folder is not empty and holds no export"):
        export_logbook(filled, tmp_path / "out", force=force)


@pytest.mark.parametrize("force", [False, True])
def test_a_file_or_a_link_of_that_name_is_left_alone(filled, tmp_path, force):
    (tmp_path / "out").write_text("x")
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "elsewhere")
    for name in ("out", "link"):
        with pytest.raises(BadInput, match="is there and is no folder"):
            export_logbook(filled, tmp_path / name, force=force)


def test_an_export_that_fails_leaves_nothing(filled, tmp_path, monkeypatch):
    def broken(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("sweepkit.logbook.exporting.setup_rows", broken)
    with pytest.raises(
        BadInput, match=r"could not be written \(No space left on device\); nothing was changed"
    ):
        export_logbook(filled, tmp_path / "out")
    assert [entry.name for entry in tmp_path.iterdir()] == ["log.sqlite"]


@pytest.mark.skipif(os.name == "nt", reason="no modes there")
def test_an_export_has_the_mode_of_any_new_folder(filled, tmp_path):
    export_logbook(filled, tmp_path / "out")
    (tmp_path / "plain").mkdir()
    modes = [stat.S_IMODE((tmp_path / name).stat().st_mode) for name in ("out", "plain")]
    assert modes[0] == modes[1]


@pytest.mark.parametrize(
    ("name", "exported"),
    [
        ("../../etc/passwd", "00001-passwd"),
        ("..\\..\\evil.s1p", "00001-evil.s1p"),
        ("/abs/olute.s1p", "00001-olute.s1p"),
        ("..", "00001-unnamed"),
        ("", "00001-unnamed"),
        ("a\0b\x1b[2J.s1p", "00001-ab__2J.s1p"),
        ("con:aux?.s1p", "00001-con_aux_.s1p"),
        ("-rf.s1p", "00001-rf.s1p"),
        ("gr\u00fcn \udcff.s1p", "00001-gr_n__.s1p"),
        ("n" * 400 + ".s1p", "00001-" + "n" * 80),
        ("a" * 100 + ".s1p", "00001-" + "a" * 76 + ".s1p"),
    ],
)
def test_a_name_stays_in_the_folder_and_harms_nobody(log, tmp_path, name, exported):
    add_sweeps(log, [NewSweep(name, s1p(1))], setup=NewSetup())
    export_logbook(log, tmp_path / "out")
    assert os.listdir(tmp_path / "out" / "raw") == [exported]


def test_a_spreadsheet_runs_nothing(log, tmp_path):
    setup = NewSetup({"antenna": "=1+1", "note": "@x", "site": "-2", "line": ["+a", "b"]})
    add_sweeps(log, [NewSweep("a", s1p(1), {"by": "cut", "change_m": -0.1})], setup=setup)
    export_logbook(log, tmp_path / "out")
    (row,) = csv.DictReader((tmp_path / "out" / "sweeps.csv").read_text().splitlines())
    assert (row["antenna"], row["note"], row["site"], row["line"]) == ("'=1+1", "'@x", "'-2", "'+a + b")
    assert row["change_m"] == "-0.1"  # a number is a number
