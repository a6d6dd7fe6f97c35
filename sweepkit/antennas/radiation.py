"""What a sound antenna of a size can show, and so what share of its power can radiate at most.

A loaded whip shows its radiation resistance, that of a thin monopole with a sinusoidal current (Balanis, Antenna
Theory, 4th ed. 2016, equations 8-60 and 4-70; half of the dipole's), in series with what coil and ground lose. An
end-fed half wave shows a Q: a wire of impedance Zw with the resistance R where its current is largest has
Q = pi Zw / (2 R), and every loss in choke and transformer lowers it by the share of the power that it takes. What the
soil under a wire takes is in its R, and shows in no sweep.

A vertical is a whip without a coil. A dipole, a vee and a loop show a slope of reactance, R Q = pi Zw / 2 (a loop twice
that), which neither height nor soil changes; what a box or choke takes lowers it, by its share where it acts like an
attenuator, by the square of what is left where it lies across the wire. A resistance in series is not told from
radiation.

Two stories are weighed against each other, a sound antenna and one that heats, each with the spread that its size,
site and parts have. None of the ranges is sharp, so neither is the answer.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from sweepkit.antennas.kind import Known
from sweepkit.antennas.wire_lines import monopole_impedance_ohm
from sweepkit.conversions import FloatArray
from sweepkit.quantities import SPEED_OF_LIGHT_M_S

# Whips over a few raised radials show 1.07 to 1.13 of the formula (96 models of our own), one over a mirror 1.
RADIATION_MORE, RADIATION_SPREAD = 1.05, 0.08
# Coils of 2 to 8 cm of bare or enamelled wire in air have a Q of 100 to 400 (Medhurst 1947, from memory).
COIL_Q, COIL_Q_SPREAD = 200.0, 0.35
# Ground of a sound whip: 2 to 20 ohm at 7 MHz, less above (vehicles and raised radials: 12 ohm at 80 m, 6 at 40 m,
# 2 to 4 at 20 m; trade, no one source).
GROUND_OHM, GROUND_SPREAD, GROUND_AT_HZ, GROUND_POWER = 6.0, 0.6, 7.0e6, -0.7
# One or two short radials on soil or none: even in logarithm; common practice, no source
HEATING_OHM = (15.0, 300.0)
UNTOLD_COIL_SPREAD = 0.25  # of a reactance worked out from the length alone; models of our own
WHIP_RADIUS_M = 2e-3  # common practice
# A half wave 0.04 to 0.5 wavelengths up over soil has 40 to 100 ohm in its middle (practice; free space: 73, Balanis).
MIDDLE_OHM, MIDDLE_SPREAD = 68.0, 0.25
WIRE_OHM, WIRE_SPREAD = 560.0, 0.10  # 60 ln(2 h/a) of thin wire 3 to 15 m up
# Power of the share that is left by which a loss lowers R Q: an attenuator 1, a resistance across the wire 2, and more
# where that keeps the SWR low far from the dip.
ACTS = (1.0, 3.0)
SLOPE_SPREAD = 0.15  # of R Q beside that of the wire: sag, insulation, the other current; models of our own
# Of a vertical's radiation resistance: thick, leaning, radials that slope; common practice
RAISED_SPREAD = 0.25
# Transformers and what a proper counterpoise loses; common practice
SOUND_LOSS_DB, SOUND_LOSS_SPREAD_DB = 1.2, 0.6
# Of a share told by a width, where choke and box make no single resonance; models of our own
SINGLE_SPREAD = 0.25
HEATING_LOSS_DB = (3.5, 20.0)  # more than half of the power to nearly all: even; common practice, no source
SOUND_CHOKE_DB = 0.3  # what a sound choke or box of a dipole loses, half-normal; common practice, no source
COAX_OHM = 40.0  # what an open wire beside radiates; common practice, no source
CHANCE_ENDS = (0.05, 0.95)  # nothing is sure before it is seen
FEW_RADIALS, MANY_RADIALS = 2, 6  # up to so many, from so many on
# Wavelengths: below it the coax or a choke carries the return; trade: 0.05 and more
SHORT_COUNTERPOISE = 0.03
# How often such a setup heats before anything is seen; common practice, no source.
CHANCE_POOR, CHANCE_USUAL, CHANCE_GOOD = 0.5, 0.3, 0.15
FLAGGED = 0.9  # chance that it heats from which a low SWR is not believed; common practice, no source
SHARE_FLOOR = 1e-3  # nothing less than 30 dB down is told apart


@dataclass(frozen=True, eq=False)
class ShownDip:
    """What a sweep shows of the dip of an antenna, on every draw, shape (n,), the nominal one first."""

    f_hz: FloatArray
    r_ohm: FloatArray | None  # None where only the SWR is known
    swr: FloatArray  # against reference_ohm
    # with the line across the dip, as each width tells, shape (k, n); NaN where none was swept
    loaded_q: FloatArray
    reference_ohm: float = 50.0


@dataclass(frozen=True, eq=False)
class Heat:
    """Where the power goes behind the connector, as far as a sweep can tell; losses on every draw, shape (n,)."""

    losses_db: Mapping[Literal["coil", "ground"], FloatArray]  # of a whip or a vertical
    box_db: FloatArray | None  # in choke and box together, of an end-fed, a dipole, a vee or a loop
    chance: float  # that it heats more than a sound antenna of this size
    shown: str  # the figure that tells, in words: "Q 2.8 where 5 to 17 is usual"

    @property
    def flagged(self) -> bool:
        """Whether a low SWR is not to be believed."""
        return self.chance >= FLAGGED


def monopole_radiation_ohm(angle: ArrayLike) -> FloatArray:
    """Radiation resistance at the base of a thin monopole over a mirror; 10 times the angle squared where short.

    ``angle``: height times 2 pi over the wavelength, above 0 and below pi.
    Returns: resistance; 36.6 at a quarter wave. [ohm]
    """
    from scipy.special import sici

    kh = np.asarray(angle, dtype=np.float64)
    (si1, ci1), (si2, ci2) = sici(2 * kh), sici(4 * kh)
    middle = np.euler_gamma + np.log(2 * kh) - ci1 + 0.5 * np.sin(2 * kh) * (si2 - 2 * si1)
    middle = middle + 0.5 * np.cos(2 * kh) * (np.euler_gamma + np.log(kh) + ci2 - 2 * ci1)
    return np.asarray(30 * middle / np.sin(kh) ** 2)


def weigh_whip(shown: ShownDip, length_m: float, known: Known, dice: np.random.Generator) -> Heat:
    """Coil and ground of a loaded whip, from its resistance against what its length can radiate."""
    n = shown.f_hz.size
    angle = np.minimum(2 * np.pi * shown.f_hz * length_m / SPEED_OF_LIGHT_M_S, 0.49 * np.pi)
    radiation = RADIATION_MORE * monopole_radiation_ohm(angle) * _spread(RADIATION_SPREAD, n, dice)
    coil = _coil_ohm(shown.f_hz, angle, length_m, known) / (COIL_Q * _spread(COIL_Q_SPREAD, n, dice))
    if known.coil_h is None:
        coil = coil * _spread(UNTOLD_COIL_SPREAD, n, dice)
    return _over_ground(shown, radiation, coil, known, dice)


def weigh_vertical(shown: ShownDip, length_m: float, known: Known, dice: np.random.Generator) -> Heat:
    """Ground of a vertical, from its resistance against what its length can radiate."""
    n = shown.f_hz.size
    angle = np.minimum(2 * np.pi * shown.f_hz * length_m / SPEED_OF_LIGHT_M_S, 0.5 * np.pi)
    radiation = monopole_radiation_ohm(angle) * _spread(RAISED_SPREAD, n, dice)
    if not known.on_ground and (known.radials is None or known.radials <= FEW_RADIALS):
        both = dice.uniform(
            1, 2, n
        )  # one radial makes a bent dipole of it, with twice the resistance (Balanis, 4.7)
        both[0] = 1.5
        radiation = radiation * both
    return _over_ground(shown, radiation, np.zeros(n), known, dice)


def _over_ground(
    shown: ShownDip, radiation: FloatArray, coil: FloatArray, known: Known, dice: np.random.Generator
) -> Heat:
    """What is seen less what radiates and what the coil takes is the ground's."""
    n = shown.f_hz.size
    usual = GROUND_OHM * (shown.f_hz / GROUND_AT_HZ) ** GROUND_POWER * _spread(GROUND_SPREAD, n, dice)
    seen = shown.reference_ohm / shown.swr if shown.r_ohm is None else shown.r_ohm
    heating = np.exp(dice.uniform(math.log(HEATING_OHM[0]), math.log(HEATING_OHM[1]), n))
    poor = known.radials is not None and known.radials <= FEW_RADIALS and not known.on_ground
    good = known.radials is not None and known.radials >= MANY_RADIALS
    before = CHANCE_POOR if poor else CHANCE_GOOD if good else CHANCE_USUAL
    sound_ohm = radiation + coil + usual
    chance = _chance(float(seen[0]), sound_ohm, radiation + coil + heating, before)
    # draws in which nothing is left for the ground do not agree
    radiates, heats = _shared(seen, radiation, coil, dice)
    low, high = np.quantile(sound_ohm, [0.025, 0.975])
    return Heat(
        losses_db={"coil": -10 * np.log10(1 - heats), "ground": -10 * np.log10(radiates / (1 - heats))},
        box_db=None,
        chance=chance,
        shown=f"{seen[0]:.0f} ohm where {low:.0f} to {high:.0f} is usual",
    )


def weigh_end_fed(shown: ShownDip, length_m: float, known: Known, dice: np.random.Generator) -> Heat:
    """Choke, box and ground of an end-fed half wave, from its Q against that of such a wire."""
    n = shown.f_hz.size
    wire = WIRE_OHM * _spread(WIRE_SPREAD, n, dice)
    own_q = np.pi * wire / (2 * MIDDLE_OHM * _spread(MIDDLE_SPREAD, n, dice))
    sound_db = np.maximum(dice.normal(SOUND_LOSS_DB, SOUND_LOSS_SPREAD_DB, n), 0.0)
    heating_db = dice.uniform(*HEATING_LOSS_DB, n)
    sound_q, heating_q = own_q * 10 ** (-sound_db / 10), own_q * 10 ** (-heating_db / 10)
    each = shown.loaded_q * (1 + _coupling(shown))
    seen = each.min(axis=0)  # where they differ, the lowest tells of a resistance in the return
    before = _chance_of_return(known, float(shown.f_hz[0]), dice)
    chance = _chance(1 / float(seen[0]), 1 / sound_q, 1 / heating_q, before)
    low, high = np.quantile(sound_q, [0.025, 0.975])
    any_of = each[dice.integers(len(each), size=n), np.arange(n)]
    share = np.clip(any_of / own_q * np.exp(dice.normal(0, SINGLE_SPREAD, n)), SHARE_FLOOR, 1.0)
    return Heat({}, -10 * np.log10(share), chance, f"Q {seen[0]:.1f} where {low:.0f} to {high:.0f} is usual")


def weigh_centre_fed(
    shown: ShownDip, length_m: float, known: Known, dice: np.random.Generator, *, half_waves: int = 1
) -> Heat | None:
    """Box and choke of a dipole, a vee or a loop, from its slope of reactance against that of such a wire.

    The length is not used; ``half_waves`` are those on the wire at its dip: 1, or 2 of a loop.
    """
    if shown.r_ohm is None:
        return None
    n = shown.f_hz.size
    wire = WIRE_OHM * _spread(math.hypot(WIRE_SPREAD, SLOPE_SPREAD), n, dice)
    own = 0.5 * np.pi * wire * half_waves / (known.transformer or 1.0)
    acts = dice.uniform(*ACTS, n)
    acts[0] = np.mean(ACTS)
    each = shown.loaded_q * (shown.r_ohm + shown.reference_ohm)
    seen, any_of = each.min(axis=0), each[dice.integers(len(each), size=n), np.arange(n)]
    heating_db = dice.uniform(*HEATING_LOSS_DB, n)
    sound_db = np.abs(dice.normal(0, SOUND_CHOKE_DB, n))
    sound, heating = (own * 10 ** (-acts * db / 10) for db in (sound_db, heating_db))
    chance = _chance(1 / float(seen[0]), 1 / sound, 1 / heating, CHANCE_GOOD)
    low, high = np.quantile(sound, [0.025, 0.975]) / shown.r_ohm[0]
    share = np.clip((any_of / own) ** (1 / acts), SHARE_FLOOR, 1.0)
    q = float(seen[0] / shown.r_ohm[0])
    return Heat({}, -10 * np.log10(share), chance, f"Q {q:.1f} where {low:.0f} to {high:.0f} is usual")


def _chance_of_return(known: Known, f_hz: float, dice: np.random.Generator) -> float:
    """Chance that the return of an end-fed heats: what is left of counterpoise and of coax before the choke."""
    if known.choke_ohm is not None and known.counterpoise_m and known.choke_at_m is not None:
        wavelengths = f_hz / SPEED_OF_LIGHT_M_S * np.array([known.counterpoise_m, known.choke_at_m])
        if wavelengths[1] < SHORT_COUNTERPOISE:
            return _chance_of_choke(known.choke_ohm, float(wavelengths[0]), dice)
    told = [length_m for length_m in (known.counterpoise_m, known.choke_at_m) if length_m is not None]
    if not told:
        return CHANCE_USUAL
    if max(told) * f_hz / SPEED_OF_LIGHT_M_S >= SHORT_COUNTERPOISE:
        return CHANCE_GOOD
    return CHANCE_POOR


def _chance_of_choke(choke_ohm: complex, counterpoise: float, dice: np.random.Generator) -> float:
    """Chance that a measured choke at the box heats, beside a counterpoise of so many wavelengths.

    The return's current divides between the counterpoise, an open wire of its own impedance, and the choke with the
    outside of the coax behind it, whose length nobody tells.
    """
    n = 1000
    wire = WIRE_OHM * np.exp(dice.normal(0, WIRE_SPREAD, (2, n)))
    feed_ohm = wire[0] ** 2 / (MIDDLE_OHM * np.exp(dice.normal(0, MIDDLE_SPREAD, n)))
    beside = -1j * wire[0] / np.tan(min(2 * np.pi * counterpoise, 0.49 * np.pi)) + COAX_OHM
    coax = -1j * wire[1] / np.tan(np.pi * dice.uniform(0.05, 0.95, n)) + COAX_OHM
    through = np.abs(beside / (beside + choke_ohm + coax)) ** 2
    loss_db = 10 * np.log10(1 + through * choke_ohm.real / feed_ohm)
    return float(np.clip(np.mean(loss_db > HEATING_LOSS_DB[0]), *CHANCE_ENDS))


Weigher = Callable[[ShownDip, float, Known, np.random.Generator], Heat | None]
WEIGHERS: Mapping[str, Weigher] = {
    "loaded-whip": weigh_whip,
    "vertical": weigh_vertical,
    "end-fed": weigh_end_fed,
    "dipole": weigh_centre_fed,
    "inverted-vee": weigh_centre_fed,
    "loop": partial(weigh_centre_fed, half_waves=2),
}
BY_WIDTH = ("end-fed", "dipole", "inverted-vee", "loop")


def weigh(
    kind: str, shown: ShownDip, length_m: float, known: Known, dice: np.random.Generator
) -> Heat | None:
    """What the dip of an antenna tells of its losses; nothing for kinds and dips of which a sweep cannot tell."""
    from sweepkit.antennas.catalogue import kind_named

    if kind not in WEIGHERS:
        return None
    low, high = kind_named(kind).length_range
    wavelengths = float(shown.f_hz[0]) * length_m / SPEED_OF_LIGHT_M_S
    if not low <= wavelengths <= high or (kind in BY_WIDTH and not np.isfinite(shown.loaded_q[:, 0]).all()):
        return None
    return WEIGHERS[kind](shown, length_m, known, dice)


def _spread(sigma: float, n: int, dice: np.random.Generator) -> FloatArray:
    """Factors round 1, the nominal one 1."""
    factors = np.exp(dice.normal(0.0, sigma, n))
    factors[0] = 1.0
    return np.asarray(factors)


def _coil_ohm(f_hz: FloatArray, angle: FloatArray, length_m: float, known: Known) -> FloatArray:
    """Reactance of the coil: as told, else what brings the whip to its dip."""
    if known.coil_h is not None:
        return 2 * np.pi * f_hz * known.coil_h
    return monopole_impedance_ohm(np.full(f_hz.shape, length_m), np.full(f_hz.shape, WHIP_RADIUS_M)) / np.tan(
        angle
    )


def _coupling(shown: ShownDip) -> FloatArray:
    """Unloaded over external Q of a parallel resonance; where its side is not known the one that doubts less."""
    if shown.r_ohm is None:
        return shown.swr
    return np.where(shown.r_ohm >= shown.reference_ohm, shown.swr, 1 / shown.swr)


def _shared(
    seen: FloatArray, radiation: FloatArray, coil: FloatArray, dice: np.random.Generator
) -> tuple[FloatArray, FloatArray]:
    """Shares of whip and coil in what is seen: draws that leave the ground nothing are drawn anew from the others."""
    radiates = radiation / seen, coil / seen
    fits = np.flatnonzero(radiates[0] + radiates[1] < 1)
    if fits.size == 0:  # less than a loss-free whip of this length shows: all radiates, as far as can be seen
        return np.ones(seen.size), np.zeros(seen.size)
    index = np.arange(seen.size)
    wrong = np.setdiff1d(index, fits)
    index[wrong] = dice.choice(fits, wrong.size)
    return radiates[0][index], radiates[1][index]


def _chance(seen: float, sound: FloatArray, heating: FloatArray, before: float) -> float:
    """Chance that an antenna heats, from what is seen and from what either story shows; both grow with the loss."""
    x, log_sound, log_heating = np.log(seen), np.log(sound), np.log(heating)
    if x <= log_sound.mean():  # nothing speaks against a sound one
        return 0.0
    spread = float(log_sound.std())
    by_sound = np.exp(-0.5 * ((x - log_sound.mean()) / spread) ** 2) / spread
    width = 1.06 * float(log_heating.std()) * heating.size**-0.2  # a normal kernel after Silverman 1986, 3.28
    by_heating = np.exp(-0.5 * ((x - log_heating) / width) ** 2).mean() / width
    odds = before * by_heating / ((1 - before) * max(by_sound, np.finfo(float).tiny))
    return float(odds / (1 + odds))
