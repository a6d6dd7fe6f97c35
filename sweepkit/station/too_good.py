"""A reading too good to be true: low where no antenna of these bands is, or all that the line can show."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sweepkit.conversions import FloatArray, gamma_abs_from_swr
from sweepkit.findings import Finding
from sweepkit.quantities import frequency_text
from sweepkit.station.point_verdicts import LOSS_TOO_MUCH_DB

# This far from every band an antenna for the bands is off its dip; common practice, no source
FAR_SHARE = 0.10
FAR_POINTS = 3  # fewer points out there prove nothing; common practice, no source

UNPLUG = (
    "radio off and disconnected: unplug the antenna at the box, or where the line ends, and sweep again; if the SWR "
    "does not jump, line and box hide what is behind them (--test antenna-unplugged --test-sweep FILE)"
)
SWEEP_AGAIN = "sweep again with hands off and every joint tight"


def find_flat_outside(
    f_hz: FloatArray,
    swr: FloatArray,
    *,
    band_hz: tuple[float, float],
    bands_hz: Sequence[tuple[float, float]],
) -> Finding | None:
    """Whether the SWR stays low even far outside the bands, so that it says nothing about one of them.

    An SWR anywhere bounds what the line loses there, since nothing reflects more than all: the loss is at most
    ``-10*log10(abs(gamma))``. From a lower frequency the bound is scaled up to the band with the root of frequency,
    the law of conductor loss. A high SWR somewhere thus proves the line; without one a low SWR proves nothing.

    The whole sweep is at the radio, nominal; ``bands_hz`` are the edges of all bands, the widest ones of all regions.
    ``swr-too-good`` where the sweep has points far outside the bands and no point of it proves that less than 3 dB
    are lost in the line at this band; ``None`` else, also where nothing was swept out there.
    """
    near_hz = _near(bands_hz)
    if is_near_bands(f_hz, bands_hz):
        return None
    known = ~np.isnan(swr) & (f_hz > 0)
    far = known.copy()
    for low_hz, high_hz in near_hz:
        far &= (f_hz < low_hz) | (f_hz > high_hz)
    if np.count_nonzero(far) < FAR_POINTS:
        return None
    with np.errstate(divide="ignore"):
        bound_db = -10 * np.log10(gamma_abs_from_swr(swr[known]))
    bound_db *= np.sqrt(np.maximum(band_hz[1] / f_hz[known], 1))
    if bound_db.min() < LOSS_TOO_MUCH_DB:
        return None
    at = int(np.flatnonzero(far)[np.argmax(swr[far])])
    text = (
        f"the SWR is low even far outside the bands, {swr[at]:.2f} at {frequency_text(float(f_hz[at]))}; "
        "a dummy load, a lossy line and a broken one read like this"
    )
    return Finding("swr-too-good", "warning", text, UNPLUG)


def is_near_bands(f_hz: FloatArray, bands_hz: Sequence[tuple[float, float]]) -> bool:
    """Whether all of a sweep is near one of the bands, given by their edges: none of it is far outside."""
    start_hz, stop_hz = float(f_hz[0]), float(f_hz[-1])
    return any(low_hz <= start_hz and stop_hz <= high_hz for low_hz, high_hz in _near(bands_hz))


def _near(bands_hz: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    return [(low_hz * (1 - FAR_SHARE), high_hz * (1 + FAR_SHARE)) for low_hz, high_hz in bands_hz]


def ceiling_finding(swr: float, ceiling_swr: float, *, near: bool = True) -> Finding:
    """The reading may be what the line shows open at its far end: it is ``near`` that, or its interval reaches it."""
    if near:
        text = (
            f"SWR {swr:.2f} is what this line shows with nothing behind it ({ceiling_swr:.2f}), "
            "so it says nothing about the antenna"
        )
        return Finding("swr-too-good", "warning", text, UNPLUG)
    text = (
        f"SWR {swr:.2f} is not sure enough to judge by: its interval (95 %) reaches what this line shows with "
        f"nothing behind it ({ceiling_swr:.2f})"
    )
    return Finding("swr-too-good", "warning", text, f"{SWEEP_AGAIN}; if it stays so wide, {UNPLUG}")
