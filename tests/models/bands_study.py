"""How far the answer for several bands misses on modelled end-feds: regret, coverage and width of its intervals.

    python -m tests.models.bands_study tests/data/models/end_fed_wide.npz 3 wide      # seed; wide or per-band

Each antenna starts 4 % short to 6 % long, is swept by an analyzer whose directivity (35 to 46 dB, drifting), tracking
and source match nobody tells of, behind no line or a line that is not quite the one told, and is changed as advised.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sweepkit.antennas.catalogue import kind_named
from sweepkit.antennas.kind import Known
from sweepkit.feedline.chain import LineChain, draw_chain
from sweepkit.feedline.plane import add_chain
from sweepkit.kit import Kit
from sweepkit.lines import LinePiece, parse_piece
from sweepkit.several_bands.answer import BandsPlan
from sweepkit.several_bands.from_sweeps import plan_bands
from sweepkit.several_bands.places import Place, places_of
from sweepkit.several_bands.wire_drawn import WireWish
from sweepkit.sweep import Sweep
from sweepkit.trim.wire import EarlierState
from tests.models.several_bands import WideEndFed, load

FloatArray = NDArray[np.float64]
BANDS = {
    3.65e6: ("80 m", "40 m", "20 m", "15 m", "10 m"),
    7.1e6: ("40 m", "20 m", "15 m", "10 m"),
    14.15e6: ("20 m", "10 m"),
}
LINES = ((), ("RG-58 12 m",), ("RG-8X 20 m",))


def analyzer(
    f_hz: FloatArray, gamma: NDArray[np.complex128], dice: np.random.Generator
) -> NDArray[np.complex128]:
    """What an analyzer makes of a reflection: errors that drift over frequency, and noise."""

    def drifting(size: float) -> NDArray[np.complex128]:
        knots = np.arange(f_hz[0] - 8e6, f_hz[-1] + 16e6, 6e6)
        drawn = (dice.normal(size=knots.size) + 1j * dice.normal(size=knots.size)) * size / np.sqrt(2)
        weights = np.exp(-0.5 * ((f_hz[:, None] - knots) / 4e6) ** 2)
        return np.asarray((weights @ drawn) / np.sqrt((weights**2).sum(axis=1)))

    directivity = drifting(10 ** (-dice.uniform(35, 46) / 20))
    tracking, match = (
        drifting(10 ** (-dice.uniform(30, 40) / 20)),
        drifting(10 ** (-dice.uniform(30, 40) / 20)),
    )
    noise = (
        dice.choice([0.0005, 0.001, 0.002])
        * (dice.normal(size=f_hz.size) + 1j * dice.normal(size=f_hz.size))
        / 2**0.5
    )
    return np.asarray(directivity + gamma * (1 + tracking) / (1 - match * gamma) + noise)


def laid(piece: LinePiece, dice: np.random.Generator) -> LinePiece:
    """The line that was really there."""
    return LinePiece(
        piece.name,
        piece.z0_ohm * dice.normal(1, 0.014),
        min(piece.velocity_factor * dice.normal(1, 0.01), 1.0),
        piece.k1_db_per_100m * max(dice.normal(1, 0.1), 0.5),
        piece.k2_db_per_100m,
        piece.length_m * dice.normal(1, 0.01) + dice.normal(0, 0.05),
    )


def true_loss_db(wire: WideEndFed, length_m: float, places: tuple[Place, ...]) -> list[float]:
    """Mismatch loss of each place, from one curve over all of them."""
    f_hz = np.concatenate([np.linspace(place.low_hz, place.high_hz, 81) for place in places])
    inside = np.abs(wire.gamma(f_hz, length_m)).reshape(len(places), 81).min(axis=1)
    return [float(each) for each in -10 * np.log10(1 - inside**2)]


def true_figures(wire: WideEndFed, length_m: float, place: Place) -> tuple[float, float, float | None]:
    """Mismatch loss, best SWR, and the dip nearest the middle of a place within 12 %."""
    low, high = place.low_hz, place.high_hz
    inside = np.abs(wire.gamma(np.linspace(low, high, 121), length_m)).min()
    f_hz = place.middle_hz * np.exp(np.linspace(-0.13, 0.13, 2001))
    size = np.abs(wire.gamma(f_hz, length_m))
    dips = np.flatnonzero((size[1:-1] < size[:-2]) & (size[1:-1] < size[2:])) + 1
    dips = dips[np.abs(np.log(f_hz[dips] / place.middle_hz)) < 0.12]
    nearest = f_hz[dips[np.argmin(np.abs(np.log(f_hz[dips] / place.middle_hz)))]] if dips.size else None
    return float(-10 * np.log10(1 - inside**2)), float((1 + inside) / (1 - inside)), nearest


def aim_of(losses: list[float], aim: str) -> float:
    return max(losses) if aim == "worst" else float(np.mean(losses))


class Trial:
    """One antenna, one start."""

    def __init__(self, wire: WideEndFed, number: int, seed: int, how: str) -> None:
        self.wire, self.how = wire, how
        self.dice = np.random.default_rng([seed, number])
        self.start_m = wire.spec["wire_m"] * self.dice.uniform(0.98, 1.08)
        self.told = tuple(parse_piece(text) for text in LINES[int(self.dice.integers(3))])
        self.there = tuple(laid(piece, self.dice) for piece in self.told)
        self.places = places_of(bands=BANDS[wire.spec["lowest_hz"]])
        self.points = int(self.dice.choice([201, 401, 801]))

    def sweeps(self, length_m: float) -> list[Sweep]:
        spans = [(3e6, 30.5e6, self.points)]
        if self.how == "per-band":
            spans = [(0.95 * p.low_hz, 1.05 * p.high_hz, 101) for p in self.places]
        return [self._sweep(np.linspace(*span), length_m) for span in spans]

    def _sweep(self, f_hz: FloatArray, length_m: float) -> Sweep:
        gamma = self.wire.gamma(f_hz, length_m)
        if self.there:
            gamma = add_chain(f_hz, gamma, draw_chain(LineChain(self.there), self.dice, 0))[0]
        return Sweep.from_gamma(f_hz, analyzer(f_hz, gamma, self.dice))

    def plan(self, sweeps: list[Sweep], length_m: float, aim: Any, earlier: Any = ()) -> BandsPlan:
        spec = self.wire.spec
        known = Known(counterpoise_m=spec["counterpoise_m"] if spec["counterpoise_m"] > 0.5 else None)
        wish = WireWish(kind_named("end-fed"), length_m, "slide", aim, known, spec["shield_m"])
        place = "radio" if self.told else "feedpoint"
        return plan_bands(
            sweeps, self.places, wish, earlier=earlier, kit=Kit(), lines=self.told, measured_at=place, seed=1
        )

    def least(self, aim: str) -> float:
        lengths = self.start_m * np.linspace(0.88, 1.10, 89)
        inside = [m for m in lengths if 0.862 < m / self.wire.spec["wire_m"] < 1.138]
        return min(aim_of(true_loss_db(self.wire, m, self.places), aim) for m in inside)

    def loss(self, length_m: float, aim: str) -> float:
        return aim_of(true_loss_db(self.wire, length_m, self.places), aim)


def check(trial: Trial, plan: BandsPlan, length_m: float, into: dict[str, list[Any]]) -> None:
    """Whether the intervals after the move hold, and how wide they are."""
    for row, place in zip(plan.bands, trial.places, strict=True):
        _, swr, dip_hz = true_figures(trial.wire, length_m, place)
        for name, figure, true in (("dip", row.after.dip_hz, dip_hz), ("swr", row.after.best_swr, swr)):
            if figure.value is None or true is None or figure.low is None or figure.high is None:
                into[f"{name} none"].append((figure.value is None, true is None))
                continue
            into[name].append(figure.low <= true <= figure.high)
            into[f"{name} width"].append((figure.high - figure.low) / figure.value)
            if not into[name][-1]:
                into["missed"].append(
                    f"{name} {place.name} {trial.wire.spec['lowest_hz'] / 1e6:g} coax {trial.wire.spec['shield_m']:.1f}"
                    f" true {true:.6g} said {figure.low:.6g} {figure.value:.6g} {figure.high:.6g} {row.moved_by}"
                )


def main(path: str, seed: str, how: str, aim: str = "mean", starts: str = "3") -> None:
    """Run and print."""
    regrets: dict[str, list[float]] = {"left": [], "first": [], "second": [], "worse": []}
    names = ("dip", "swr", "dip width", "swr width", "missed", "dip none", "swr none")
    held: dict[str, list[Any]] = {name: [] for name in names}
    for number, wire in enumerate(load(Path(path))):
        for start in range(int(starts)):
            trial = Trial(wire, 10 * number + start, int(seed), how)
            sweeps = trial.sweeps(trial.start_m)
            plan = trial.plan(sweeps, trial.start_m, aim)
            if not plan.moves:
                print("no move", plan.reason)
                continue
            m = plan.moves[0].full_m.value if plan.action != "leave" else 0.0
            then_m = trial.start_m + m
            least, left = trial.least(aim), trial.loss(trial.start_m, aim)
            regrets["left"].append(left - least)
            regrets["first"].append(trial.loss(then_m, aim) - least)
            regrets["worse"].append(trial.loss(then_m, aim) - left)
            check(trial, plan, then_m, held)
            print(
                f"{number}.{start} left {regrets['left'][-1]:.3f} then {regrets['first'][-1]:.3f}", flush=True
            )
            if abs(m) > 0.01:
                state = EarlierState("first", trial.start_m, False, "slide")
                earlier = [(state, sweep) for sweep in sweeps]
                again = trial.plan(trial.sweeps(then_m), then_m, aim, earlier)
                m2 = again.moves[0].full_m.value if again.moves and again.action != "leave" else 0.0
                regrets["second"].append(trial.loss(then_m + m2, aim) - least)
    for name, values in regrets.items():
        v = np.array(values)
        print(
            f"{name:8} n {v.size} median {np.median(v):.3f} p90 {np.quantile(v, 0.9):.3f} worst {v.max():.3f}"
        )
    for name in ("dip", "swr"):
        w = np.array(held[f"{name} width"])
        held_share, none = np.mean(held[name]), len(held[f"{name} none"])
        print(
            f"{name} holds {held_share:.3f} of {len(held[name])}; width median {np.median(w):.4f}; without {none}"
        )
    print("\n".join(held["missed"]))


if __name__ == "__main__":
    main(*sys.argv[1:])
