"""Files the logbook tests are made of."""

import sqlite3
from contextlib import closing
from pathlib import Path

from sweepkit.logbook import open_logbook
from sweepkit.logbook.adding import insert_setup
from sweepkit.logbook.digests import teach
from sweepkit.logbook.finding import setups_where


def s1p(number):
    """A small Touchstone file of our own, another one for each number."""
    rows = (f"{7.0 + step / 100:.2f} {0.3 + number * 1e-6:.6f} {-0.1 + step / 50:.4f}" for step in range(11))
    return "\n".join(["! made up for tests", "# MHz S RI R 50", *rows, ""]).encode()


def every_setup(log):
    """By number, also those without sweeps."""
    return log.read(lambda connection: setups_where(connection, {}))


def put_setup(log, setup):
    """A setup without sweeps, and its number."""
    with log.writing() as connection:
        return insert_setup(connection, setup)


def open_damaged(path):
    """Open a logbook and take what is left out for known; ``left_out`` has it."""
    return open_logbook(path, tell=lambda text: None)


def alter(path: Path, *statements):
    """Change a logbook behind sweepkit's back, as a faulty card or an attacker would."""
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        teach(connection)
        connection.execute("PRAGMA writable_schema = ON")
        for statement in statements:
            connection.execute(statement)


def replace_row(path, query, *values):
    """Change a row past the triggers that keep it."""
    connection = sqlite3.connect(path, isolation_level=None)
    triggers = connection.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
    connection.execute("BEGIN")
    for name, _ in triggers:
        connection.execute(f"DROP TRIGGER {name}")
    connection.execute(query, values)
    for _, sql in triggers:
        connection.execute(sql)
    connection.execute("COMMIT")
    connection.close()
