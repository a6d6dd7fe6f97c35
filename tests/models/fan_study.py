"""How far the answer for fans misses on wire models: worst dip after one round and after two, in percent.

    python -m tests.models.fan_study 1 3         # seed and count; needs the extra models
    python -m tests.models.fan_study 1 3 1       # only fans of one set of pairs
    python -m tests.models.fan_study 1 3 1 quick # over soil by its reflection coefficients

Two or three pairs from one feedpoint, ends spread, most of them long; every target the middle of its band. All pairs
are changed at once by the whole change, twice.
"""

from __future__ import annotations

import sys
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sweepkit.kit import Kit
from sweepkit.several_bands.from_sweeps import plan_parts_from_sweeps
from sweepkit.several_bands.parts_told import PartsWish
from sweepkit.several_bands.places import places_of
from sweepkit.sweep import Sweep
from tests.models import nec
from tests.models.bands_study import analyzer

FloatArray = NDArray[np.float64]
SETS = (("40 m", "20 m"), ("40 m", "20 m", "15 m"), ("20 m", "15 m", "10 m"))
MIDDLE = {"40 m": 7.1e6, "20 m": 14.175e6, "15 m": 21.225e6, "10 m": 28.85e6}


def fan(legs_m: dict[str, float], shape: dict[str, Any]) -> nec.Antenna:
    """Legs of all pairs from the two ends of a short level segment, side by side with a spread."""
    half_m, height_m, radius_m = 0.15, shape["height_m"], 0.5e-3
    left, right = (-half_m, 0.0, height_m), (half_m, 0.0, height_m)
    wires = [nec.Wire(left, right, 1, radius_m)]
    for number, leg_m in enumerate(legs_m.values()):
        turn = np.radians(shape["spread_deg"] * (number - (len(legs_m) - 1) / 2))
        down = np.radians(shape["droop_deg"])
        reach = (leg_m - half_m) * np.cos(down)
        across, aside, fall = reach * np.cos(turn), reach * np.sin(turn), (leg_m - half_m) * np.sin(down)
        for sign, start in ((1, right), (-1, left)):
            end = (sign * (half_m + across), float(aside), height_m - fall)
            wires.append(nec.Wire(start, end, 13, radius_m))
    soil = replace(nec.SOILS[shape["soil"]], by_reflection=shape["quick"])
    return nec.Antenna(tuple(wires), (0, 1), soil)


def reflection(legs_m: dict[str, float], shape: dict[str, Any], f_hz: FloatArray) -> NDArray[np.complex128]:
    z = nec.z_ohm(fan(legs_m, shape), f_hz)
    return np.asarray((z - 50) / (z + 50))


def true_dips(legs_m: dict[str, float], shape: dict[str, Any]) -> dict[str, float]:
    """By a parabola through the squared reflection near each band."""
    dips = {}
    for name in legs_m:
        f_hz = MIDDLE[name] * np.linspace(0.93, 1.07, 15)
        size = np.abs(reflection(legs_m, shape, f_hz)) ** 2
        k = int(np.clip(np.argmin(size), 1, f_hz.size - 2))
        fine = np.linspace(f_hz[k - 1], f_hz[k + 1], 9)
        fit = np.polyfit(fine - fine[4], np.abs(reflection(legs_m, shape, fine)) ** 2, 3)
        u = np.linspace(fine[0] - fine[4], fine[-1] - fine[4], 4001)
        dips[name] = float(fine[4] + u[np.argmin(np.polyval(fit, u))])
    return dips


def main(seed: str, count: str, only: str = "", how: str = "") -> None:
    """Run and print."""
    dice = np.random.default_rng(int(seed))
    worst: dict[str, list[float]] = {"left": [], "one": [], "two": []}
    held, widths = [], []
    for number in range(int(count)):
        names = SETS[int(only or number) % 3]
        shape = {
            "height_m": float(dice.uniform(7, 11)),
            "droop_deg": float(dice.uniform(5, 25)),
            "spread_deg": float(dice.uniform(10, 35)),
            "soil": str(dice.choice(["dry", "average", "wet"])),
            "quick": how == "quick",
        }
        legs = {name: 0.2475 * 299_792_458 / MIDDLE[name] * float(dice.uniform(0.99, 1.05)) for name in names}
        places = places_of(targets=[f"{name}={MIDDLE[name]:.0f} Hz" for name in names])
        dips = true_dips(legs, shape)
        worst["left"].append(max(abs(100 * (dips[n] / MIDDLE[n] - 1)) for n in names))
        for step in ("one", "two"):
            sweeps = []
            for name in names:
                f_hz = MIDDLE[name] * np.linspace(0.91, 1.05, 51)
                sweeps.append(Sweep.from_gamma(f_hz, analyzer(f_hz, reflection(legs, shape, f_hz), dice)))
            wish = PartsWish("fan", legs, "slide", "mean")
            plan = plan_parts_from_sweeps(sweeps, places, wish, kit=Kit(), measured_at="feedpoint", seed=1)
            print(names, plan.action, plan.reason, [f.code for f in plan.findings])
            for move in plan.moves:
                legs[move.part] += move.full_m.value or 0.0
            dips = true_dips(legs, shape)
            worst[step].append(max(abs(100 * (dips[n] / MIDDLE[n] - 1)) for n in names))
            if plan.action not in ("leave", "cannot_say"):
                for row in plan.bands:
                    f = row.after.dip_hz
                    held.append(f.low <= dips[row.name] <= f.high)
                    widths.append((f.high - f.low) / f.value)
        off = {name: f"{100 * (dips[name] / MIDDLE[name] - 1):+.2f}" for name in names}
        print({name: f"{values[-1]:.3f}" for name, values in worst.items()}, off, flush=True)
    for name, values in worst.items():
        print(
            f"{name:5} median {np.median(values):.3f} p90 {np.quantile(values, 0.9):.3f} worst {max(values):.3f} %"
        )
    print(f"dips held {np.mean(held):.3f} of {len(held)}; width {np.median(widths):.4f}")


if __name__ == "__main__":
    main(*sys.argv[1:])
