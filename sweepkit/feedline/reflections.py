"""Places that reflect, in metres: joints that the fit found, the far end, and what stays unexplained."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.feedline.echoes import Echo, impulse_response, step_hz
from sweepkit.feedline.identify import Identified
from sweepkit.feedline.propagation import group_slowness_s_per_m
from sweepkit.feedline.section_fit import SectionDraws
from sweepkit.feedline.swept import MOST_OF_RANGE
from sweepkit.feedline.told import Scale
from sweepkit.figures import Figure
from sweepkit.quantities import SPEED_OF_LIGHT_M_S

LEAST_SPAN = 0.5  # of the middle frequency; below, echoes are no places
BARE_END = 0.8  # a far end that reflects less of the wave is neither an open nor a short
BEYOND_TOLD = "past the told end: a later echo"
UNEXPLAINED = "the sweep is not that of a line with a bare open or short at its far end"


@dataclass(frozen=True)
class Reflection:
    """One place that reflects."""

    distance_m: Figure  # from the near end
    size_db: float  # at the place itself: 0 is a total reflection, -14 a step from 50 to 75 ohm
    looks_like: str


def list_reflections(
    found: Identified, draws: SectionDraws, scale: Scale, f_hz: FloatArray, *, told_m: float | None = None
) -> tuple[Reflection, ...]:
    """Joints, far end, and what the fit leaves, nearest first; the fitted line is the first of the draws.

    ``told_m``: length told, where the sweep is not that of a line; what comes from beyond it was reflected more than
    once, or the line is longer.
    """
    listed = [_beyond(echo, told_m) for echo in _echoes(found, scale, f_hz)]
    if found.is_explained:
        listed += _joints(found, draws, scale)
        listed.append(_far_end(found, scale))
    return tuple(sorted(listed, key=lambda reflection: reflection.distance_m.value or 0.0))


def _beyond(echo: Reflection, told_m: float | None) -> Reflection:
    """An echo with what it is where it lies beyond the end that was told."""
    low_m = echo.distance_m.low
    if told_m is None or low_m is None or low_m <= told_m:
        return echo
    return replace(echo, looks_like=BEYOND_TOLD)


def _joints(found: Identified, draws: SectionDraws, scale: Scale) -> list[Reflection]:
    """Steps of impedance between sections, the analyzer's own connector not counted."""
    z0_ohm = found.fit.sections.z0_ohm
    places_m = np.cumsum(draws.delay_s, axis=1) * (SPEED_OF_LIGHT_M_S * scale.velocity_factor)[:, None]
    listed = []
    for k, (before, after) in enumerate(pairwise(z0_ohm)):
        rho = (after - before) / (after + before)
        words = f"step {'up' if rho > 0 else 'down'} from {before:.0f} to {after:.0f} ohm"
        distance = Figure.from_draws(places_m[:, k], reason=UNEXPLAINED)
        listed.append(Reflection(distance, _size_db(abs(rho)), words))
    return listed


def _far_end(found: Identified, scale: Scale) -> Reflection:
    """What the wave meets last."""
    end = found.ends[0]
    if abs(end) >= BARE_END:
        words = "open" if end > 0 else "short"
    else:
        words = f"resistance of about {found.fit.sections.z0_ohm[-1] * (1 + end) / (1 - end):.0f} ohm"
    return Reflection(
        Figure.from_draws(scale.length_m, reason=UNEXPLAINED), _size_db(min(abs(end), 1.0)), words
    )


def _echoes(found: Identified, scale: Scale, f_hz: FloatArray) -> list[Reflection]:
    """Reflections of the time domain, brought to metres by the group velocity in the middle of the sweep."""
    slowing, loss_np_per_s = _slowing_and_loss(found, f_hz)
    speed_m_s = SPEED_OF_LIGHT_M_S * scale.velocity_factor / slowing
    half_cell_s = 0.25 / float(f_hz[-1] - f_hz[0])
    return [
        _echo(echo, speed_m_s, half_cell_s, loss_np_per_s) for echo in found.echoes if _is_place(echo, f_hz)
    ]


def _is_place(echo: Echo, f_hz: FloatArray) -> bool:
    """An echo that may be given in metres: clear of the connector, of the range's end, and of a narrow sweep.

    What a narrow sweep shows over time is the energy stored in an antenna, not a place.
    """
    span_hz = float(f_hz[-1] - f_hz[0])
    is_inside = 1 / span_hz <= echo.delay_s <= MOST_OF_RANGE / step_hz(f_hz)
    return is_inside and span_hz >= LEAST_SPAN * (f_hz[0] + f_hz[-1]) / 2


def trace_reflections(
    found: Identified, scale: Scale, f_hz: FloatArray, gamma: ComplexArray
) -> tuple[FloatArray, FloatArray]:
    """How much comes back from where, freed of the line's loss as the listed places are: distance [m], size [dB].

    From the near end to the end of the range that is safe; 0 dB is a total reflection at that place. The frequencies
    are even, and the nominal scale counts.
    """
    slowing, loss_np_per_s = _slowing_and_loss(found, f_hz)
    t_s, response = impulse_response(f_hz, gamma)
    shown = (t_s >= 0) & (t_s <= MOST_OF_RANGE / step_hz(f_hz))
    one_way_s = t_s[shown] / 2
    size = np.abs(response[shown]) * np.exp(loss_np_per_s * one_way_s)
    speed_m_s = SPEED_OF_LIGHT_M_S * float(scale.velocity_factor[0]) / slowing
    return one_way_s * speed_m_s, 20 * np.log10(np.maximum(size, 1e-9))


def _slowing_and_loss(found: Identified, swept_hz: FloatArray) -> tuple[float, float]:
    """Group delay over delay in the high-frequency limit, and loss per second of it [Np/s]; none if unexplained."""
    if not found.is_explained:
        return 1.0, 0.0
    sections, f_hz = found.fit.sections, float(swept_hz[0] + swept_hz[-1]) / 2
    group_s = group_slowness_s_per_m(
        f_hz,
        velocity_factor=1 / (SPEED_OF_LIGHT_M_S * sections.total_delay_s),
        k1=100 * sections.k1_db,
        k2=100 * sections.k2_db,
    )
    loss_np = -np.log(np.abs(sections.turn(np.array([f_hz]))))[0]
    return float(group_s / sections.total_delay_s), float(loss_np / group_s)


def _echo(echo: Echo, speed_m_s: FloatArray, half_cell_s: float, loss_np_per_s: float) -> Reflection:
    """Half a cell to each side, and what is known of the speed."""
    one_way_s = max(echo.delay_s, 0.0) / 2
    slow, fast = (float(speed) for speed in np.quantile(speed_m_s, [0.025, 0.975]))
    nearest, farthest = max(one_way_s - half_cell_s, 0.0) * slow, (one_way_s + half_cell_s) * fast
    size = min(echo.size * float(np.exp(loss_np_per_s * one_way_s)), 1.0)
    words = "rise of impedance" if np.cos(echo.phase_rad) > 0 else "fall of impedance"
    return Reflection(Figure(one_way_s * float(speed_m_s[0]), nearest, farthest), _size_db(size), words)


def _size_db(size: float) -> float:
    return float(20 * np.log10(max(size, 1e-9)))
