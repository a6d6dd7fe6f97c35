"""Sound sweeps however they are noisy or printed: is one of them blamed, and how far off are its figures.

    python -m tests.coverage.sound --n 1000        # a table of docs/sweep-health.md

Single resonators and modelled antennas with the dip inside, ten points or more within SWR 2 and both ends of that
width in the sweep; every second one through 1 to 25 m of lossy line that nobody told. Noise is even in reflection
(0.0005 to 0.005), even in ohms (0.1 to 1 ohm rms), or on R alone; or there is none but that of the digits printed.
With draws there is a directivity error of 35 to 46 dB as well, of a size that is told, and the table shows how often
dip and lower edge are held.
"""

from __future__ import annotations

import argparse
from collections import defaultdict
from collections.abc import Callable

import numpy as np

from sweepkit.kit import Analyzer, Kit
from sweepkit.printed_step import PrintedStep, Step
from sweepkit.reviews import review
from sweepkit.sweep import Sweep
from tests.coverage.antennas import NARROW_TABLES, Case, parallel, series, table

CODES = (
    "too-coarse",
    "span-too-narrow",
    "dip-at-edge",
    "jagged",
    "interference",
    "loose-joint",
    "wrong-plane",
)
POINTS = (51, 101, 201, 401, 801)
LEAST_INSIDE = 10
MARGIN = 0.25  # of the width that the sweep reaches beyond it at least


def _z_of(gamma):
    return 50 * (1 + gamma) / (1 - gamma)


def _gamma_of(z_ohm):
    return (z_ohm - 50) / (z_ohm + 50)


def _noisy(gamma, size, dice):
    return gamma + size / np.sqrt(2) * (
        dice.standard_normal(gamma.size) + 1j * dice.standard_normal(gamma.size)
    )


def _rounded(z, step):
    return step * (np.round(z.real / step) + 1j * np.round(z.imag / step))


def _polar(gamma, step, degrees):
    angle = np.radians(degrees * np.round(np.degrees(np.angle(gamma)) / degrees))
    return step * np.round(np.abs(gamma) / step) * np.exp(1j * angle)


def _decibel(gamma, step_db, degrees):
    size = 10 ** (step_db * np.round(20 * np.log10(np.abs(gamma)) / step_db) / 20)
    return size * np.exp(1j * np.angle(_polar(gamma, 1e-6, degrees)))


def _uniform_log(dice, low, high):
    return float(np.exp(dice.uniform(np.log(low), np.log(high))))


def _swr_digits(gamma, step):
    swr = (1 + np.abs(gamma)) / (1 - np.abs(gamma))
    printed = np.maximum(step * np.round(swr / step), 1.0)
    return ((printed - 1) / (printed + 1)).astype(complex)


def _loss_digits(gamma, step_db):
    return np.abs(_decibel(gamma, step_db, 1.0)).astype(complex)


def _both(gamma, step, dice):
    """Noise of the size that is common beside the rounding."""
    return _gamma_of(_rounded(_z_of(_noisy(gamma, 0.001, dice)), step))


WAYS: dict[str, Callable[[np.ndarray, np.random.Generator], np.ndarray]] = {
    "noise in reflection": lambda g, dice: _noisy(g, _uniform_log(dice, 0.0005, 0.005), dice),
    "noise in ohms": lambda g, dice: _gamma_of(_noisy(_z_of(g), _uniform_log(dice, 0.1, 1.0), dice)),
    "noise on R": lambda g, dice: _gamma_of(
        _z_of(g) + _uniform_log(dice, 0.1, 1.0) * dice.standard_normal(g.size)
    ),
    "R, X to 1 ohm": lambda g, dice: _gamma_of(_rounded(_z_of(g), 1.0)),
    "R, X to 0.1 ohm": lambda g, dice: _gamma_of(_rounded(_z_of(g), 0.1)),
    "R, X to 0.01 ohm": lambda g, dice: _gamma_of(_rounded(_z_of(g), 0.01)),
    "noise, R, X to 1 ohm": lambda g, dice: _both(g, 1.0, dice),
    "RI to 3 decimals": lambda g, dice: _rounded(g, 1e-3),
    "RI to 2 decimals": lambda g, dice: _rounded(g, 1e-2),
    "MA to 3 decimals, 0.1 deg": lambda g, dice: _polar(g, 1e-3, 0.1),
    "MA to 2 decimals, 1 deg": lambda g, dice: _polar(g, 1e-2, 1.0),
    "dB to 0.01, 0.1 deg": lambda g, dice: _decibel(g, 0.01, 0.1),
    "dB to 0.1, 1 deg": lambda g, dice: _decibel(g, 0.1, 1.0),
    "exact": lambda g, dice: g,
    "SWR to 0.01": lambda g, dice: _swr_digits(g, 0.01),
    "SWR to 0.1": lambda g, dice: _swr_digits(g, 0.1),
    "return loss to 0.01 dB": lambda g, dice: _loss_digits(g, 0.01),
    "return loss to 0.1 dB": lambda g, dice: _loss_digits(g, 0.1),
}
Scores = dict[str, dict[str, list[float]]]
NO_PHASE = ("SWR", "return loss")


def _printed(names: str, *steps: Step) -> PrintedStep:
    return PrintedStep(tuple(names.split()), steps, 50.0)


DEGREE = np.pi / 180
STEPS = {
    "R, X to 1 ohm": _printed("r x", Step(1.0), Step(1.0)),
    "R, X to 0.1 ohm": _printed("r x", Step(0.1), Step(0.1)),
    "R, X to 0.01 ohm": _printed("r x", Step(0.01), Step(0.01)),
    "noise, R, X to 1 ohm": _printed("r x", Step(1.0), Step(1.0)),
    "RI to 3 decimals": _printed("re im", Step(1e-3), Step(1e-3)),
    "RI to 2 decimals": _printed("re im", Step(1e-2), Step(1e-2)),
    "MA to 3 decimals, 0.1 deg": _printed("mag s_phase", Step(1e-3), Step(0.1, scale=DEGREE)),
    "MA to 2 decimals, 1 deg": _printed("mag s_phase", Step(1e-2), Step(1.0, scale=DEGREE)),
    "dB to 0.01, 0.1 deg": _printed("db s_phase", Step(0.01), Step(0.1, scale=DEGREE)),
    "dB to 0.1, 1 deg": _printed("db s_phase", Step(0.1), Step(1.0, scale=DEGREE)),
    "SWR to 0.01": _printed("swr", Step(0.01)),
    "SWR to 0.1": _printed("swr", Step(0.1)),
    "return loss to 0.01 dB": _printed("rl", Step(0.01)),
    "return loss to 0.1 dB": _printed("rl", Step(0.1)),
}


def draw_sound(dice: np.random.Generator) -> tuple[np.ndarray, np.ndarray, dict[str, float]]:
    """Grid, exact reflection, and dip and SWR 2 edges of what is seen at the analyzer."""
    while True:
        case = _case(dice)
        f_hz = np.linspace(case.low_hz, case.high_hz, int(dice.choice(POINTS)))
        length_m = float(dice.uniform(1, 25)) if dice.random() < 0.5 else 0.0
        truth = _figures(case, length_m)
        if truth is None:
            continue
        width_hz = truth["high"] - truth["low"]
        inside = np.count_nonzero((f_hz > truth["low"]) & (f_hz < truth["high"]))
        reach = min(truth["low"] - f_hz[0], f_hz[-1] - truth["high"])
        if inside >= LEAST_INSIDE and reach > max(MARGIN * width_hz, 3 * (f_hz[1] - f_hz[0])):
            return f_hz, _seen(case, f_hz, length_m), truth


def _case(dice: np.random.Generator) -> Case:
    if dice.random() < 0.25:
        return table(str(dice.choice(NARROW_TABLES)))
    kind = series if dice.random() < 0.5 else parallel
    f0_hz = float(dice.choice([3.6e6, 7.1e6, 10.1e6, 14.2e6, 21.2e6, 28.5e6]))
    q = _uniform_log(dice, 5, 80)
    z_ohm = kind(_uniform_log(dice, 30, 85), q, f0_hz)
    low, high = dice.uniform(0.8, 4.0, 2) / q
    return Case(kind.__name__, z_ohm, f0_hz * (1 - min(low, 0.4)), f0_hz * (1 + min(high, 0.4)))


def _seen(case: Case, f_hz: np.ndarray, length_m: float) -> np.ndarray:
    loss = 0.0015 * length_m * np.sqrt(f_hz / 1e6)  # Np one way, a thin coax; common practice, no source
    return _gamma_of(case.z_ohm(f_hz)) * np.exp(
        -4j * np.pi * f_hz * length_m / (0.66 * 299_792_458.0) - 2 * loss
    )


def _figures(case: Case, length_m: float) -> dict[str, float] | None:
    f_hz = np.linspace(case.low_hz, case.high_hz, 4001)
    size = np.abs(_seen(case, f_hz, length_m))
    k = int(np.argmin(size))
    if not 0 < k < f_hz.size - 1 or size[k] >= 1 / 3:
        return None
    above = np.flatnonzero(size > 1 / 3)
    below, beyond = above[above < k], above[above > k]
    if not (below.size and beyond.size):
        return None
    swr = (1 + size[k]) / (1 - size[k])
    return {
        "dip": float(f_hz[k]),
        "low": float(f_hz[below[-1]]),
        "high": float(f_hz[beyond[0]]),
        "swr": float(swr),
    }


def run_sound(n: int, *, seed: int = 61, draws: int = 0, ways=WAYS, told: bool = True) -> Scores:
    """For each way what was said (0 or 1), the error of the dip in kHz, and whether the interval held it."""
    scores: Scores = {way: defaultdict(list) for way in ways}
    for number, way in enumerate(ways):
        for trial in range(n):
            dice = np.random.default_rng([seed, number, trial])
            f_hz, gamma, truth = draw_sound(dice)
            directivity_db = float(dice.uniform(35, 46))
            if draws:  # told, so that the table is about noise and digits alone
                gamma = gamma + 10 ** (-directivity_db / 20) * np.exp(2j * np.pi * dice.random())
            printed = WAYS[way](gamma, dice)
            step = STEPS.get(way) if told else None
            if way.startswith(NO_PHASE):
                sweep = Sweep.from_magnitude(f_hz, np.abs(printed), printed_step=step)
            else:
                sweep = Sweep.from_gamma(f_hz, printed, printed_step=step)
            kit = Kit(analyzer=Analyzer(directivity_db=directivity_db))
            _score(review(sweep, kit=kit, bands=(), draws=draws, seed=trial), truth, scores[way])
    return scores


def _score(answer, truth, score) -> None:
    codes = {finding.code for finding in answer.findings if finding.level != "note"}
    for code in CODES:
        score[code].append(code in codes)
    dips = [dip for dip in answer.main_plane.dips if dip.f_hz.value is not None]
    score["no dip"].append(not dips)
    if not dips:
        return
    near = min(dips, key=lambda dip: abs(dip.f_hz.value - truth["dip"]))
    number = answer.main_plane.dips.index(near)
    score["dip too many"].append(len(dips) > 1)
    score["error_khz"].append(abs(near.f_hz.value - truth["dip"]) / 1e3)
    score["error_share"].append(abs(near.f_hz.value - truth["dip"]) / (truth["high"] - truth["low"]))
    width = next(w for w in answer.main_plane.swr_bandwidths if w.dip == number and w.limit_swr == 2.0)
    score["no width"].append(width.bandwidth_hz.value is None)
    if near.f_hz.low is not None:
        score["dip held"].append(near.f_hz.low <= truth["dip"] <= near.f_hz.high)
        if width.low_hz.low is not None:
            score["edge held"].append(width.low_hz.low <= truth["low"] <= width.low_hz.high)


def render(scores) -> str:
    """The table of the documents."""
    columns = ("no dip", *CODES, "no width", "dip too many")
    lines = ["| sweeps | n | " + " | ".join(columns) + " | dip off, kHz: median / 95 % | of the width |"]
    lines.append("|---|" + "---|" * (len(columns) + 3))
    for way, score in scores.items():
        counts = " | ".join(str(int(np.sum(score[name]))) for name in columns)
        middle, most = np.quantile(score["error_khz"], [0.5, 0.95])
        share = np.quantile(score["error_share"], 0.95)
        held = "".join(f" | {np.mean(score[name]):.1%}" for name in ("dip held", "edge held") if score[name])
        lines.append(
            f"| {way} | {len(score['no dip'])} | {counts} | {middle:.2f} / {most:.2f} | {share:.1%}{held} |"
        )
    return "\n".join(lines)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--n", type=int, default=1000)
    parser.add_argument("--draws", type=int, default=0)
    parser.add_argument("--seed", type=int, default=61)
    parser.add_argument(
        "--untold", action="store_true", help="nothing says in which steps numbers are printed"
    )
    parser.add_argument("--ways", default="", help="part of a name")
    arguments = parser.parse_args()
    chosen = {name: way for name, way in WAYS.items() if arguments.ways in name}
    told = not arguments.untold
    print(render(run_sound(arguments.n, draws=arguments.draws, seed=arguments.seed, ways=chosen, told=told)))
