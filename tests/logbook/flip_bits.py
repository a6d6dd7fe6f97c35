"""Flip one bit in copies of a logbook of some 20 sweeps and count what check, export and import give back,
and whether a later import of another sweep harms what is there.

    python -m tests.logbook.flip_bits [COUNT] [SEED]

The commands run in this process. A sweep is whole where its raw file and its record are untouched, as read from
the copy by the number of its row with SQLite alone, or else proven by what comes back.
"""

import io
import json
import random
import shutil
import sys
import tempfile
from collections import Counter
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path

from sweepkit.cli.main import app
from sweepkit.logbook import edit_setup, edit_sweep, open_logbook
from sweepkit.logbook.adding import NewSetup, NewSweep, add_sweeps

SAMPLES = Path(__file__).parents[2] / "sample_sweeps"
SWEEPS = 21


def run(*words):
    """Run ``sweepkit log``: exit code, stdout, stderr."""
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        try:
            app(["log", *map(str, words)])
            code = 0
        except SystemExit as end:
            code = end.code
    return code, out.getvalue(), err.getvalue()


def fill(path, sweeps=SWEEPS):
    """A logbook of setups with sweeps, edits and a kit; the raw files by the uid of their sweep."""
    data = (SAMPLES / "ridge_dipole_40m.s1p").read_bytes()
    with open_logbook(path, create=True) as log:
        for setup in range(-(-sweeps // 4)):
            facts = {"antenna": f"wire {setup % 2}", "site": "hill", "ground": "dry", "feed_height_m": 6.5}
            new = [
                NewSweep(f"{setup}-{k}.s1p", b"! %d-%d\n" % (setup, k) + data, {"length_m": 10 + k / 10})
                for k in range(min(4, sweeps - 4 * setup))
            ]
            add_sweeps(log, new, setup=NewSetup(facts, kit=b"region = 2\n" if setup == 1 else None))
        edit_setup(log, 1, {"ground": "wet"})
        edit_sweep(log, min(2, sweeps), {"sweep_note": "rained"})
    run("list", "--log", path)


def raw_files(path):
    """Contents of every sweep that can be read, by its uid; and what is known of it."""
    from sweepkit.logbook import list_sweeps
    from sweepkit.logbook.computed import raw_bytes

    found = {}
    with open_logbook(path, tell=lambda text: None) as log:
        for sweep in list_sweeps(log):
            try:
                known = {**sweep.setup.facts, **sweep.facts, "name": sweep.name}
                found[sweep.uid] = (raw_bytes(log, sweep), json.dumps(known, sort_keys=True))
            except Exception:
                continue
    return found


def flip(source, target, bit):
    """A copy of a file with one bit the other way."""
    data = bytearray(source.read_bytes())
    data[bit // 8] ^= 1 << bit % 8
    target.write_bytes(data)


def try_one(source, truth, folder, bit):
    """What became of one copy."""
    damaged, out, fresh = folder / "damaged.sqlite", folder / "out", folder / "fresh.sqlite"
    for entry in (out, fresh):
        shutil.rmtree(entry, ignore_errors=True)
        fresh.unlink(missing_ok=True)
    flip(source, damaged, bit)
    before = damaged.read_bytes()
    codes = {"check": run("check", "--log", damaged), "list": run("list", "--log", damaged)}
    codes["export"] = run("export", out, "--log", damaged)
    codes["import"] = run("import", out, "--log", fresh) if out.exists() else (None, "", "")
    back = raw_files(fresh) if fresh.exists() else {}
    readable, codes["write"] = raw_files(damaged), run("import", folder / "one", "--log", damaged)
    after = raw_files(damaged)
    return {
        "bit": bit,
        "codes": {name: code for name, (code, _, _) in codes.items()},
        "texts": {name: err for name, (_, _, err) in codes.items()},
        "given_back": sum(back.get(uid, ("",))[0] == raw for uid, (raw, _) in truth.items()),
        "as_it_was": sum(back.get(uid) == both for uid, both in truth.items()),
        "wrong": sum(uid in truth and raw != truth[uid][0] for uid, (raw, _) in back.items()),
        "listed": codes["list"][1].count(".s1p"),
        "untouched": damaged.read_bytes() == before or codes["write"][0] == 0,
        "overwritten": [uid for uid, both in readable.items() if after.get(uid) != both],
        "seen": codes["check"][0] == 2,
    }


def study(count, seed, *, sweeps=SWEEPS):
    """Results for so many flipped bits anywhere in the file."""
    chance = random.Random(seed)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        source = folder / "whole.sqlite"
        fill(source, sweeps)
        truth = raw_files(source)
        fill(folder / "one.sqlite", 1)
        run("export", folder / "one", "--log", folder / "one.sqlite")
        assert len(truth) == sweeps
        bits = [chance.randrange(8 * source.stat().st_size) for _ in range(count)]
        return [try_one(source, truth, folder, bit) for bit in bits]


def main():
    """Print what was counted."""
    count, seed = (*map(int, sys.argv[1:]), *(131, 1)[len(sys.argv) - 1 :])
    results = study(count, seed)
    seen = [one for one in results if one["seen"]]
    print(f"{count} flips, {len(seen)} seen by check")
    print("written to", Counter(one["codes"]["write"] for one in results))
    for name in ("given_back", "as_it_was", "listed"):
        of_seen = [one[name] for one in seen]
        print(
            name,
            f"{sum(of_seen) / len(of_seen) / SWEEPS:.2%} of sweeps, least {min(of_seen)}",
            Counter(of_seen),
        )
    for one in results:
        silent = not one["seen"] and (one["as_it_was"] < SWEEPS or one["listed"] < SWEEPS)
        if (
            silent
            or one["wrong"]
            or one["given_back"] < SWEEPS - 1
            or one["overwritten"]
            or 3 in one["codes"].values()
        ):
            print(
                {name: value for name, value in one.items() if name != "texts"}, one["texts"]["check"][:300]
            )


if __name__ == "__main__":
    main()
