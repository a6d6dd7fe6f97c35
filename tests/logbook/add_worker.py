"""A process that adds setups of three sweeps each and prints what was reported as added; tests kill it.

    python add_worker.py LOG FIRST COUNT [--statement N | --file-size BYTES [--default-signal]]

Sweep k of setup n holds the text ``setup n sweep k``, so that the file itself tells what is missing.
"""

import argparse
import os
import resource
import signal
import sys

from sweepkit.errors import SweepkitError
from sweepkit.logbook import open_logbook
from sweepkit.logbook.adding import NewSetup, NewSweep, add_sweeps


def text(setup, sweep):
    return f"setup {setup} sweep {sweep}\n".encode() * 40


def kill_at(log, number):
    """End this process, as if the power failed, when its n-th SQL statement starts."""
    seen = 0

    def count(_):
        nonlocal seen
        seen += 1
        if seen == number:
            os.kill(os.getpid(), signal.SIGKILL)

    log._connection.set_trace_callback(count)


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("log")
    parser.add_argument("first", type=int)
    parser.add_argument("count", type=int)
    parser.add_argument("--statement", type=int)
    parser.add_argument("--file-size", type=int)
    parser.add_argument("--default-signal", action="store_true")
    told = parser.parse_args()
    if told.file_size is not None:
        if told.default_signal:  # the write that passes the limit then kills, else it fails
            signal.signal(signal.SIGXFSZ, signal.SIG_DFL)
        resource.setrlimit(resource.RLIMIT_FSIZE, (told.file_size, told.file_size))
    try:
        with open_logbook(told.log, create=True) as log:
            if told.statement is not None:
                kill_at(log, told.statement)
            for setup in range(told.first, told.first + told.count):
                sweeps = [
                    NewSweep(f"{setup}-{k}.s1p", text(setup, k), {"length_m": 1.0 + k}) for k in range(3)
                ]
                added = add_sweeps(
                    log, sweeps, setup=NewSetup({"antenna": "ridge", "note": f"setup {setup}"})
                )
                print(*(f"{one.id}:{setup}:{k}" for k, one in enumerate(added)), flush=True)
    except SweepkitError as error:
        print(error, file=sys.stderr)
        sys.exit(2)


if __name__ == "__main__":
    main()
