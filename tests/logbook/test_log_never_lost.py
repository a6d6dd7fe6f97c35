"""Kill, fill, lock: the file opens, what was reported as added is there, nothing is half there."""

import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pytest
from add_worker import text
from log_files import every_setup, s1p

from sweepkit.errors import BadInput
from sweepkit.logbook import check_logbook, find_setup, find_sweep, list_sweeps, open_logbook
from sweepkit.logbook.adding import NewSetup, NewSweep, add_sweeps
from sweepkit.logbook.computed import raw_bytes

WORKER = Path(__file__).with_name("add_worker.py")
ROOT = Path(__file__).parents[2]
pytestmark = pytest.mark.skipif(os.name == "nt", reason="needs signals and limits of POSIX")


def start(*arguments, **options):
    return subprocess.Popen(
        [sys.executable, str(WORKER), *map(str, arguments)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        **options,
    )


def assert_whole(path, reported):
    """What was reported is there byte for byte; every setup has all its sweeps; the file is sound."""
    with open_logbook(path, create=True) as log:
        assert check_logbook(log).problems == ()
        for words in reported:
            sweep_id, setup, k = map(int, words.split(":"))
            sweep = find_sweep(log, sweep_id)
            assert raw_bytes(log, sweep) == text(setup, k)
            assert sweep.setup.facts["note"] == f"setup {setup}"
        for setup in every_setup(log):
            assert len(find_setup(log, setup.number)[1]) == 3
        count = len(list_sweeps(log))
    assert_the_file_alone_is_enough(path, count)
    return count


def assert_the_file_alone_is_enough(path, count):
    """Once it was opened, a copy of the one file is whole, even if a journal nobody needs is left."""
    with tempfile.TemporaryDirectory() as folder:
        shutil.copy(path, folder)
        with open_logbook(Path(folder) / path.name, create=True) as log:
            assert check_logbook(log).problems == ()
            assert len(list_sweeps(log)) == count


def kill_many_times(path, times, seed):
    """Kill a process that adds without end, again and again on one file; the number of sweeps it reported."""
    chance = random.Random(seed)
    reported = []
    for number in range(times):
        process = start(path, 1_000_000 * number, 100_000)
        first = (
            process.stdout.readline() if number % 2 == 0 else ""
        )  # every other one is killed while at work
        time.sleep(chance.uniform(0.0, 0.3))
        process.send_signal(signal.SIGKILL)
        reported += (first + process.communicate()[0]).split()
        assert_whole(path, [words for words in reported if words.count(":") == 2])
    return len(reported)


def test_killed_at_random_moments(path):
    assert kill_many_times(path, 5, seed=20260502) > 0


@pytest.mark.slow
def test_killed_at_random_moments_hundreds_of_times(path):
    assert kill_many_times(path, 300, seed=7) > 0


@pytest.mark.slow
def test_the_command_killed_at_random_moments_hundreds_of_times(tmp_path):
    """The same with ``sweepkit log add`` itself, from its start to past its end."""
    chance = random.Random(11)
    path, reported, ended = tmp_path / "log" / "log.sqlite", [], 0
    path.parent.mkdir()
    took_s = 0.0  # of the first, which nobody kills; the other moments follow from it
    for number in range(201):
        files = []
        for k in range(3):
            files.append(tmp_path / f"{number}-{k}.s1p")
            files[-1].write_bytes(s1p(3 * number + k))
        command = [sys.executable, "-m", "sweepkit", "log", "add", *map(str, files), "--log", str(path)]
        options = {"stdout": subprocess.PIPE, "stderr": subprocess.DEVNULL, "text": True, "cwd": ROOT}
        start_s = time.monotonic()
        process = subprocess.Popen(command, **options)
        if number == 0:
            process.wait()
            took_s = time.monotonic() - start_s
        else:
            time.sleep(chance.uniform(0.1, 1.3) * took_s)
        ended += process.poll() is not None
        process.send_signal(signal.SIGKILL)
        ids = process.communicate()[0].split("\n")[:-1]  # what follows the last line end was not reported
        reported += [(int(one), 3 * number + k) for k, one in enumerate(ids)]
        with open_logbook(path, create=True) as log:
            assert check_logbook(log).problems == ()
            assert len(list_sweeps(log)) % 3 == 0
            for sweep_id, content in reported:
                assert raw_bytes(log, find_sweep(log, sweep_id)) == s1p(content)
            count = len(list_sweeps(log))
        assert_the_file_alone_is_enough(path, count)
    assert 1 < ended < 201  # some were killed while at work, some had ended


def test_killed_at_every_statement(tmp_path):
    """From the first statement of an add to the first of the next: all of it or nothing."""
    counts = []
    for statement in range(1, 60):
        path = tmp_path / f"at{statement}" / "log.sqlite"
        path.parent.mkdir()
        process = start(path, 0, 1, "--statement", statement)
        reported = process.communicate()[0].split()
        counts.append(assert_whole(path, reported))
        if process.returncode == 0:
            break
        assert process.returncode == -signal.SIGKILL
        assert reported == []
    assert counts[-1] == 3
    assert set(counts[:-1]) == {0}  # the last statement is the commit; before it nothing is there
    assert len(counts) > 10


@pytest.mark.parametrize("kills", [True, False], ids=["killed", "refused"])
def test_the_write_that_passes_a_limit(tmp_path, kills):
    """At each size the file grows through, the write is killed midway, or fails as on a full disk."""
    full = tmp_path / "full.sqlite"
    first = start(full, 0, 12)
    first.communicate()
    assert first.returncode == 0
    ended = set()
    for limit in range(0, full.stat().st_size + 4096, 11_000):
        path = tmp_path / f"limit{limit}" / "log.sqlite"
        path.parent.mkdir()
        process = start(path, 0, 12, "--file-size", limit, *(["--default-signal"] if kills else []))
        out, err = process.communicate()
        ended.add(process.returncode)
        assert_whole(path, out.split())
        if process.returncode == 2:
            assert "nothing was changed; make room" in err
    assert ended == ({-signal.SIGXFSZ, 0} if kills else {2, 0})


def test_a_full_disk(tmp_path):
    """A real one, of 200 kB, seen by this process only."""
    mount = f"mount -t tmpfs -o size=200k none {tmp_path}"
    try:
        allowed = subprocess.run(["unshare", "-m", "sh", "-c", mount], capture_output=True).returncode == 0
    except OSError:
        allowed = False
    if not allowed:
        pytest.skip("needs the right to mount")
    outside = Path(tempfile.mkdtemp())
    try:
        add = f"{sys.executable} {WORKER} {tmp_path}/log.sqlite 0 1000; echo $?"
        run = f"{mount}; {add}; cp {tmp_path}/* {outside}"
        done = subprocess.run(
            ["unshare", "-m", "sh", "-c", run],
            capture_output=True,
            text=True,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
        )
        *reported, code = done.stdout.split()
        assert code == "2"
        assert "log.sqlite: the disk is full; nothing was changed; make room and try again" in done.stderr
        assert len(reported) > 3
        assert assert_whole(outside / "log.sqlite", reported) == len(reported)
    finally:
        shutil.rmtree(outside)


def test_two_processes_add_at_once(path):
    first, second = start(path, 0, 25), start(path, 1000, 25)
    reported = first.communicate()[0].split() + second.communicate()[0].split()
    assert (first.returncode, second.returncode) == (0, 0)
    assert len(reported) == 150
    assert assert_whole(path, reported) == 150


@pytest.fixture
def read_only(filled, path):
    """A logbook in a folder where this process may only read, whoever runs the tests."""
    filled.close()
    folder = Path(tempfile.mkdtemp())
    copy = folder / "log.sqlite"
    shutil.copy(path, copy)
    copy.chmod(0o444)
    folder.chmod(0o555)
    who = os.geteuid()
    if who == 0:
        os.seteuid(65534)  # root may write anything
    yield copy
    os.seteuid(who)
    folder.chmod(0o755)
    shutil.rmtree(folder)


def test_a_read_only_file_can_be_read(read_only):
    with open_logbook(read_only) as log:
        assert len(list_sweeps(log)) == 3
        assert check_logbook(log).problems == ()


def test_a_read_only_file_says_so_when_written(read_only):
    words = "log.sqlite: the logbook or its folder is read-only; nothing was changed; copy it"
    with open_logbook(read_only) as log, pytest.raises(BadInput, match=words):
        add_sweeps(log, [NewSweep("a", s1p(9))], setup=NewSetup())


def test_a_folder_that_is_read_only_takes_no_new_logbook(read_only):
    with pytest.raises(BadInput, match="cannot be opened or its folder not be written"):
        open_logbook(read_only.with_name("new.sqlite"), create=True)


def test_a_folder_in_the_place_of_the_logbook(tmp_path):
    with pytest.raises(BadInput, match="cannot be opened"):
        open_logbook(tmp_path, create=True)


def test_ctrl_c_in_the_middle_leaves_nothing(log, monkeypatch):
    def interrupted(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr("sweepkit.logbook.adding.insert_sweep", interrupted)
    with pytest.raises(KeyboardInterrupt):
        add_sweeps(log, [NewSweep("a", s1p(1))], setup=NewSetup())
    assert every_setup(log) == []
