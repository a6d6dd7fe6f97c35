"""Run edit, import and export on a disk with little room left, and print as JSON what became of them.

    python -m tests.logbook.full_disk FOLDER SOURCE ROOM...

FOLDER is a small file system of its own, SOURCE is made by prepare; each ROOM is tried. [KiB]
"""

import errno
import json
import os
import shutil
import sys
import tempfile
from pathlib import Path

from sweepkit.logbook import check_logbook, export_logbook, import_logbook, list_sweeps, open_logbook
from sweepkit.logbook.adding import NewSetup, NewSweep, add_sweeps
from sweepkit.logbook.computed import raw_bytes
from tests.logbook.flip_bits import run
from tests.logbook.log_files import s1p

OLD, NEW, OTHER = 3, 5, 40  # sweeps in the export that is there, in the logbook, in the export to be imported
KINDS = ("edit", "import", "import new", "export", "export again")


def prepare(source):
    """A logbook, an older export of it, and an export of another one."""
    with open_logbook(source / "other.sqlite", create=True) as log:
        add(log, range(100, 100 + OTHER))
        export_logbook(log, source / "other")
    with open_logbook(source / "log.sqlite", create=True) as log:
        add(log, range(OLD))
        export_logbook(log, source / "out")
        add(log, range(OLD, NEW))


def add(log, numbers):
    """Sweeps of a setup of their own."""
    sweeps = [NewSweep(f"{number}.s1p", s1p(number)) for number in numbers]
    add_sweeps(log, sweeps, setup=NewSetup({"antenna": "wire"}))


def words_of(kind, source):
    """The command line."""
    return {
        "edit": ("edit", "1", "--set", "sweep_note=" + "n" * 200, "--log", "log.sqlite"),
        "import": ("import", source / "other", "--log", "log.sqlite"),
        "import new": ("import", source / "other", "--log", "new.sqlite"),
        "export": ("export", "fresh", "--log", "log.sqlite"),
        "export again": ("export", "out", "--force", "--log", "log.sqlite"),
    }[kind]


def use_up(path, *, room_bytes):
    """Fill the disk but for so much room."""
    with path.open("wb", buffering=0) as stream:
        try:
            while True:
                stream.write(b"x" * 4096)
        except OSError as error:
            assert error.errno == errno.ENOSPC
        stream.truncate(max(0, stream.tell() - room_bytes))


def sweeps_in(path):
    """How many sweeps a logbook or an export holds, all of it whole."""
    if not path.exists():
        return None
    with tempfile.TemporaryDirectory() as scratch:
        copy = Path(scratch) / "log.sqlite"
        if path.is_file():
            shutil.copy(path, copy)
        with open_logbook(copy, create=True) as log:
            if path.is_dir():
                import_logbook(log, path)
            assert check_logbook(log).problems == ()
            return len([raw_bytes(log, sweep) for sweep in list_sweeps(log)])


def try_one(kind, room_kib, source):
    """One command on the full disk, which is the current folder."""
    shutil.copytree(source / "out", "out")
    shutil.copy(source / "log.sqlite", ".")
    use_up(Path("filler"), room_bytes=1024 * room_kib)
    code, out, err = run(*words_of(kind, source))
    Path("filler").unlink()
    result = {"kind": kind, "room_kib": room_kib, "code": code, "said": out, "err": err}
    for name in ("log.sqlite", "new.sqlite", "out", "fresh"):
        result[name] = sweeps_in(Path(name))
    result["left"] = sorted(set(os.listdir()) - {"log.sqlite", "new.sqlite", "out", "fresh"})
    for name in os.listdir():
        shutil.rmtree(name) if os.path.isdir(name) else os.unlink(name)
    return result


def main():
    """Every command with every room."""
    folder, source, *rooms = sys.argv[1:]
    os.chdir(folder)
    print(json.dumps([try_one(kind, int(room), Path(source)) for kind in KINDS for room in rooms]))


if __name__ == "__main__":
    main()
