"""Stations swept over all bands (tests/data/models/wide_faults.npz, made by tests/models/make_wide_faults.py).

A wire slides, coil and box in front of it stay. Put up again is another erection in the model, not one slide of all.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from functools import cache

import numpy as np

from tests.diagnosis.faults import Setup
from tests.models import nec
from tests.models.make_wide_faults import F_HZ, STEP, TABLE, WIRE_OHM
from tests.models.wide_antennas import RATIOS, _between, _box

SPANS_HZ, POINTS = (3e6, 30e6), (401, 601, 1001)
TOLD_AS = {"fan": "dipole"}


@dataclass(frozen=True)
class WideSetup(Setup):
    """One station: every state takes frequencies and how far its wire slides."""

    def z_ohm(self, state: str, f_hz: np.ndarray, slide: float) -> np.ndarray:
        return self.states[state](f_hz, slide)  # type: ignore[call-arg]

    def erected(self, state: str, dice: np.random.Generator, *, again: bool) -> str:
        if state == "healthy" and again:
            return f"again:{1 + int(dice.integers(2))}"
        return f"{state}@again" if again and f"{state}@again" in self.states else state

    def rung_of(self, truth: str, rung: str) -> str:
        """A fault of the table befell the station as it stood, or put up again; others any of them."""
        if f"{truth}@again" in self.states:
            return "put-up-again"
        return "joined-anew" if truth in self.states and rung == "put-up-again" else rung


@dataclass(frozen=True)
class _Front:
    """What stands in front of the wires: a box, or a whip's coil with the loss of its ground."""

    ratio: float
    box: dict[str, float]
    coil_h: float
    coil_q: float
    ground_ohm: float

    def seen(self, f_hz: np.ndarray, z: np.ndarray) -> np.ndarray:
        if self.ratio > 1:
            return nec.through_transformer(z, f_hz, ratio=self.ratio, **self.box) + 0.5
        return z + self.ground_ohm + nec.coil_z_ohm(f_hz, self.coil_h, self.coil_q, 1.5e-12)


def _front(kind: str, f0_hz: float, healthy: np.ndarray, dice: np.random.Generator) -> _Front:
    ratio = float(dice.choice(RATIOS.get(kind.replace("-wire", " wire"), (1.0,))))
    coil_h = 0.0
    if kind == "loaded-whip":
        rho = _between(healthy, np.array([f0_hz]), F_HZ)[0]
        coil_h = -(WIRE_OHM * (1 + rho) / (1 - rho)).imag / (2 * np.pi * f0_hz)
    ground_ohm = dice.uniform(3, 12) if coil_h else 0.0
    return _Front(ratio, _box(ratio, dice) if ratio > 1 else {}, coil_h, dice.uniform(120, 300), ground_ohm)


@cache
def wide_setups(seed: int = 0) -> tuple[WideSetup, ...]:
    """Every station, its box or coil drawn with ``seed``."""
    found: dict[str, dict[str, np.ndarray]] = defaultdict(dict)
    with np.load(TABLE) as stored:
        for key in stored:
            kind, number, state = key.split("/")
            real, imag = stored[key].astype(float) * STEP
            found[f"{kind}/{number}"][state] = real + 1j * imag
    return tuple(_setup(name, seed, own) for name, own in found.items())


def _setup(name: str, seed: int, own: dict[str, np.ndarray]) -> WideSetup:
    kind, where = name.split("/")
    dice = np.random.default_rng([seed, *name.encode()])
    front = _front(kind, float(where.split(":")[1]), own["healthy"], dice)

    def state(rho: np.ndarray):
        def z_ohm(f_hz: np.ndarray, slide: float = 0.0) -> np.ndarray:
            at = _between(rho, f_hz / (1 + slide), F_HZ)
            at = at / np.maximum(np.abs(at) / 0.9999, 1.0)
            return front.seen(f_hz, WIRE_OHM * (1 + at) / (1 - at))

        return z_ohm

    f_hz = np.linspace(*SPANS_HZ, int(dice.choice(POINTS)))
    return WideSetup(name, TOLD_AS.get(kind, kind), f_hz, {word: state(rho) for word, rho in own.items()})
