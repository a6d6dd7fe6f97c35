"""A logbook that another process is making is opened as what it was, or as what it has become."""

from __future__ import annotations

import sqlite3

import pytest

from sweepkit.logbook.digests import teach
from sweepkit.logbook.schema import APPLICATION_ID, MIGRATIONS, bring_up_to_date, find_version


def test_tables_that_appear_between_two_looks_are_no_foreign_file(tmp_path):
    path = tmp_path / "log.sqlite"
    looker, maker = (sqlite3.connect(path, isolation_level=None, timeout=0.01) for _ in range(2))
    teach(maker)
    made = []

    def make_it(statement: str) -> None:
        if "user_version" in statement and not made:  # in the middle of the look
            made.append(statement)
            with pytest.raises(sqlite3.OperationalError, match="locked"):
                bring_up_to_date(maker)

    looker.set_trace_callback(make_it)
    assert find_version(looker) == 0
    assert made
    looker.set_trace_callback(None)
    bring_up_to_date(maker)
    assert find_version(looker) == len(MIGRATIONS)
    assert looker.execute("PRAGMA application_id").fetchone()[0] == APPLICATION_ID
    for connection in (looker, maker):
        connection.close()
