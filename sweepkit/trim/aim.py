"""Where the dip is to go: the target told, or the best place for a band."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from sweepkit.antennas.kind import Kind
from sweepkit.antennas.which import choose_dip
from sweepkit.conversions import ComplexArray, FloatArray, swr_from_gamma_abs
from sweepkit.feedline.plane import chain_matrix
from sweepkit.findings import Finding
from sweepkit.quantities import frequency_text
from sweepkit.reviews.planes import Planes
from sweepkit.trim.seen import SeenSweep

# Rule of the trade, as for the diagnosis of wet wire (data/signatures.csv); half of it is the trade's margin.
WET_FALL, WET_SIGMA = 0.007, 0.006
LARGEST_SCALE, SCALES, FINER = 1.25, 201, 41  # moves tried: up to a quarter of the frequency either way
POINTS = 61  # across the band
CAP = 0.999  # reflections above it count as it [-]


@dataclass(frozen=True)
class Aim:
    """Target frequency, why nothing needs doing, and what was noticed on the way."""

    target_hz: float
    good_enough: str | None
    findings: tuple[Finding, ...]

    def raised_for_rain(self) -> Aim:
        """As far above when dry as water brings it below."""
        target_hz = self.target_hz * (1 + WET_FALL / 2)
        text = (
            f"aimed at {frequency_text(target_hz)}, {WET_FALL / 2:.2%} higher: water moves a wire down by "
            f"{WET_FALL:.1%} give or take {WET_SIGMA:.1%} (bare wire hardly, insulated wire most), so dry it is as far "
            "above as wet below"
        )
        return replace(
            self, target_hz=target_hz, findings=(*self.findings, Finding("wet-margin", "note", text, ""))
        )

    @classmethod
    def for_band(cls, seen: SeenSweep, band_hz: tuple[float, float], kind: Kind, length_m: float) -> Aim:
        """The best place of the dip for a band or segment."""
        low_hz, high_hz = band_hz
        words = f"{frequency_text(low_hz)} to {frequency_text(high_hz)}"
        found = best_scale(seen.review.planes, low_hz, high_hz)
        limit = seen.review.limit_swr
        good = None
        if found.worst_now is not None and found.worst_now <= limit:
            good = f"SWR is {found.worst_now:.2f} or less from {words} already; {limit:g} was asked for"
        middle_hz = float(np.sqrt(low_hz * high_hz))
        if not seen.dips:
            return cls(middle_hz, good, ())
        choice = choose_dip(kind, length_m, [dip.measured_hz for dip in seen.dips])
        if found.scale is None or choice.number is None:
            aimed = Finding(
                "band-not-swept",
                "note",
                f"the sweep does not show enough of the curve to fit it to {words}; the dip is aimed at the "
                "middle",
                "sweep at least the width of the band to both sides of the dip",
            )
            return cls(middle_hz, good, (aimed,))
        target_hz = seen.dips[choice.number].measured_hz * found.scale
        reached = Finding(
            "band-target",
            "note",
            f"with the dip at {frequency_text(target_hz)} the worst SWR from {words} will be about "
            f"{found.worst_then:.2f}",
            "",
        )
        return cls(target_hz, good, (reached,))


@dataclass(frozen=True)
class BandTarget:
    """Frequencies over which to move the curve, and the worst SWR then and now."""

    scale: float | None  # multiplies all frequencies; None where the sweep does not show enough of the curve
    worst_then: float | None
    worst_now: float | None  # None where the sweep does not cover the band


def best_scale(planes: Planes, low_hz: float, high_hz: float) -> BandTarget:
    """The move that leaves the lowest worst SWR at the radio across a band."""
    view = planes.feedpoint or planes.measured
    band_hz = np.linspace(low_hz, high_hz, POINTS)
    now = None
    if view.f_hz[0] <= low_hz and high_hz <= view.f_hz[-1]:
        now = float(_worst_swr(planes, view.f_hz, view.gamma, band_hz, np.array([1.0]))[0])
    reach = np.log(LARGEST_SCALE)
    scales = np.exp(np.linspace(-reach, reach, SCALES))
    scales = scales[(low_hz / scales >= view.f_hz[0]) & (high_hz / scales <= view.f_hz[-1])]
    if scales.size < 3:
        return BandTarget(None, None, now)
    worst = _worst_swr(planes, view.f_hz, view.gamma, band_hz, scales)
    best = int(np.argmin(worst))
    if best in (0, scales.size - 1):
        return BandTarget(None, None, now)  # it goes on falling beyond what was swept
    finer = np.linspace(scales[best - 1], scales[best + 1], FINER)
    worst = _worst_swr(planes, view.f_hz, view.gamma, band_hz, finer)
    return BandTarget(float(finer[np.argmin(worst)]), float(worst.min()), now)


def _worst_swr(
    planes: Planes, f_hz: FloatArray, gamma: ComplexArray, band_hz: FloatArray, scales: FloatArray
) -> FloatArray:
    """Worst SWR across the band for each move, shape of ``scales``."""
    asked_hz = band_hz / scales[:, np.newaxis]
    moved = np.interp(asked_hz, f_hz, gamma.real) + 1j * np.interp(asked_hz, f_hz, gamma.imag)
    if planes.chain is not None and planes.chain.chain.pieces:
        nominal = planes.chain.part(slice(0, 1))
        a, b, c, d = chain_matrix(band_hz, nominal, reference_ohm=planes.measured.reference_ohm)
        moved = (a * moved + b) / (c * moved + d)
    return np.asarray(swr_from_gamma_abs(np.minimum(np.abs(moved), CAP)).max(axis=-1))
