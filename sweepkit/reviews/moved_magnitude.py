"""A sweep of magnitudes at the other end of a line whose impedance is the reference.

The line then takes its loss, and what its impedance is off by, or its conductors add, turns with a phase that nobody
measured. So every draw gets one: any constant, on the stand-in phase or its mirror image, turned by the line's own
delay. Of what comes out only magnitudes may be read off, and their intervals hold whatever the phase was.
"""

from __future__ import annotations

import numpy as np

from sweepkit.analysis.borrowed_phase import borrow_phase
from sweepkit.analysis.dips import find_dip_samples
from sweepkit.conversions import ComplexArray, FloatArray, IndexArray
from sweepkit.feedline.chain import ChainDraws
from sweepkit.feedline.plane import add_chain, group_delay_s, noise_growth, remove_chain
from sweepkit.reviews.view import View

PHASE_STREAM = 2**31 + 1  # keeps the phases' random numbers apart from the sweep's and the line's
NOMINAL_PHASES = 16  # over which the nominal curve is a mean, half of them mirrored


def moved_magnitude(view: View, chain: ChainDraws, *, towards_radio: bool, seed: int) -> View:
    """The curve at the other end of a matched line, magnitudes only: the phase of the measured plane is a stand-in."""
    nominal = chain.part(slice(0, 1))
    delay_s = 0.0 if towards_radio else float(group_delay_s(view.f_hz, nominal).mean())
    move = add_chain if towards_radio else remove_chain
    turns = np.exp(2j * np.pi * np.arange(NOMINAL_PHASES) / NOMINAL_PHASES)
    anyhow = _turned(np.broadcast_to(view.gamma, (turns.size, view.f_hz.size)), view.f_hz, turns, delay_s)
    carried = np.stack([move(view.f_hz, one, nominal, reference_ohm=view.reference_ohm)[0] for one in anyhow])
    magnitude = np.abs(carried).mean(axis=0)
    matched = np.zeros(view.f_hz.size)
    growth = noise_growth(view.f_hz, matched, nominal, reference_ohm=view.reference_ohm)[0]
    noise = view.noise / growth if towards_radio else view.noise * growth
    gamma = borrow_phase(view.f_hz, magnitude, find_dip_samples(magnitude, noise=noise))
    chosen = np.exp(2j * np.pi * np.random.default_rng([seed, PHASE_STREAM]).random(chain.size))

    def ensemble(index: IndexArray) -> ComplexArray:
        drawn = view.ensemble(index)
        any_phase = _turned(drawn, view.f_hz[index], chosen[: len(drawn)], delay_s)
        moved = move(view.f_hz[index], any_phase, chain, reference_ohm=view.reference_ohm)
        moved[0] = gamma[index]
        return moved

    return View(
        f_hz=view.f_hz,
        gamma=gamma,
        noise=noise,
        trust=view.trust,
        ensemble=ensemble,
        reference_ohm=view.reference_ohm,
        phase=view.phase,
        is_nominal=view.is_nominal,
    )


def _turned(gamma: ComplexArray, f_hz: FloatArray, turns: ComplexArray, delay_s: float) -> ComplexArray:
    """Each row with a phase of its own, every other one mirrored, behind the line's delay."""
    rows = np.arange(len(gamma))[:, None]
    either = np.where(rows % 2, gamma.conj(), gamma)
    return np.asarray(either * turns[: len(gamma), None] * np.exp(-4j * np.pi * f_hz * delay_s))
