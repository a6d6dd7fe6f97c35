"""How far the answer for trap dipoles misses on wires by the method of moments in free space, with traps as loads.

    python -m tests.models.trap_study 3      # how many; needs the extra models

40 and 20 m; sections off by up to 5 %, traps of 15 to 30 pF and Q 80 to 200 that are off by 2 %; one round.
"""

from __future__ import annotations

import sys

import numpy as np
from numpy.typing import NDArray

from sweepkit.kit import Kit
from sweepkit.several_bands.from_sweeps import plan_parts_from_sweeps
from sweepkit.several_bands.parts_told import PartsWish
from sweepkit.several_bands.places import places_of
from sweepkit.sweep import Sweep
from tests.models.bands_study import analyzer

FloatArray = NDArray[np.float64]
MIDDLE = {"40 m": 7.1e6, "20 m": 14.175e6}
HALF_M, TRAP_M, RADIUS_M = 0.15, 0.1, 0.5e-3  # of the fed piece, of a trap, of the wire


def reflection(
    ends_m: dict[str, float], f_hz: FloatArray, trap: tuple[float, float, float]
) -> NDArray[np.complex128]:
    """Of both legs against 50 ohm; the trap has a capacitor [F], a Q and what it is tuned off by."""
    import PyNEC

    trap_f, q, off = trap
    henry = 1 / ((2 * np.pi * MIDDLE["20 m"] * off) ** 2 * trap_f)
    z_ohm = []
    for f in f_hz:
        w = 2 * np.pi * f
        trap_ohm = 1 / (1 / (w * henry * (1j + 1 / q)) + 1j * w * trap_f)
        context = PyNEC.nec_context()
        geometry = context.get_geometry()
        geometry.wire(1, 1, -HALF_M, 0, 0, HALF_M, 0, 0, RADIUS_M, 1, 1)
        for tag, side in ((2, 1), (5, -1)):
            near_m, far_m = ends_m["20 m"] - TRAP_M / 2, ends_m["20 m"] + TRAP_M / 2
            pieces = ((HALF_M, near_m, 15), (near_m, far_m, 1), (far_m, ends_m["40 m"], 11))
            for number, (start_m, end_m, segments) in enumerate(pieces):
                geometry.wire(
                    tag + number, segments, side * start_m, 0, 0, side * end_m, 0, 0, RADIUS_M, 1, 1
                )
        context.geometry_complete(0)
        context.ld_card(5, 0, 0, 0, 5.8e7, 0, 0)
        for tag in (3, 6):
            context.ld_card(4, tag, 1, 1, trap_ohm.real, trap_ohm.imag, 0)
        context.ex_card(0, 1, 1, 0, 1.0, 0, 0, 0, 0, 0)
        context.fr_card(0, 1, f / 1e6, 0)
        context.xq_card(0)
        z_ohm.append(complex(context.get_input_parameters(0).get_impedance()[0]))
    z = np.array(z_ohm)
    return np.asarray((z - 50) / (z + 50))


def true_dip_hz(ends_m: dict[str, float], name: str, trap: tuple[float, float, float]) -> float:
    """By a cubic through the squared reflection."""
    f_hz = MIDDLE[name] * np.linspace(0.92, 1.08, 25)
    k = int(np.clip(np.argmin(np.abs(reflection(ends_m, f_hz, trap))), 1, 23))
    f_hz = np.linspace(f_hz[k - 1], f_hz[k + 1], 9)
    fit = np.polyfit(f_hz - f_hz[4], np.abs(reflection(ends_m, f_hz, trap)) ** 2, 3)
    u = np.linspace(f_hz[0] - f_hz[4], f_hz[-1] - f_hz[4], 2001)
    return float(f_hz[4] + u[np.argmin(np.polyval(fit, u))])


def main(count: str) -> None:
    """Run and print."""
    held = []
    for number in range(int(count)):
        dice = np.random.default_rng(number)
        trap = (dice.uniform(15e-12, 30e-12), dice.uniform(80, 200), 1 + 0.02 * dice.normal())
        ends_m = {"20 m": 5.05 * dice.uniform(1, 1.04), "40 m": 8.4 * dice.uniform(1, 1.05)}
        was = {name: 100 * (true_dip_hz(ends_m, name, trap) / MIDDLE[name] - 1) for name in ends_m}
        sweeps = []
        for name in ends_m:
            f_hz = MIDDLE[name] * np.linspace(0.88, 1.1, 67)
            sweeps.append(Sweep.from_gamma(f_hz, analyzer(f_hz, reflection(ends_m, f_hz, trap), dice)))
        places = places_of(targets=[f"{name}={MIDDLE[name]:.0f} Hz" for name in ends_m])
        wish = PartsWish("trap", dict(ends_m), "slide", "mean")
        plan = plan_parts_from_sweeps(sweeps, places, wish, kit=Kit(), measured_at="feedpoint", seed=1)
        then = dict(ends_m)
        for move in plan.moves:  # a section carries all that lies further out
            then = {
                n: m + (move.full_m.value or 0.0) * (ends_m[n] >= ends_m[move.part]) for n, m in then.items()
            }
        now = {name: 100 * (true_dip_hz(then, name, trap) / MIDDLE[name] - 1) for name in ends_m}
        for row in plan.bands:
            figure, true_hz = row.after.dip_hz, MIDDLE[row.name] * (1 + now[row.name] / 100)
            held.append(
                figure.low is not None and figure.high is not None and figure.low <= true_hz <= figure.high
            )
        print({n: f"{was[n]:+.2f} -> {now[n]:+.2f} %" for n in was}, plan.action)
    print(f"dips held {sum(held)} of {len(held)}")


if __name__ == "__main__":
    main(*sys.argv[1:])
