"""A disk that is full, for every command that writes to a logbook or from one."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.logbook import full_disk

ROOT = Path(__file__).parents[2]
MOUNT = "mount -t tmpfs -o size=1m none {}"


def on_a_small_disk(folder, command):
    """Run a command while a folder is a file system of 1 MiB, seen by that command only."""
    try:
        done = subprocess.run(
            ["unshare", "-m", "sh", "-c", f"{MOUNT.format(folder)} || exit 99; {command}"],
            capture_output=True,
            text=True,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
        )
    except OSError:
        pytest.skip("needs unshare")
    if done.returncode in (1, 99) and not done.stdout:
        pytest.skip("needs the right to mount")
    assert done.returncode == 0, done.stderr
    return done.stdout


ENOUGH_KIB = 2000  # for every command


def tried(tmp_path, rooms):
    """What became of every command with each of these rooms, and with enough."""
    (tmp_path / "disk").mkdir()
    (tmp_path / "source").mkdir()
    full_disk.prepare(tmp_path / "source")
    words = [tmp_path / "disk", tmp_path / "source", *rooms, ENOUGH_KIB]
    worker = f"{sys.executable} -m tests.logbook.full_disk {' '.join(map(str, words))}"
    return json.loads(on_a_small_disk(tmp_path / "disk", worker))


def assert_nothing_lost(one):
    """All or nothing, and one line that says so."""
    done, kind = one["code"] == 0, one["kind"]
    assert done or one["code"] == 2, one
    if not done:
        assert one["said"] == "", one
        *notes, line = one["err"].splitlines()
        assert notes == [] or (kind == "import new" and "note: made the logbook" in notes[0]), one
        assert "nothing was changed" in line, one
        assert "make room" in line, one
    assert one["left"] == [], one
    added = full_disk.OTHER if done and kind == "import" else 0
    assert one["log.sqlite"] == full_disk.NEW + added, one
    assert one["out"] == (full_disk.NEW if done and kind == "export again" else full_disk.OLD), one
    if kind == "import new":
        assert one["new.sqlite"] in ((full_disk.OTHER,) if done else (None, 0)), one
    if kind == "export":
        assert one["fresh"] == (full_disk.NEW if done else None), one


def test_edit_import_and_export_on_a_full_disk_lose_nothing(tmp_path):
    results = tried(tmp_path, (0, 24))
    for one in results:
        assert_nothing_lost(one)
        if one["room_kib"] in (0, ENOUGH_KIB):
            assert one["code"] == (0 if one["room_kib"] else 2), one


@pytest.mark.slow
def test_with_every_room_a_disk_may_have_left(tmp_path):
    results = tried(tmp_path, range(0, 200, 4))
    for one in results:
        assert_nothing_lost(one)
    for kind in full_disk.KINDS:
        assert {one["code"] for one in results if one["kind"] == kind} == {0, 2}
