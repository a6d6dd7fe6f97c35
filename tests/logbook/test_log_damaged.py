"""One damaged record hides no good one: every command answers from the rest, says so, and ends with 2."""

import json
import os
import signal
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest
from log_files import alter, every_setup, open_damaged, replace_row, s1p

from sweepkit.errors import BadInput
from sweepkit.logbook import (
    check_logbook,
    export_logbook,
    find_sweep,
    import_logbook,
    list_lines,
    list_sweeps,
    open_logbook,
    read_history,
)
from sweepkit.logbook.adding import NewSetup, NewSweep, add_sweeps
from sweepkit.logbook.computed import raw_bytes
from sweepkit.logbook.digests import digest_sql
from sweepkit.logbook.salvage import salvage
from tests.logbook import flip_bits

ROOT = Path(__file__).parents[2]
SIGN = tuple(f"UPDATE {table} SET digest = {digest_sql(table)}" for table in ("setup", "sweep"))


def assert_harmless(one):
    """Nothing wrong came back, nothing was written, no command failed by a fault of ours."""
    assert one["wrong"] == 0, one
    assert one["untouched"], one
    assert one["overwritten"] == [], one
    assert set(one["codes"].values()) <= {0, 2, None}, one
    if not one["seen"]:
        assert one["as_it_was"] == one["listed"] == flip_bits.SWEEPS, one


def test_flipped_bits_cost_at_most_the_sweep_they_hit():
    for one in flip_bits.study(4, seed=5):
        assert_harmless(one)
        assert one["given_back"] >= flip_bits.SWEEPS - 1, one


@pytest.mark.slow
def test_hundreds_of_flipped_bits():
    results = flip_bits.study(400, seed=8)
    for one in results:
        assert_harmless(one)
    seen = [one["given_back"] for one in results if one["seen"]]
    assert len(seen) > 100
    assert sum(seen) >= 0.95 * flip_bits.SWEEPS * len(seen)


HEADER = [*range(16), *range(16, 24), 28, 29, 30, 31, 43, 44, 47, 56, 59, 60, 63, 68, 71]


@pytest.mark.parametrize("byte", HEADER[::6])
def test_a_flipped_bit_in_the_header_hides_nothing(filled, path, tmp_path, byte):
    filled.close()
    for bit in (0, 5):
        flip_bits.flip(path, tmp_path / "copy.sqlite", 8 * byte + bit)
        with open_damaged(tmp_path / "copy.sqlite") as log:
            assert [sweep.id for sweep in list_sweeps(log)] == [1, 2, 3]
            assert raw_bytes(log, find_sweep(log, 3)) == s1p(3)


@pytest.mark.parametrize("table", ["setup", "sweep", "computed", "history"])
def test_any_digit_of_any_record_is_covered(filled, path, table):
    """One digit changed in any column of any record, the numbers among them, is seen by check."""
    from sweepkit.logbook import edit_sweep
    from sweepkit.logbook.computed import keep_figures
    from sweepkit.logbook.digests import COVERED

    edit_sweep(filled, 1, {"length_m": 10.1})
    keep_figures(filled, {1: {"review 1": {"dip_hz": 7.1e6}}})
    filled.close()
    whole = path.read_bytes()
    for column in COVERED[table]:
        path.write_bytes(whole)
        replace_row(
            path,
            f"UPDATE {table} SET {column} = CASE WHEN {column} IS NULL THEN 'x'"
            f" WHEN typeof({column}) = 'integer' THEN {column} + 64"
            f" ELSE replace({column}, substr({column}, 1, 1), '~') END"
            f" WHERE rowid = (SELECT min(rowid) FROM {table})",
        )
        with open_damaged(path) as log:
            assert check_logbook(log).problems, column


@pytest.mark.parametrize("table", ["setup", "sweep", "computed", "history"])
def test_an_older_export_mends_any_record_in_place(filled, path, tmp_path, table):
    """One digit changed in any column of any record: importing an export made before makes it what it was."""
    from sweepkit.logbook import edit_setup, edit_sweep
    from sweepkit.logbook.computed import keep_figures
    from sweepkit.logbook.digests import COVERED

    edit_sweep(filled, 1, {"length_m": 10.1})
    edit_setup(filled, 1, {"ground": "average"})
    edit_sweep(filled, 1, {}, to_setup=2)
    keep_figures(filled, {1: {"review 1": {"dip_hz": 7.1e6}}})
    export_logbook(filled, tmp_path / "older")
    edit_setup(filled, 1, {"ground": "wet"})  # after the export: it must survive the mending
    edit_sweep(filled, 1, {"length_m": 9.9})
    edit_sweep(filled, 1, {}, to_setup=1)
    before = told(filled)
    filled.close()
    whole = path.read_bytes()
    for column in COVERED[table]:
        if column in ("id", "uid"):
            continue  # these are also in an index: the file is torn, and nothing is written to it
        path.write_bytes(whole)
        replace_row(
            path,
            f"UPDATE {table} SET {column} = CASE WHEN {column} IS NULL THEN 'x'"
            f" WHEN typeof({column}) = 'integer' THEN {column} + 64"
            f" ELSE replace({column}, substr({column}, 1, 1), '~') END"
            f" WHERE rowid = (SELECT min(rowid) FROM {table})",
        )
        with open_damaged(path) as log:
            done = import_logbook(log, tmp_path / "older")
            assert check_logbook(log).problems == (), column
            assert told(log) == before, column
            assert bool(done.mended) == (table in ("setup", "sweep")), column
            again = import_logbook(log, tmp_path / "older")
            assert (again.mended, again.edits, again.sweeps) == ((), 0, {})


def told(log):
    """All that a logbook tells of its sweeps and their history."""
    sweeps = sorted(list_sweeps(log), key=lambda sweep: sweep.id)
    shown = [(s.id, s.name, dict(s.facts), s.taken_over, s.setup, raw_bytes(log, s)) for s in sweeps]
    return shown, read_history(log)


def test_what_a_damaged_setup_told_comes_back_from_an_older_export(filled, path, tmp_path):
    """The way back over an export of the damaged logbook loses what the setup told; an older export has it."""
    from sweepkit.logbook import edit_setup

    edit_setup(filled, 1, {"ground": None})  # taken back by its owner: no loss, and not to be brought back
    export_logbook(filled, tmp_path / "older")
    before = told(filled)
    filled.close()
    alter(path, "UPDATE setup SET facts = replace(facts, '}', ' }'), kit_sha256 = NULL WHERE id = 1")
    with open_damaged(path) as log:
        export_logbook(log, tmp_path / "rescued")
    with open_logbook(tmp_path / "new.sqlite", create=True) as log:
        import_logbook(log, tmp_path / "rescued")
        assert find_sweep(log, 1).setup.facts == {}
        done = import_logbook(log, tmp_path / "older")
        assert done.mended == ("setup S1",)
        assert find_sweep(log, 1).setup.facts == {"antenna": "ridge", "site": "hill"}
        assert [s[:4] for s in told(log)[0]] == [s[:4] for s in before[0]]
        assert find_sweep(log, 1).setup.kit_sha256 is not None
        assert check_logbook(log).problems == ()


def test_every_command_works_on_the_good_ones(run, filled, path):
    filled.close()
    alter(path, "UPDATE sweep SET facts = replace(facts, '10.2', '10.3') WHERE id = 1")
    line = (
        f"sweepkit: {path}: sweep 1: it is not as it was written (its digest differs); the sweep is left out"
    )
    listed = run("log", "list", "--log", path)
    assert (listed.returncode, listed.stderr) == (2, f"{line}\n")
    assert "near.s1p" in listed.stdout
    for words in (
        ["list", "--json"],
        ["show", "S1"],
        ["show", "S1", "--json"],
        ["list", "--antenna", "ridge"],
    ):
        done = run("log", *words, "--log", path)
        assert (done.returncode, done.stderr) == (2, f"{line}\n"), words
    assert run("log", "show", "2", "--log", path).returncode == 0
    shown = run("log", "show", "1", "--log", path)
    assert shown.returncode == 2
    assert "sweep 1 is damaged; log check tells what is wrong; log edit 1 --accept takes it" in shown.stderr
    assert run("log", "edit", "2", "--set", "sweep_note=fine", "--log", path).returncode == 0


def test_a_record_is_set_right_or_aside(run, filled, path):
    filled.close()
    alter(
        path,
        """UPDATE sweep SET facts = '{"length_m":10.2,"when":"0001-01-01T00:00+14:00"}' WHERE id = 1""",
        """UPDATE sweep SET hints = '{"unit":5}' WHERE id = 2""",
        *SIGN,
    )
    checked = run("log", "check", "--log", path)
    assert checked.returncode == 2
    assert "sweep 1: when: the year 1 is not a whole number from 1900 to 2199" in checked.stderr
    assert "sweep 2: 'unit' with 5 is no hint for a reader" in checked.stderr
    right = run("log", "edit", "1", "--accept", "--set", "when=2026-05-02", "--log", path)
    assert (right.returncode, right.stdout) == (0, "sweep 1: when: unknown -> 2026-05-02\n")
    assert "1 was taken as it reads; no longer known: when" in right.stderr
    aside = run("log", "edit", "2", "--accept", "--set", "set-aside=odd", "--log", path)
    assert (aside.returncode, aside.stdout) == (0, "sweep 2: set_aside: unknown -> odd\n")
    assert run("log", "check", "--log", path).returncode == 0
    with open_logbook(path) as log:
        assert find_sweep(log, 1).facts == {"length_m": 10.2, "when": "2026-05-02"}
        assert raw_bytes(log, find_sweep(log, 2)) == s1p(2)


def test_a_record_that_points_nowhere_is_removed_by_an_export(filled, path, tmp_path):
    filled.close()
    alter(path, f"UPDATE sweep SET sha256 = '{'0' * 64}' WHERE id = 1")
    with open_damaged(path) as log:
        assert export_logbook(log, tmp_path / "out") == 2
    document = json.loads((tmp_path / "out" / "logbook.json").read_text(encoding="utf-8"))
    (aside,) = (tmp_path / "out" / "damaged").iterdir()
    assert aside.read_bytes() == s1p(1)  # the raw file is kept, and log add takes it anew
    assert document["damaged"][0]["reads"]["name"] == "wide.s1p"
    assert [entry["what"] for entry in document["left_out"]] == ["sweep 1"]
    with open_logbook(tmp_path / "new.sqlite", create=True) as fresh:
        import_logbook(fresh, tmp_path / "out")
        assert check_logbook(fresh).problems == ()
        assert [sweep.id for sweep in list_sweeps(fresh)] == [2, 3]
    with open_damaged(path) as log:  # an export of a damaged logbook may be replaced like any other
        assert export_logbook(log, tmp_path / "out", force=True) == 2


def test_a_damaged_setup_keeps_no_sweep_back(filled, path, tmp_path):
    filled.close()
    alter(path, "UPDATE setup SET facts = replace(facts, 'dry', 'wet') WHERE id = 1")
    with open_damaged(path) as log:
        assert [(sweep.id, dict(sweep.setup.facts)) for sweep in list_sweeps(log)][:2] == [(1, {}), (2, {})]
        assert [line.antenna for line in list_lines(log)] == [None, None, "whip"]
        assert export_logbook(log, tmp_path / "out") == 3
        assert list(log.left_out) == ["setup S1"]
    with open_logbook(tmp_path / "new.sqlite", create=True) as fresh:
        import_logbook(fresh, tmp_path / "out")
        assert [raw_bytes(fresh, sweep) for sweep in sorted(list_sweeps(fresh), key=lambda s: s.id)] == [
            s1p(1), s1p(2), s1p(3),
        ]  # fmt: skip


def test_a_damaged_raw_file_is_put_back_by_adding_it_again(filled, path):
    filled.close()
    alter(path, "UPDATE raw SET packed = x'00' WHERE sha256 = (SELECT sha256 FROM sweep WHERE id = 2)")
    with open_damaged(path) as log:
        assert len(check_logbook(log).problems) == 1
    with open_logbook(path) as log:
        (added,) = add_sweeps(log, [NewSweep("near.s1p", s1p(2))], setup=NewSetup())
        assert (added.id, added.new) == (2, False)
        assert check_logbook(log).problems == ()
        assert raw_bytes(log, find_sweep(log, 2)) == s1p(2)


def test_a_torn_file_is_not_written_to(run, filled, path):
    filled.close()
    data = bytearray(path.read_bytes())
    with closing(sqlite3.connect(path)) as connection:
        root = connection.execute("SELECT rootpage FROM sqlite_master WHERE name = 'sweep'").fetchone()[0]
    data[(root - 1) * 4096 + 4] ^= 1  # how many rows this page holds
    path.write_bytes(data)
    with open_damaged(path) as log:
        assert [sweep.id for sweep in list_sweeps(log)] == [1, 2, 3]
    (path.parent / "new.s1p").write_bytes(s1p(9))
    refused = run("log", "add", path.parent / "new.s1p", "--log", path)
    assert (refused.returncode, refused.stdout) == (2, "")
    assert refused.stderr.splitlines()[-1] == (
        f"sweepkit: {path}: the file is damaged, so nothing was written to it; the way back: "
        "log export rescued --log log.sqlite, log import rescued --log new.sqlite, "
        "then go on with --log new.sqlite"
    )
    assert path.read_bytes() == bytes(data)
    listed = run("log", "list", "--log", path)  # reviews what it shows, and cannot keep the figures
    assert listed.returncode == 2
    assert listed.stdout.count(".s1p") == 3
    assert path.read_bytes() == bytes(data)
    # what the line says works as it stands
    assert run("log", "export", "rescued", "--log", path, cwd=path.parent).returncode == 2
    new = path.with_name("new.sqlite")
    assert run("log", "import", "rescued", "--log", new, cwd=path.parent).returncode == 0
    assert run("log", "add", "new.s1p", "--log", new, cwd=path.parent).stdout == "4\n"


def test_without_anybody_to_tell_a_warning_tells(filled, path):
    filled.close()
    alter(path, "UPDATE sweep SET name = 'x' WHERE id = 1")
    with open_logbook(path) as log, pytest.warns(UserWarning, match="sweep 1: it is not as it was written"):
        assert len(list_sweeps(log)) == 2


@pytest.fixture
def of_schema_1(path):
    """A logbook as the version before wrote it."""
    with closing(sqlite3.connect(path)) as connection:
        connection.executescript((Path(__file__).with_name("schema_1.sql")).read_text(encoding="utf-8"))
    return path


def assert_as_it_was(log):
    assert check_logbook(log).problems == ()
    assert [raw_bytes(log, find_sweep(log, number)) for number in (1, 2, 3)] == [s1p(1), s1p(2), s1p(3)]
    assert find_sweep(log, 1).facts == {"length_m": 10.1, "when": "2026-05-02T09:30:00+02:00"}
    assert find_sweep(log, 3).hints == {"unit": "MHz"}
    assert [setup.facts for setup in every_setup(log)] == [
        {"antenna": "ridge", "site": "hill", "ground": "dry"},
        {"antenna": "whip", "site": "beach", "ground": "sand"},
    ]
    assert [(edit.of, edit.old, edit.new) for edit in read_history(log)] == [
        ("1", 10.2, 10.1), ("S2", None, "sand"),
    ]  # fmt: skip


@pytest.mark.frozen
def test_a_logbook_without_digests_is_brought_up_to_date(of_schema_1):
    with open_logbook(of_schema_1) as log:
        assert_as_it_was(log)
    alter(of_schema_1, "UPDATE sweep SET facts = replace(facts, '10.1', '10.4') WHERE id = 1")
    with open_damaged(of_schema_1) as log:
        assert [sweep.id for sweep in list_sweeps(log)] == [2, 3]


@pytest.mark.frozen
@pytest.mark.skipif(
    os.name == "nt" or (hasattr(os, "geteuid") and os.geteuid() == 0), reason="root writes anything"
)
def test_a_read_only_logbook_without_digests_is_read_as_it_is(of_schema_1):
    of_schema_1.chmod(0o444)
    of_schema_1.parent.chmod(0o555)
    try:
        with open_logbook(of_schema_1) as log:
            assert_as_it_was(log)
    finally:
        of_schema_1.parent.chmod(0o755)


@pytest.mark.frozen
def test_a_torn_logbook_without_digests_gives_its_rows(of_schema_1):
    data = bytearray(of_schema_1.read_bytes())
    data[100] ^= 0x08  # the first page is no leaf of a table any more
    of_schema_1.write_bytes(data)
    with open_damaged(of_schema_1) as log:
        assert [raw_bytes(log, sweep) for sweep in sorted(list_sweeps(log), key=lambda s: s.id)] == [
            s1p(1), s1p(2), s1p(3),
        ]  # fmt: skip


KILLED = """
import os, signal, sys
from sweepkit.logbook import export_logbook, folder_swap, open_logbook
name, number = sys.argv[1], int(sys.argv[2])
real, seen = getattr(os, name), []
def counted(*words, **more):
    seen.append(words)
    if len(seen) == number:
        os.kill(os.getpid(), signal.SIGKILL)
    return real(*words, **more)
setattr(os, name, counted)
with open_logbook(sys.argv[3]) as log:
    export_logbook(log, sys.argv[4], force=True)
"""


@pytest.mark.skipif(os.name == "nt", reason="needs signals of POSIX")
@pytest.mark.parametrize(
    ("call", "number"),
    [("rename", 1), ("rename", 2), ("fsync", 1), ("fsync", 9), ("rmdir", 1), ("unlink", 1)],
)
def test_an_export_killed_at_any_step_loses_neither(filled, path, tmp_path, call, number):
    """The old export or the new one is whole: at once, or put back by the next run; nothing else is left."""
    export_logbook(filled, tmp_path / "out")
    add_sweeps(filled, [NewSweep("more.s1p", s1p(9))], setup=NewSetup())
    filled.close()
    command = [sys.executable, "-c", KILLED, call, str(number), str(path), str(tmp_path / "out")]
    done = subprocess.run(command, env={**os.environ, "PYTHONPATH": str(ROOT)}, check=False)
    assert done.returncode in (-signal.SIGKILL, 0)
    force = number == 2
    with open_logbook(path) as log:
        if force:
            assert export_logbook(log, tmp_path / "out", force=True) == 4
        else:
            with pytest.raises(BadInput, match="holds an export; add --force"):
                export_logbook(log, tmp_path / "out")
    with open_logbook(tmp_path / "new.sqlite", create=True) as fresh:
        done = import_logbook(fresh, tmp_path / "out")
        assert len(done.sweeps) in ((4,) if force else (3, 4))
    assert sorted(entry.name for entry in tmp_path.iterdir()) == ["log.sqlite", "new.sqlite", "out"]


def test_letters_that_are_none_in_a_torn_row_keep_no_other_row_back(tmp_path):
    path = tmp_path / "log.sqlite"
    flip_bits.fill(path, 4)
    at = path.read_bytes().index(b"0-2.s1p") + 3
    torn = tmp_path / "torn.sqlite"
    flip_bits.flip(path, torn, 8 * at + 7)
    with closing(salvage(torn)) as copy:
        names = [name for (name,) in copy.execute("SELECT name FROM sweep ORDER BY id")]
    assert names == ["0-0.s1p", "0-1.s1p", "0-2\udcaes1p", "0-3.s1p"]
