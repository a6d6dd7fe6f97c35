"""Setups made from figures, for tests that need no sweep."""

from __future__ import annotations

import math

import numpy as np

from sweepkit.comparison import ComparedSetup
from sweepkit.figures import Figure
from sweepkit.reviews.summary import BandSummary, DipSummary, Summary

TRUE_SD = {"dip_hz": 0.004, "r_ohm": 0.08, "q": 0.08, "bandwidth_hz": 0.08, "dip_swr": 0.13}
MIDDLE = {"dip_hz": 7.1e6, "r_ohm": 62.0, "q": 11.0, "bandwidth_hz": 420e3, "dip_swr": 1.6}


def figure(value, width=1e-4):
    """A value with an interval of a relative half width."""
    return Figure(value, value * (1 - width), value * (1 + width))


def summary(
    values, *, plane="feedpoint", width=1e-4, points=201, span=(6.6e6, 7.6e6), adequate=True, loss_db=0.4
):
    """The figures of one sweep with one dip."""
    full = MIDDLE | values
    dip = DipSummary(**{name: figure(full[name], width) for name in MIDDLE}, x_ohm=Figure(1.0, 0.0, 2.0))
    band = BandSummary(1.0, figure(full["dip_hz"]), figure(full["dip_swr"]), figure(loss_db, 0.05))
    return Summary({plane: (dip,)}, {"40 m": band}, *span, points, "signed", adequate, ())


def setup(name, values=None, *, told=True, sweeps=None, facts=None, **more):
    """A setup of the ridge dipole at the ridge, unless told otherwise."""
    known = {"antenna": "ridge-dipole", "site": "ridge", "kind": "dipole", "line": ("RG-58 15 m",)} | (
        facts or {}
    )
    known = {key: value for key, value in known.items() if value is not None}
    return ComparedSetup(name, known, sweeps or (summary(values or {}, **more),), told=told)


def drawn(dice, shift=None, sd=TRUE_SD):
    """Values of one erection: the middle, a shift of each logarithm, and its spread."""
    return {
        name: MIDDLE[name] * math.exp((shift or {}).get(name, 0.0) + sd[name] * dice.standard_normal())
        for name in MIDDLE
    }


def erections(dice, count, prefix="S", shift=None, facts=None, **more):
    """A few erections of one antenna."""
    return [setup(f"{prefix}{k}", drawn(dice, shift), facts=facts, **more) for k in range(count)]


def rng(seed):
    """Randomness of a test."""
    return np.random.default_rng(seed)
