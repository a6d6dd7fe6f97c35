"""Reflections over time out of a sweep: band-pass transform of scikit-rf, windowed and padded.

Band-pass, since low-pass without the point at zero frequency moves every peak; the window is a function,
since a name would load all of scipy.signal; the size is corrected for padding and window. Resolution and
unambiguous range: Harris, Proceedings of the IEEE 66(1), 51-83, 1978, and any text on the discrete transform.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.errors import BadInput
from sweepkit.quantities import SPEED_OF_LIGHT_M_S

# Zeros appended, in lengths of the sweep: the parabola through a peak is then good to 0.1 % of a cell
PADDING = 7
KAISER_BETA = 6.0  # side lobes 44 dB down, main lobe twice as wide as without a window
UNEVEN = 0.02  # share of the step by which a frequency may lie off an even grid
BESIDE_CELLS = 1.5  # an echo nearer than this to a larger one is not told from it


@dataclass(frozen=True)
class Echo:
    """One reflection."""

    delay_s: float  # round trip from the near end
    size: float  # its part of the wave sent out, as seen at the near end
    phase_rad: float  # 0 for a reflection as from an open, ±π as from a short; without dispersion


def resolution_m(f_hz: FloatArray, velocity_factor: float) -> float:
    """Length of one cell, c·VF/(2·span): echoes closer than two of them cannot be told apart."""
    return SPEED_OF_LIGHT_M_S * velocity_factor / (2 * float(f_hz[-1] - f_hz[0]))


def range_m(f_hz: FloatArray, velocity_factor: float) -> float:
    """Unambiguous range of an even grid, c·VF/(2·step): what lies beyond shows up nearer than it is."""
    return SPEED_OF_LIGHT_M_S * velocity_factor / (2 * step_hz(f_hz))


def step_hz(f_hz: FloatArray) -> float:
    """Widest step of a sweep."""
    return float(np.diff(f_hz).max())


def refuse_uneven(f_hz: FloatArray) -> None:
    """Time has no meaning where a frequency lies off the even grid by more than 2 % of its step."""
    even = np.linspace(f_hz[0], f_hz[-1], f_hz.size)
    off = np.abs(f_hz - even).max() / (even[1] - even[0])
    if off > UNEVEN:
        raise BadInput(
            f"frequencies lie up to {off:.0%} of a step off an even grid; distances need even steps; "
            "sweep again with a linear sweep"
        )


def impulse_response(f_hz: FloatArray, gamma: ComplexArray) -> tuple[FloatArray, ComplexArray]:
    """Round-trip time from half a cell before 0 to the range [s], and the response there, of shape (8·n,).

    The grid is even; a reflection has a peak of its own size and phase.
    """
    import skrf

    n = f_hz.size
    network = skrf.Network(
        frequency=skrf.Frequency(f_hz[0], f_hz[-1], n, unit="Hz"), s=gamma.reshape(-1, 1, 1), z0=50
    )
    t_s, response = network.impulse_response(window=_kaiser, pad=PADDING * n, bandpass=True)
    scaled = np.asarray(response) * (len(t_s) / _kaiser(n).sum())
    # Nothing comes back before it was sent: the second half of the range stands at negative times.
    t = np.where(t_s < -0.5 / (f_hz[-1] - f_hz[0]), t_s + (n - 1) / (f_hz[-1] - f_hz[0]), t_s)
    order = np.argsort(t)
    return t[order], (scaled * np.exp(2j * np.pi * f_hz[0] * t))[order]


def _kaiser(n: int) -> FloatArray:
    return np.kaiser(n, KAISER_BETA)


def find_echoes(f_hz: FloatArray, gamma: ComplexArray, *, least: float, longest_s: float) -> list[Echo]:
    """Peaks of the impulse response, largest first.

    Left out is what lies in the shadow of a larger one: main lobe, and side lobes 40 dB down.
    """
    t_s, response = impulse_response(f_hz, gamma)
    size = np.abs(response)
    cell_s = 1 / float(f_hz[-1] - f_hz[0])
    inner = (size[1:-1] >= size[:-2]) & (size[1:-1] > size[2:]) & (size[1:-1] >= least)
    peaks = np.flatnonzero(inner) + 1
    peaks = peaks[(t_s[peaks] >= -cell_s / 2) & (t_s[peaks] <= longest_s)]
    found: list[Echo] = []
    for peak in peaks[np.argsort(size[peaks])[::-1]]:
        echo = _at(t_s, response, int(peak), float(f_hz[0] + f_hz[-1]) / 2)
        shadowed = any(
            abs(echo.delay_s - other.delay_s) < BESIDE_CELLS * cell_s or echo.size < 0.01 * other.size
            for other in found
        )
        if not shadowed:
            found.append(echo)
    return found


def _at(t_s: FloatArray, response: ComplexArray, peak: int, middle_hz: float) -> Echo:
    """The echo at a peak, by a parabola through its neighbours; the phase turns at the middle frequency."""
    a, b, c = np.abs(response[peak - 1 : peak + 2])
    bend = a - 2 * b + c
    shift = 0.5 * (a - c) / bend if bend < 0 else 0.0
    shift_s = shift * float(t_s[1] - t_s[0])
    phase = float(np.angle(response[peak] * np.exp(2j * np.pi * middle_hz * shift_s)))
    return Echo(float(t_s[peak]) + shift_s, float(b - 0.25 * (a - c) * shift), phase)
