"""How often the ladder is right through the command line, on wire models put up again, joined anew and swept again.

    python -m tests.comparison.ladder_commands [--pairs 24] [--family dipole]

Antennas, lines, connectors and analyzer are those of the fault laboratory (tests/diagnosis/laboratory.py): errors that
run along the sweep, connectors that nobody tells of, another calibration now and then, a smooth change of shape when it
is put up again. Each pair is two files, one command and its JSON; every other one was swept at the feedpoint, the rest
behind a line that is told. ``different`` is of the dip, and of dip or R.
"""

from __future__ import annotations

import argparse
import json
import tempfile
from pathlib import Path
from typing import Any

import numpy as np

from tests.command_line import run_here
from tests.diagnosis.faults import Setup, setups
from tests.diagnosis.laboratory import Station

# One sigma of the logarithm of R, of one erection: the usual spread of a wire, and of what has radials or counterpoise.
R_SD = {"swept-again": 0.007, "joined-anew": 0.014, "put-up-again": 0.08}
R_SD_PUT_UP = {"loaded-whip": 0.12, "end-fed": 0.12}
TOLD = {"swept-again": "--kept", "joined-anew": "--rejoined", "put-up-again": "--put-up-again"}
ROWS = (
    ("swept-again", 0.0, 1),
    ("joined-anew", 0.0, 1),
    ("put-up-again", 0.0, 2),
    ("swept-again", 0.005, 1),
    ("joined-anew", 0.005, 1),
    ("put-up-again", 0.02, 1),
    ("put-up-again", 0.03, 1),
    ("put-up-again", 0.05, 1),
)  # told, shift of the dip, and how many times as many pairs


def write(path: Path, f_hz: np.ndarray, gamma: np.ndarray) -> Path:
    """A Touchstone file."""
    rows = [f"{f:.0f} {g.real:.6f} {g.imag:.6f}" for f, g in zip(f_hz, gamma, strict=True)]
    path.write_text("\n".join(["# Hz S RI R 50", *rows]) + "\n", encoding="utf-8")
    return path


def pair(setup: Setup, rung: str, shift: float, seed: list[int], folder: Path) -> list[Any]:
    """Two files of one station, and the words that tell of them."""
    station = Station(setup, np.random.default_rng(seed), with_line=bool(seed[1] % 2))
    first = write(folder / "a.s1p", setup.f_hz, station.read(station.sweep()))
    station.step(rung)
    own = R_SD_PUT_UP.get(setup.kind, R_SD[rung]) if rung == "put-up-again" else R_SD[rung]
    station.scale = float(np.exp(2**0.5 * own * station.dice.standard_normal()))
    station.slide += shift
    second = write(folder / "b.s1p", setup.f_hz, station.read(station.sweep()))
    line = [word for piece in station.line for word in ("--line", piece)]
    return [first, second, *line, "--measured-at", "radio" if line else "feedpoint", "--kind", setup.kind]


def verdicts(words: list[Any], *more: str) -> dict[str, str]:
    """Of each figure."""
    done = run_here("compare", *words, *more, "--json", "--draws", "400")
    if done.returncode:
        raise SystemExit(done.stderr)
    return {one["quantity"]: one["verdict"] for one in json.loads(done.stdout)["differences"]}


def row(family: str, own: list[Setup], what: tuple[int, str, float], pairs: int) -> str:
    """One line of the table."""
    number, rung, shift = what
    dips, sides, same, untold = 0, 0, 0, 0
    for k in range(pairs):
        with tempfile.TemporaryDirectory() as folder:
            moved = shift if k % 4 < 2 else -shift
            words = pair(own[k // 2 % len(own)], rung, moved, [number, k, len(family)], Path(folder))
            said = verdicts(words, TOLD[rung])
            dips += said["dip_hz"] == "different"
            sides += "different" in (said["dip_hz"], said["r_ohm"])
            same += said["dip_hz"] == "same"
            if shift >= 0.03:
                untold += verdicts(words)["dip_hz"] == "same"
    untold_text = str(untold) if shift >= 0.03 else "-"
    return f"| {family} | {rung} | {100 * shift:g} % | {pairs} | {dips} | {sides} | {same} | {untold_text} |"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pairs", type=int, default=24)
    parser.add_argument("--family", default="")
    arguments = parser.parse_args()
    families: dict[str, list[Setup]] = {}
    for setup in setups():
        families.setdefault(setup.kind, []).append(setup)
    print("| family | told | moved | pairs | dip different | dip or R | dip same | same, untold |")
    print("|---|---|---|---|---|---|---|---|")
    for family, own in families.items():
        for number, (rung, shift, times) in enumerate(ROWS):
            if arguments.family in family:
                print(row(family, own, (number, rung, shift), times * arguments.pairs), flush=True)


if __name__ == "__main__":
    main()
