"""A tapped whip: its dip from tap and whip length, fitted to the dips that were seen.

At the dip the reactances of coil, whip and radials add to nothing,

    X_coil(T) / (1 - w C X_coil) + w L0 = -X(h) + A cot(w t),

X(h) being the whip's by the induced EMF, with the inductance of T turns by Wheeler's formula (Wheeler, Proc. IRE 16,
1398, 1928: L = r^2 T^2 / (9 r + 10 l) in inches and microhenry, good to 1 % for coils longer than 0.8 r), never a power
of the turns. What nobody knows is drawn; each draw is brought to agree with all dips that were seen by least squares
(Gauss and Newton), with errors of the dips drawn anew (randomised maximum likelihood).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sweepkit.antennas import loaded_whip
from sweepkit.antennas.wire_lines import monopole_reactance_ohm
from sweepkit.conversions import FloatArray
from sweepkit.quantities import SPEED_OF_LIGHT_M_S

COIL_D_M, COIL_D_SPREAD = 0.05, 0.35  # of a coil nobody measured; common practice, no source
COIL_PITCH_M, COIL_PITCH_SPREAD = 2.5e-3, 0.35
FORMULA_SIGMA = 0.04  # of a measured coil: formula, leads, unused turns; common practice, no source
TOLD_SIGMA = 0.03  # of a told diameter or pitch
STRAY_H, STRAY_SIGMA = 0.15e-6, 0.15e-6  # leads and mount in series; common practice, no source
# One radial close over soil: 60 ln(2h/a) of 3 to 60 cm height, 1 mm radius, gives 245 to 425 ohm over a mirror, and the
# mirror of real soil lies deeper; several that share the soil act as somewhat less.
RADIAL_OHM, RADIAL_SPREAD = 330.0, 0.3
RADIALS_OHM, RADIALS_SPREAD = 90.0, 0.9  # of a few radials whose number nobody told
DELAY_SPREAD = 0.25  # of the electrical length of radials
DELAY_M = 4.5  # of radials whose length nobody told, acting
HEIGHT_SPREAD = 0.01  # of how high a whip acts, with mount and base; common practice, no source
# Of the logarithm of the reactance's rise: what the formula leaves of it, models of our own
SLOPE_SIGMA = 0.04
MODEL_SIGMA = 0.002  # of ln f: what the formula leaves of a dip, models of our own
# Reactance of the whip over so many radials, over that above a mirror: what of its field ends farther away. Wires by
# the method of moments with 41 segments, five soils, models of our own; with 15 segments 5 % more.
OVER_RADIALS = ((1.0, 2.0, 3.0, 4.0, 6.0, 8.0), (0.97, 0.97, 1.03, 1.07, 1.09, 1.10))
OVER_UNTOLD, OVER_SPREAD = 1.05, 0.05
NAMES = ("coil", "pitch", "whip", "own", "radials", "delay", "height", "stray")
SETTLED = 1e-7  # of ln f between two steps towards a dip
STEPS = 8  # of Gauss and Newton; the fourth no longer moves anything


@dataclass(frozen=True)
class Coil:
    """What is known of the coil: turns tapped, or an inductance."""

    diameter_m: float | None = None
    pitch_m: float | None = None
    inductance_h: float | None = None


@dataclass(frozen=True)
class Ground:
    """What is known of the other half."""

    radials: int | None = None
    radial_length_m: float | None = None
    on_ground: bool = False


@dataclass(frozen=True)
class SeenSetting:
    """A dip that was seen: turns in use (``None`` where nothing is tapped), whip, frequency, its error in ln f.

    ``slope_ohm`` is the rise of the reactance there, dX / d ln f; ``None`` where resistance or width are not known.
    """

    tap: float | None
    whip_m: float
    dip_hz: float
    sigma: float
    slope_ohm: float | None = None
    slope_sigma: float = 0.0  # of its logarithm


@dataclass(frozen=True, eq=False)
class WhipDraws:
    """The whip on every draw: offsets of :data:`NAMES`, shape (draws, 8), the best fit first."""

    coil: Coil
    ground: Ground
    offsets: FloatArray

    def dip_hz(
        self, tap: FloatArray | float | None, whip_m: FloatArray | float, *, guess_hz: float
    ) -> FloatArray:
        """Where it dips, shape (draws,). [Hz]"""
        ln_f = np.full(self.offsets.shape[0], np.log(guess_hz))
        for _ in range(24):
            step = _gap(self.coil, self.ground, self.offsets, tap, whip_m, ln_f)
            ln_f = ln_f - np.clip(step, -0.3, 0.3)
            if np.abs(step).max() < SETTLED:
                break
        return np.asarray(np.exp(ln_f))

    def reactance_slope_ohm(
        self, tap: FloatArray | float | None, whip_m: float, f_hz: FloatArray
    ) -> FloatArray:
        """dX / d ln f at the feedpoint, shape (draws,). [ohm]"""
        return _slope(self.coil, self.ground, self.offsets, tap, whip_m, np.log(f_hz))

    def coil_ohm(self, tap: FloatArray | float | None, f_hz: FloatArray) -> FloatArray:
        """Reactance of the coil, shape (draws,). [ohm]"""
        return _coil_ohm(self.coil, self.offsets, tap, 2 * np.pi * f_hz)


def fit_whip(
    seen: Sequence[SeenSetting], coil: Coil, ground: Ground, *, members: int, seed: int
) -> WhipDraws:
    """A whip that agrees with every dip that was seen; the best fit is the first of its members."""
    dice = np.random.default_rng([seed, 71])
    sizes = _sizes(coil, ground)
    sloped = [each for each in seen if each.slope_ohm is not None]
    prior = dice.normal(0, 1, (members, len(NAMES)))
    sigma = np.array(
        [np.hypot(each.sigma, MODEL_SIGMA) for each in seen] + [each.slope_sigma for each in sloped]
    )
    errors = dice.normal(0, 1, (members, len(sigma)))
    prior[0], errors[0] = 0.0, 0.0
    at = np.log([each.dip_hz for each in seen] + [each.slope_ohm for each in sloped]) + errors * sigma
    theta = prior.copy()
    for _ in range(STEPS):
        gaps, rows = _linearised(seen, sloped, coil, ground, theta * sizes, at)
        jacobian = rows * sizes / sigma[:, np.newaxis]
        # least squares of |gap / sigma|^2 + |theta - prior|^2
        normal = np.einsum("dip,diq->dpq", jacobian, jacobian) + np.eye(len(NAMES))
        right = np.einsum("dip,di->dp", jacobian, gaps / sigma) + (theta - prior)
        theta = theta - np.clip(np.linalg.solve(normal, right[..., np.newaxis])[..., 0], -1.5, 1.5)
    return WhipDraws(coil, ground, np.asarray(theta * sizes, dtype=np.float64))


def _linearised(
    seen: Sequence[SeenSetting],
    sloped: Sequence[SeenSetting],
    coil: Coil,
    ground: Ground,
    offsets: FloatArray,
    at: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Gaps of ln f, then of the logarithm of slopes, shape (draws, all), and their derivatives (draws, all, names)."""

    def gaps_of(offsets: FloatArray) -> FloatArray:
        dips = [_gap(coil, ground, offsets, each.tap, each.whip_m, at[:, k]) for k, each in enumerate(seen)]
        slopes = [
            np.log(_slope(coil, ground, offsets, each.tap, each.whip_m, np.log(each.dip_hz))) - at[:, k]
            for k, each in enumerate(sloped, len(seen))
        ]
        return np.stack([*dips, *slopes], axis=1)

    tiny = 1e-4
    gaps = gaps_of(offsets)
    rows = np.empty((*at.shape, len(NAMES)))
    for p in range(len(NAMES)):
        moved = offsets.copy()
        moved[:, p] += tiny
        rows[:, :, p] = (gaps_of(moved) - gaps) / tiny
    return gaps, rows


def _sizes(coil: Coil, ground: Ground) -> FloatArray:
    """One sigma of each offset."""
    if coil.inductance_h is not None:
        coil_sigma, pitch_sigma = loaded_whip.COIL_SIGMA, 1e-6
    else:
        told = coil.diameter_m is not None
        coil_sigma = float(np.hypot(FORMULA_SIGMA, 2 * TOLD_SIGMA if told else 2 * COIL_D_SPREAD))
        pitch_sigma = TOLD_SIGMA if coil.pitch_m is not None else COIL_PITCH_SPREAD
    thick = 60 * loaded_whip.RADIUS_SPREAD / 350  # of the impedance of a whip a thousand radii long
    whip = float(np.hypot(thick, OVER_SPREAD))
    known = ground.on_ground or ground.radials is not None
    radials = RADIAL_SPREAD if known else RADIALS_SPREAD
    delay = 0.15 if ground.radial_length_m is not None else DELAY_SPREAD
    sizes = (coil_sigma, pitch_sigma, whip, loaded_whip.COIL_F_SPREAD, radials, delay, HEIGHT_SPREAD, 1.0)
    return np.array(sizes)


def inductance_h(turns: FloatArray | float, diameter_m: FloatArray, pitch_m: FloatArray) -> FloatArray:
    """Single-layer coil by Wheeler's formula (1928). [H]"""
    radius_m = diameter_m / 2
    return np.asarray(39.37e-6 * radius_m**2 * turns**2 / (9 * radius_m + 10 * turns * pitch_m))


def _coil_ohm(coil: Coil, offsets: FloatArray, tap: FloatArray | float | None, w: FloatArray) -> FloatArray:
    """Reactance of the coil with its own capacitance and the leads."""
    if coil.inductance_h is not None or tap is None:
        henry = (coil.inductance_h or 1e-6) * np.exp(offsets[:, 0])
    else:
        pitch_m = (coil.pitch_m or COIL_PITCH_M) * np.exp(offsets[:, 1])
        henry = inductance_h(tap, np.full(w.shape, coil.diameter_m or COIL_D_M), pitch_m) * np.exp(
            offsets[:, 0]
        )
    ohm = w * henry
    own = w * loaded_whip.COIL_F * np.exp(offsets[:, 3]) * ohm
    stray_h = np.maximum(STRAY_H + STRAY_SIGMA * offsets[:, 7], 0.0)
    return np.asarray(ohm / np.maximum(1 - own, 0.05) + w * stray_h)


def _over_mirror(ground: Ground) -> float:
    """Reactance of the whip over that above a mirror."""
    return float(np.interp(ground.radials, *OVER_RADIALS)) if ground.radials else OVER_UNTOLD


def _reactance(
    coil: Coil,
    ground: Ground,
    offsets: FloatArray,
    tap: FloatArray | float | None,
    whip_m: FloatArray | float,
    ln_f: FloatArray,
) -> FloatArray:
    """At the feedpoint, shape (draws,). [ohm]"""
    w = 2 * np.pi * np.exp(ln_f)
    height_m = np.clip(
        whip_m * np.exp(offsets[:, 6]), 1e-3 * SPEED_OF_LIGHT_M_S / w, 0.95 * np.pi * SPEED_OF_LIGHT_M_S / w
    )
    whip_ohm = monopole_reactance_ohm(np.exp(ln_f), height_m, loaded_whip.RADIUS_M)
    whip_ohm = whip_ohm * _over_mirror(ground) * np.exp(offsets[:, 2])
    below = 0.0 * w
    if not ground.on_ground:
        count = ground.radials or 0
        size = RADIAL_OHM / count if count else RADIALS_OHM
        length_m = ground.radial_length_m or DELAY_M
        turn = np.clip(w * 1.12 * length_m * np.exp(offsets[:, 5]) / SPEED_OF_LIGHT_M_S, 0.15, 2.9)
        below = size * np.exp(offsets[:, 4]) / np.tan(turn)
    return np.asarray(_coil_ohm(coil, offsets, tap, w) + whip_ohm - below)


def _slope(
    coil: Coil,
    ground: Ground,
    offsets: FloatArray,
    tap: FloatArray | float | None,
    whip_m: FloatArray | float,
    ln_f: FloatArray,
) -> FloatArray:
    tiny = 1e-4
    high, low = (_reactance(coil, ground, offsets, tap, whip_m, ln_f + side) for side in (tiny, -tiny))
    return np.asarray(np.maximum((high - low) / (2 * tiny), 1.0))


def _gap(
    coil: Coil,
    ground: Ground,
    offsets: FloatArray,
    tap: FloatArray | float | None,
    whip_m: FloatArray | float,
    ln_f: FloatArray,
) -> FloatArray:
    """How far a frequency lies above the dip, in ln f."""
    x_ohm = _reactance(coil, ground, offsets, tap, whip_m, ln_f)
    return np.asarray(x_ohm / _slope(coil, ground, offsets, tap, whip_m, ln_f))
