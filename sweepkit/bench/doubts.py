"""What speaks against sweeps being those of the box that was told: refused, or a finding."""

from __future__ import annotations

import numpy as np

from sweepkit.bench.two_port import TwoPort
from sweepkit.conversions import ComplexArray, gamma_from_z, z_from_gamma
from sweepkit.errors import BadInput
from sweepkit.figures import Figure
from sweepkit.findings import Finding

REFERENCE_OHM = 50.0
# Reflection against what a load should show, at best, beyond which it is another; common practice.
FAR_FROM_LOAD = 0.5
NEAR_LOAD = 0.2  # sound boxes come below 0.1 somewhere from 3 to 30 MHz, in models of our own
FOREIGN = 4.0  # times the resistance a box is made for, or less by so much; common practice, no source
# Two sides of a pair that differ by more, beside their errors, are not two alike; common practice.
ALIKE = 0.15
SAME = 0.2  # an open and a short that show less apart are one and the same; common practice
NEGATIVE_DB = -0.3  # a loss below it, with its interval, is no error of reading; common practice


def refuse_foreign_load(far_ohm: float, expected: float) -> None:
    """Raise for a resistor that this box is not made for."""
    if not 1 / FOREIGN < far_ohm / expected < FOREIGN:
        raise BadInput(
            f"a box of this ratio is made for {expected:g} ohm, and was told to be swept into {far_ohm:g} ohm; "
            "correct --into or --ratio; two back to back are --box pair"
        )


def doubt_load(gamma: ComplexArray, shows_ohm: float, far_ohm: float) -> tuple[Finding, ...]:
    """A doubt where nowhere in the span the box shows what its load should; refused where nothing is like it."""
    z_ohm = z_from_gamma(np.minimum(np.abs(gamma), 0.999) * np.exp(1j * np.angle(gamma)), REFERENCE_OHM)
    off = np.abs(gamma_from_z(z_ohm, shows_ohm))
    if off.min() <= NEAR_LOAD:
        return ()
    best = z_ohm[int(np.argmin(off))]
    sign = "+" if best.imag >= 0 else "-"
    text = (
        f"the sweep into {far_ohm:g} ohm shows {best.real:.0f} {sign} j{abs(best.imag):.0f} ohm at best, where "
        f"{shows_ohm:.0f} was expected; another load or ratio, or a box is missing"
    )
    if off.min() > FAR_FROM_LOAD:
        raise BadInput(text)
    return (Finding("load-doubted", "warning", text, "measure the resistor, and sweep again"),)


def refuse_same(seen_open: ComplexArray, seen_short: ComplexArray) -> None:
    """Raise for an open and a short that are one and the same sweep."""
    if np.abs(seen_open[0] - seen_short[0]).max() < SAME:
        raise BadInput(
            "open and short look alike; both were swept into the same end, or the box passes nothing"
        )


def pair_findings(box: TwoPort) -> tuple[Finding, ...]:
    """Two boxes back to back look the same from either side."""
    differ = np.abs(np.abs(box.near) - np.abs(box.far))
    low = np.quantile(differ[1:], 0.025, axis=0) if len(differ) > 1 else differ[0]
    if (low < ALIKE).all():
        return ()
    text = "the two sides of the pair do not look alike, so the boxes differ, and half of the loss is that of neither"
    return (Finding("boxes-differ", "warning", text, "sweep each into its resistor"),)


def negative(losses: tuple[Figure, ...]) -> tuple[Finding, ...]:
    """A loss that is a gain beyond every error."""
    ends = [loss.value if loss.high is None else loss.high for loss in losses]
    if not any(end is not None and end < NEGATIVE_DB for end in ends):
        return ()
    text = "more comes out than goes in: the load is not what was told, or an end was mixed up"
    return (Finding("loss-contradicts", "warning", text, "measure the resistor, and sweep again"),)


def choke_too_high(count: int, of: int, least_ohm: float) -> Finding:
    """An impedance that the analyzer leaves open, with the least that it is."""
    text = (
        f"so far from 50 ohm this analyzer does not tell it at {count} of {of} frequencies; "
        f"it has {least_ohm:.0f} ohm or more there"
    )
    step = "tell the analyzer's own errors in the kit if they are smaller"
    return Finding("choke-too-high", "note", text, step)
