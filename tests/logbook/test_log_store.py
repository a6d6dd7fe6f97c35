import sqlite3

import pytest
from log_files import alter, s1p

from sweepkit.errors import BadInput, UnreadableFile
from sweepkit.logbook import find_sweep, list_sweeps, open_logbook, schema
from sweepkit.logbook import store as store_module
from sweepkit.logbook.adding import NewSetup, NewSweep, add_sweeps
from sweepkit.logbook.computed import raw_bytes


def test_a_logbook_is_one_file_with_a_rollback_journal(filled, path):
    assert [entry.name for entry in path.parent.iterdir()] == ["log.sqlite"]
    connection = sqlite3.connect(path)
    assert connection.execute("PRAGMA journal_mode").fetchone() == ("delete",)
    assert connection.execute("PRAGMA application_id").fetchone() == (schema.APPLICATION_ID,)
    assert connection.execute("PRAGMA user_version").fetchone() == (len(schema.MIGRATIONS),)
    connection.close()


def test_a_commit_waits_for_the_disk_and_its_folder(log):
    # synchronous 3 is EXTRA: all that FULL (2) does, and the folder is synced too (sqlite.org/pragma.html)
    with log.reading() as connection:
        assert connection.execute("PRAGMA synchronous").fetchone() == (3,)


def test_a_sweep_of_no_setup_is_refused_by_the_file_itself(filled):
    with filled.writing() as connection, pytest.raises(sqlite3.IntegrityError, match="FOREIGN KEY"):
        connection.execute("UPDATE sweep SET setup_id = 99 WHERE id = 1")


def test_a_file_turned_to_another_journal_is_turned_back(filled, path):
    filled.close()
    with sqlite3.connect(path) as connection:
        connection.execute("PRAGMA journal_mode = WAL")
    connection.close()
    with open_logbook(path) as log:
        assert len(list_sweeps(log)) == 3
    assert [entry.name for entry in path.parent.iterdir()] == ["log.sqlite"]


def test_without_a_file_there_is_none(path):
    with pytest.raises(BadInput, match=r"log.sqlite: there is no logbook here; add a sweep to make one"):
        open_logbook(path)
    assert not path.exists()


def test_without_a_folder_none_is_made(tmp_path):
    with pytest.raises(
        BadInput, match=r"cannot be opened or its folder not be written.*check that the folder"
    ):
        open_logbook(tmp_path / "no" / "log.sqlite", create=True)


def test_an_empty_file_left_by_a_crash_becomes_a_logbook(path):
    path.touch()
    with open_logbook(path) as log:
        assert list_sweeps(log) == []


@pytest.mark.parametrize("content", [b"site,antenna\n", b"x", b"\0" * 5000, s1p(1) * 40])
def test_a_file_that_is_no_database_is_left_alone(path, content):
    path.write_bytes(content)
    with pytest.raises(UnreadableFile, match=r"log.sqlite: this file is not a logbook"):
        open_logbook(path, create=True)
    assert path.read_bytes() == content


def test_the_database_of_another_program_is_left_alone(path):
    with sqlite3.connect(path) as connection:
        connection.execute("CREATE TABLE setup (id)")
    connection.close()
    before = path.read_bytes()
    with pytest.raises(UnreadableFile, match="was not made by sweepkit"):
        open_logbook(path, create=True)
    assert path.read_bytes() == before


def test_a_newer_logbook_is_left_alone(filled, path):
    filled.close()
    alter(path, "PRAGMA user_version = 99")
    before = path.read_bytes()
    with pytest.raises(
        UnreadableFile, match=r"newer sweepkit \(schema 99, this one knows up to \d+\).*update"
    ):
        open_logbook(path, create=True)
    assert path.read_bytes() == before


@pytest.mark.parametrize(
    "statement",
    [
        "CREATE TRIGGER t AFTER INSERT ON sweep BEGIN UPDATE setup SET site = 'x'; END",
        "CREATE VIEW v AS SELECT 1",
        "DROP TRIGGER raw_is_kept",
        "DROP TABLE computed",
        "ALTER TABLE sweep ADD COLUMN more TEXT",
    ],
)
def test_a_file_with_other_tables_or_triggers_is_refused(filled, path, statement):
    filled.close()
    alter(path, statement)
    with pytest.raises(UnreadableFile, match="of this logbook is not the one sweepkit makes"):
        open_logbook(path)


def test_an_added_index_or_table_of_the_owner_does_no_harm(filled, path):
    filled.close()
    alter(path, "CREATE TABLE mine (note)", "CREATE INDEX mine_too ON sweep (name)", "ANALYZE")
    with open_logbook(path) as log:
        assert len(list_sweeps(log)) == 3


@pytest.mark.parametrize("table", ["raw", "sweep", "setup", "history"])
def test_nothing_is_ever_deleted(filled, path, table):
    from sweepkit.logbook import edit_sweep

    edit_sweep(filled, 1, {"length_m": 10.1})
    with pytest.raises(UnreadableFile, match=f"{table} is never removed"), filled.writing() as connection:
        connection.execute(f"DELETE FROM {table}")


def _with_one_more_version(monkeypatch, *statements):
    monkeypatch.setattr(schema, "MIGRATIONS", (*schema.MIGRATIONS, statements))
    monkeypatch.setattr(store_module, "MIGRATIONS", schema.MIGRATIONS)


def test_an_older_logbook_is_brought_up_to_date(filled, path, monkeypatch):
    filled.close()
    _with_one_more_version(monkeypatch, "ALTER TABLE setup ADD COLUMN later TEXT")
    with open_logbook(path) as log:
        assert raw_bytes(log, find_sweep(log, 3)) == s1p(3)
        with log.reading() as connection:
            assert connection.execute("PRAGMA user_version").fetchone() == (len(schema.MIGRATIONS),)
            assert connection.execute("SELECT later FROM setup").fetchone() == (None,)


def test_a_migration_that_fails_changes_nothing(filled, path, monkeypatch):
    filled.close()
    before = path.read_bytes()
    _with_one_more_version(monkeypatch, "ALTER TABLE setup ADD COLUMN later TEXT", "CREATE TABLE raw (x)")
    with pytest.raises(UnreadableFile, match="nothing was changed"):
        open_logbook(path)
    assert path.read_bytes() == before


def test_an_error_in_a_transaction_leaves_nothing_of_it(filled):
    with pytest.raises(BadInput, match="field of a sweep"):
        add_sweeps(
            filled, [NewSweep("a.s1p", s1p(8)), NewSweep("b.s1p", s1p(9), {"site": "x"})], setup=NewSetup()
        )
    assert len(list_sweeps(filled)) == 3


def test_another_program_that_writes_is_waited_for_and_named(filled, path, monkeypatch):
    monkeypatch.setattr(store_module, "BUSY_WAIT_S", 0.1)
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with (
        open_logbook(path) as log,
        pytest.raises(BadInput, match=r"another program held the logbook.*nothing was changed; try again"),
    ):
        add_sweeps(log, [NewSweep("a.s1p", s1p(8))], setup=NewSetup())
    other.close()
