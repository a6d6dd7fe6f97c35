"""Whether the losses of the ledger lie in their intervals, row by row, on stations whose truth is known.

    python -m tests.models.watts_study tests/data/models/stations.npz [more ...]   # files of tests.models.stations

Each station stands behind a line that is not quite the one told (``set_ups.make_coax``) with joints at both ends, or
none, and is swept by an analyzer whose errors nobody tells. An end-fed heats that loses half of its power and more in
choke and box, a sound one loses a third at most. A whip of a tenth of a wave over good ground loses half of it in coil
and ground and is sound; one that radiates less than 15 % heats.
"""

from __future__ import annotations

import json
import sys
from collections import defaultdict
from pathlib import Path
from typing import Any

import numpy as np

from sweepkit.kit import AntennaNote, Kit, Tuner
from sweepkit.reviews import Review, review
from sweepkit.sweep import Sweep
from tests.models.set_ups import make_coax, read_off

LINES = ((), ("RG-58", 8.0), ("RG-58", 20.0), ("RG-213", 15.0), ("RG-174", 7.5))
HEATS_DB = {"end-feds": 3.01, "whips": 8.24}  # half; all but 15 %
SOUND_DB = {"end-feds": 1.76, "whips": 6.02}  # a third; three quarters
JOINT_OHM = (0.02, 1.0)  # a pair of connectors, as in ``set_ups.joint``


class Station:
    """One of them, behind its line."""

    def __init__(self, name: str, truth: dict[str, Any], gamma: np.ndarray, seed: int) -> None:
        self.name, self.truth = name, truth
        self.dice = np.random.default_rng([*name.encode(), seed])
        self.f_hz = np.linspace(truth["start_hz"], truth["stop_hz"], gamma.size)
        self.z_ohm = 50 * (1 + gamma) / (1 - gamma)
        spec = LINES[int(self.dice.integers(len(LINES)))]
        self.piece = make_coax(*spec, self.dice) if spec else None
        self.told = [f"{spec[0]} {spec[1]:g} m"] if spec else ["none"]
        self.joints_ohm = np.exp(self.dice.uniform(*np.log(JOINT_OHM), 2)) if spec else np.zeros(2)
        at_radio = self.z_ohm + self.joints_ohm[1]
        if self.piece is not None:
            at_radio = self.piece.seen_through(self.f_hz, at_radio) + self.joints_ohm[0]
        self.at_radio = (at_radio - 50) / (at_radio + 50)

    def reviewed(self, draws: int = 200) -> Review:
        gamma = read_off(self.f_hz, self.at_radio, self.dice.uniform(0.0005, 0.002), self.dice, in_ohms=False)
        note = AntennaNote(**self.truth["told"])
        kit = Kit(tuner=Tuner(max_swr=100.0))
        sweep = Sweep.from_gamma(self.f_hz, gamma)
        return review(sweep, kit=kit, lines=self.told, antenna=note, draws=draws)

    def losses_db(self, f_hz: float) -> dict[str, float]:
        """Truth at a frequency, of what has one; of coil, ground and box at the dip."""
        shares = self.truth["shares"]
        if self.name[0] == "e":
            rows = {"box": -10 * np.log10(1 - shares["box"] - shares["choke"])}
        else:
            rows = {
                "coil": -10 * np.log10(1 - shares["coil"]),
                "ground": -10 * np.log10(1 - shares["ground"] / (1 - shares["coil"])),
            }
        if self.piece is not None:
            rows["line"] = self._line_db(f_hz)
        return {where: float(loss) for where, loss in rows.items()}

    def _line_db(self, f_hz: float) -> float:
        """Power into the line over power out of it, from voltage and current at both ends."""
        assert self.piece is not None
        z = complex(np.interp(f_hz, self.f_hz, self.z_ohm.real), np.interp(f_hz, self.f_hz, self.z_ohm.imag))
        far = z + self.joints_ohm[1]
        series, shunt = self.piece.per_metre(np.array([f_hz]))
        z0, turn = np.sqrt(series / shunt)[0], (np.sqrt(series * shunt) * self.piece.length_m)[0]
        volts, amps = far * np.cosh(turn) + z0 * np.sinh(turn), np.cosh(turn) + far / z0 * np.sinh(turn)
        goes_in = (volts * np.conj(amps)).real + self.joints_ohm[0] * abs(amps) ** 2
        return float(10 * np.log10(goes_in / z.real))


def check(station: Station, answer: Review, into: dict[str, list[Any]]) -> None:
    """Every row of the band of its dip."""
    near = [
        band
        for band in answer.bands
        if abs((band.low_hz + band.high_hz) / 2 / station.truth["dip_hz"] - 1) < 0.08
    ]
    for band in near[:1]:
        true = station.losses_db(band.best_hz.value or station.truth["dip_hz"])
        for loss in band.power:
            figure = loss.loss_db
            if loss.where not in true or figure.value is None or figure.low is None or figure.high is None:
                continue
            held = figure.low - 1e-9 <= true[loss.where] <= figure.high + 1e-9
            kind = "end-fed" if station.name[0] == "e" else "whip"
            into[f"{kind} {loss.where}"].append(
                (held, figure.high - figure.low, true[loss.where] - figure.value)
            )
            if not held:
                print("missed", station.name, station.told, loss.where, f"{true[loss.where]:.2f}", figure)


def judge(station: Station, answer: Review, into: dict[str, list[bool]]) -> None:
    """Whether it was flagged, among those that heat at an SWR worth using, and among the sound ones."""
    flagged = any(finding.code == "swr-too-good" for finding in answer.findings)
    lost_db = sum(db for where, db in station.losses_db(station.truth["dip_hz"]).items() if where != "line")
    family = "end-feds" if station.name[0] == "e" else "whips"
    if lost_db >= HEATS_DB[family] and station.truth["dip_swr"] < 3:
        into[f"heating {family}"].append(flagged)
    elif lost_db <= SOUND_DB[family]:
        into[f"sound {family}"].append(flagged)
    elif lost_db < HEATS_DB[family]:
        into[f"{family} between"].append(flagged)
    if flagged != (lost_db >= HEATS_DB[family]):
        usable = [band.verdict for band in answer.bands if band.verdict in ("direct", "tuner")]
        print(
            "flagged" if flagged else "passed",
            station.name,
            f"{lost_db:.1f} dB SWR {station.truth['dip_swr']:.1f}",
            station.told,
            usable,
        )


def main(*paths: str) -> None:
    """Run and print."""
    found: dict[str, list[Any]] = defaultdict(list)
    flags: dict[str, list[bool]] = defaultdict(list)
    for path in paths:
        with np.load(Path(path)) as store:
            truth = json.loads(str(store["truth"]))
            for name, one in truth.items():
                station = Station(name, one, store[name].astype(complex), 1)
                answer = station.reviewed()
                check(station, answer, found)
                judge(station, answer, flags)
    total = [held for rows in found.values() for held, *_ in rows]
    for kind, rows in sorted(found.items()):
        held, width, off = (np.array(column, dtype=float) for column in zip(*rows, strict=True))
        middle = (
            f"width {np.median(width):.2f} dB, bias {np.median(off):+.2f}, rms {np.sqrt(np.mean(off**2)):.2f}"
        )
        print(f"{kind:16} {held.mean():.3f} of {held.size}; {middle}")
    print(f"all {np.mean(total):.3f} of {len(total)}")
    for what, flagged in flags.items():
        print(what, sum(flagged), "of", len(flagged), "flagged")


if __name__ == "__main__":
    main(*sys.argv[1:])
