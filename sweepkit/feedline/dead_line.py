"""Does a sweep at the radio look like a line that ends in an open or a short, with no antenna on it?

Without the time domain of scikit-rf, so that a review stays quick.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.feedline.chain import ChainDraws
from sweepkit.feedline.likely import main_echo_s
from sweepkit.feedline.section_fit import SectionFit, SweptEnd, fit_sections
from sweepkit.feedline.sections import OPEN, SHORT, Sections
from sweepkit.feedline.told import UNKNOWN_VELOCITY
from sweepkit.feedline.told_end import find_end_of_told_line
from sweepkit.figures import Figure
from sweepkit.findings import Finding
from sweepkit.quantities import SPEED_OF_LIGHT_M_S, length_text

EXPLAINED = 0.03  # rms of the reflection left by a bare line; an antenna off its resonance leaves more
COAX_OHM = (35.0, 110.0)  # a wire antenna, itself a line, shows several hundred ohm
LEAST_CELLS = 1.0  # delay in units of 1/span: below, an antenna far off resonance looks the same
LEAST_POINTS = 31
SMOOTH = 0.01  # rms left of a curve in which no resonance hides: one between two points bends many around it
# Delay in units of 1/span that a line of some metres has in a sweep of some MHz; our choice.
LEAST_TURN_CELLS = 0.2
NEARLY_ALL = 0.8  # reflection that every point of a line without a load keeps, 2 dB of it lost there and back
START_LOSS_DB = (0.3, 0.003)  # where the search for the loss begins


def find_dead_line(
    f_hz: ArrayLike,
    gamma: ArrayLike,
    draws: ChainDraws | None = None,
    *,
    noise: float = 0.0,
    reference_ohm: float = 50.0,
) -> Finding | None:
    """``open-line`` or ``shorted-line`` with its distance, where a sweep, reflection at the radio, looks like one.

    Without the line as told, the velocity factor is taken as that of any coax; ``noise`` is the rms of the complex
    noise. ``None`` for a sweep with an antenna in it, and where the sweep is too narrow to tell.
    """
    f = np.asarray(f_hz, dtype=np.float64)
    kept = f > 0
    f, g = f[kept], np.asarray(gamma, dtype=np.complex128)[kept]
    if f.size < LEAST_POINTS:
        return None
    if draws is not None and draws.chain.pieces:
        found = find_end_of_told_line(f, g, draws, noise=noise, reference_ohm=reference_ohm)
        if found is not None:
            return _finding(*found, draws)
    delay_s = main_echo_s(f, g, 1 / float(np.diff(f).max())) / 2
    if 2 * delay_s * (f[-1] - f[0]) < LEAST_CELLS:
        return None
    end, fit = _likelier_end(f, g, delay_s, reference_ohm)
    if not _is_bare_line(fit, noise):
        return None
    return _finding(end, _distance_m(fit.sections.total_delay_s, draws), draws)


def find_likely_dead_line(
    f_hz: FloatArray, gamma: ArrayLike, *, noise: float = 0.0, reference_ohm: float = 50.0
) -> Finding | None:
    """``no-antenna-seen``, where a sweep too narrow to prove a bare line is that of one, or of an antenna far off.

    Either way no dip hides between two of its points. ``None`` where it is not so.
    """
    kept = f_hz > 0
    f, g = f_hz[kept], np.asarray(gamma, dtype=np.complex128)[kept]
    if f.size < LEAST_POINTS or float(np.abs(g).min()) < NEARLY_ALL:
        return None
    delay_s = -float(np.polyfit(f, np.unwrap(np.angle(g)), 1)[0]) / (4 * np.pi)
    if 2 * delay_s * (f[-1] - f[0]) < LEAST_TURN_CELLS:
        return None
    end, fit = _likelier_end(f, g, delay_s, reference_ohm)
    if not (fit.rms <= max(SMOOTH, 1.5 * noise) and _is_coax(fit)):
        return None
    far = _distance_m(fit.sections.total_delay_s, None)
    return Finding(
        "no-antenna-seen",
        "warning",
        "no dip, nearly full reflection and an even delay: the sweep looks like a line that ends "
        f"{'open' if end == OPEN else 'in a short'} some {far.low or 0:.0f} to {far.high or 0:.0f} m away, "
        "or like an antenna far off its resonance; no dip hides between its points",
        "radio off and disconnected: is the line broken, or the antenna off it? Look, then review again with "
        "--line; else sweep a wider span",
        distance_m=far,
    )


def _likelier_end(
    f_hz: FloatArray, gamma: ComplexArray, delay_s: float, reference_ohm: float
) -> tuple[float, SectionFit]:
    """Open or short, whichever leaves less of the sweep, with its fit."""
    start = Sections((delay_s,), (reference_ohm,), *START_LOSS_DB)
    fits = {
        end: fit_sections([SweptEnd(f_hz, gamma, end)], start, reference_ohm=reference_ohm)
        for end in (OPEN, SHORT)
    }
    return min(fits.items(), key=lambda item: item[1].rms)


def _is_coax(fit: SectionFit) -> bool:
    low, high = COAX_OHM
    return low <= fit.sections.z0_ohm[0] <= high


def _is_bare_line(fit: SectionFit, noise: float) -> bool:
    return fit.rms <= max(EXPLAINED, 1.5 * noise) and _is_coax(fit)


def _distance_m(delay_s: float, draws: ChainDraws | None) -> Figure:
    """Metres along the told chain at which the delay is used up, beyond its end as in its last piece."""
    if draws is None or not draws.chain.pieces:
        ends = [SPEED_OF_LIGHT_M_S * factor * delay_s for factor in UNKNOWN_VELOCITY]
        return Figure((ends[0] + ends[1]) / 2, ends[0], ends[1])
    left_s: FloatArray = np.full(draws.size, delay_s)
    metres = np.zeros(draws.size)
    for k in range(len(draws.chain.pieces)):
        speed_m_s = SPEED_OF_LIGHT_M_S * draws.velocity_factor[:, k]
        is_last = k == len(draws.chain.pieces) - 1
        here_s = left_s if is_last else np.minimum(left_s, draws.length_m[:, k] / speed_m_s)
        metres += here_s * speed_m_s
        left_s = left_s - here_s
    return Figure.from_draws(metres, reason="the delay gives no distance")


def _finding(end: float, distance_m: Figure, draws: ChainDraws | None) -> Finding:
    word, fault = ("open", "an open") if end == OPEN else ("shorted", "a short")
    at_end = draws is not None and _is_whole_chain(distance_m, draws)
    if draws is not None:
        distance_m = distance_m.widened(draws.chain.scale_sigma)
    where = length_text(distance_m.value or 0.0)
    if distance_m.low is not None and distance_m.high is not None:
        where += f" ({distance_m.low:.1f} to {distance_m.high:.1f} m)"
    text = f"the sweep is that of a bare line that ends in {fault} {where} away"
    if at_end:
        text += ", which is the end of the line told: no antenna is seen on it, or one far off its resonance"
    else:
        text += "; an antenna far off its resonance can look like it"
    return Finding(
        f"{word}-line",
        "warning",
        text,
        "radio off and disconnected: look at the connectors out to that distance; "
        f"{'short' if end == OPEN else 'open'} the far end and sweep again: the curve must turn over",
        distance_m=distance_m,
    )


def _is_whole_chain(distance_m: Figure, draws: ChainDraws) -> bool:
    whole_m = draws.chain.length_m
    low, high = distance_m.low, distance_m.high
    if low is None or high is None:
        return abs((distance_m.value or 0.0) / whole_m - 1) < 0.03
    return low - 0.02 * whole_m <= whole_m <= high + 0.02 * whole_m
