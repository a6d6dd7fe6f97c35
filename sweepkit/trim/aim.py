"""Where the dip is to go: the target told, or the best place for a band."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from sweepkit.antennas.kind import Kind
from sweepkit.antennas.which import choose_dip
from sweepkit.findings import Finding
from sweepkit.quantities import frequency_text
from sweepkit.trim.band_target import best_scale
from sweepkit.trim.seen import SeenSweep

# Rule of the trade, as for the diagnosis of wet wire (data/signatures.csv); half of it is the trade's margin.
WET_FALL, WET_SIGMA = 0.007, 0.006


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
        """The best place of the dip for a band or segment.

        Raises ``BadInput``: the length belongs to none of the dips.
        """
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
