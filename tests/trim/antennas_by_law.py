"""Antennas whose dip follows a law of ours, for tests of the plan: no wire model, no sweep."""

import numpy as np

from sweepkit.trim.dip import DipEnsemble


def dip(f_hz, *, sigma=0.0, swr=1.3, r_ohm=60.0, loaded_q=float("nan"), draws=500, seed=0, **more):
    """A dip whose draws scatter by ``sigma`` in ln f."""
    dice = np.random.default_rng(seed)
    drawn = f_hz * np.exp(np.concatenate([[0.0], dice.normal(0, sigma, draws)]))
    return DipEnsemble(
        drawn,
        np.full(drawn.shape, swr),
        np.full(drawn.shape, r_ohm),
        np.full(drawn.shape, loaded_q),
        **more,
    )


def dip_hz(length_m, *, slope=-1.0, at_m=10.0, at_hz=7.1e6):
    """The law: ln f falls by ``slope`` per ln L."""
    return at_hz * (length_m / at_m) ** slope
