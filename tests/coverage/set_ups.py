"""How often intervals hold, and how far off figures are, behind real lines and real analyzers.

    python -m tests.coverage.set_ups --n 400                     # in the world of tests.models.set_ups
    python -m tests.coverage.set_ups --n 400 --structure         # with one untold thing more in the line
    python -m tests.coverage.set_ups --n 400 --outside FILE      # in independent models, see outside_trials

Each set-up is written as the analyzer's file, read back, and reviewed with nothing told but type and length of the
line. A figure without an answer counts as not held.
"""

from __future__ import annotations

import argparse
import importlib.util
import sys
import tempfile
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from sweepkit import read_sweep
from sweepkit.reviews import Review, review
from tests.models.set_ups import SPECIMENS, draw_set_up, truth_of

FIGURES = ("dip", "swr", "r", "x0", "low edge", "high edge")
SHOWN = ("dip", "swr", "r", "x0", "edges")


@dataclass(frozen=True)
class Trial:
    """A file, what is told, what is true, and what to sort it by."""

    path: Path
    told: tuple[str, ...] | None
    truth: dict[str, float | None]
    keys: tuple[str, ...]


def own_trials(n: int, folder: Path, *, seed: int, structure: bool, specimens: Path) -> Iterator[Trial]:
    """Set-ups of tests.models.set_ups."""
    for k in range(n):
        set_up = draw_set_up((seed, k), structure=structure, path=specimens)
        keys = (set_up.family, f"line {set_up.line_class}", set_up.printing)
        yield Trial(set_up.write(folder / f"{k}"), set_up.told, truth_of(set_up), keys)


def outside_trials(n: int, folder: Path, *, file: Path, seed: int, structure: bool) -> Iterator[Trial]:
    """Set-ups of independent models: a Python file with antennas(), antenna(name) and redraw(antenna, seed, kind)."""
    spec = importlib.util.spec_from_file_location("outside_models", file)
    outside = importlib.util.module_from_spec(spec)
    sys.modules["outside_models"] = outside
    spec.loader.exec_module(outside)
    names = outside.antennas()
    for k in range(n):
        drawn = outside.redraw(
            outside.antenna(names[k % len(names)]), seed + k // len(names), "step" if structure else "told"
        )
        path, _ = drawn.write(folder)
        truth = {**drawn.truth, "low edge": drawn.truth["edges"][0], "high edge": drawn.truth["edges"][1]}
        told = (f"{drawn.told[0]} {drawn.told[1]} m",) if drawn.told else None
        yield Trial(path, told, truth, (drawn.antenna.family, f"line {drawn.line_class}", drawn.printing))


@dataclass
class Tally:
    """What became of one figure: held or not, error and width in per cent."""

    held: list[bool]
    error: list[float]
    width: list[float]

    def row(self) -> str:
        if not self.held:
            return "- | - | -"
        error, width = np.array(self.error or [np.nan]), np.array(self.width or [np.nan])
        return (
            f"{100 * np.mean(self.held):.0f} of {len(self.held)} | {np.median(error):.2g} / "
            f"{np.quantile(error, 0.95):.2g} / {error.max():.2g} | {np.median(width):.2g}"
        )


def figures_of(answer: Review, truth: dict[str, float | None]) -> dict[str, object]:
    """The figures next to the true ones."""
    plane = answer.feedpoint
    near = [
        (abs(dip.f_hz.value - truth["dip"]), k)
        for k, dip in enumerate(plane.dips)
        if dip.f_hz.value is not None
    ]
    if not near:
        return {}
    k = min(near)[1]
    found = {"dip": plane.dips[k].f_hz, "swr": plane.dips[k].swr}
    width = next(w for w in plane.swr_bandwidths if w.dip == k and w.limit_swr == 2.0)
    found |= {"low edge": width.low_hz, "high edge": width.high_hz}
    at = [
        (abs(r.f_hz.value - truth["x0"]), r.f_hz.value, r)
        for r in plane.resonances
        if truth["x0"] and r.f_hz.value
    ]
    if at:
        found |= {"x0": min(at)[2].f_hz, "r": min(at)[2].r_ohm}
    return found


def run(trials: Iterator[Trial], *, draws: int = 1000) -> dict[tuple[str, str], Tally]:
    """Tallies by sort key and figure."""
    tallies: dict[tuple[str, str], Tally] = defaultdict(lambda: Tally([], [], []))
    for trial in trials:
        if trial.truth["dip"] is None:
            continue
        known = {"lines": trial.told} if trial.told else {"measured_at": "feedpoint"}
        answer = review(read_sweep(trial.path), bands=(), draws=draws, **known)
        found = figures_of(answer, trial.truth)
        for name in FIGURES:
            true, figure = trial.truth[name], found.get(name)
            if true is None:
                continue
            for key in ("all", *trial.keys):
                _add(tallies[key, "edges" if "edge" in name else name], figure, true)
    return tallies


def _add(tally: Tally, figure, true: float) -> None:
    answered = figure is not None and figure.value is not None
    tally.held.append(bool(answered and figure.low <= true <= figure.high))
    if answered:
        tally.error.append(100 * abs(figure.value / true - 1))
        tally.width.append(100 * (figure.high - figure.low) / true)


def render(tallies: dict[tuple[str, str], Tally]) -> str:
    """Rows by sort key: held, error median / 95 % / worst, median width, all in per cent."""
    head = " | ".join(f"{name}: held | error | width" for name in SHOWN)
    rows = [f"| | {head} |", "|---" * (1 + 3 * len(SHOWN)) + "|"]
    for key in dict.fromkeys(["all", *sorted({key for key, _ in tallies})]):
        rows.append(f"| {key} | " + " | ".join(tallies[key, name].row() for name in SHOWN) + " |")
    return "\n".join(rows)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--n", type=int, default=400)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--draws", type=int, default=1000)
    parser.add_argument("--structure", action="store_true")
    parser.add_argument("--outside", type=Path)
    parser.add_argument("--specimens", type=Path, default=SPECIMENS)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        where = Path(scratch)
        common = {"seed": asked.seed, "structure": asked.structure}
        if asked.outside:
            drawn = outside_trials(asked.n, where, file=asked.outside, **common)
        else:
            drawn = own_trials(asked.n, where, specimens=asked.specimens, **common)
        print(render(run(drawn, draws=asked.draws)))
