"""What several sweeps of one outing tell together of the line and the analyzer that they share."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from sweepkit.feedline.chain import LineChain
from sweepkit.instrument import DEFAULT_DRAWS
from sweepkit.kit import Kit, as_kit, as_pieces
from sweepkit.lines import LinePiece
from sweepkit.reviews.check_sweeps import CheckSweeps
from sweepkit.reviews.planes import curve_for_outing
from sweepkit.station.outing import Outing, share
from sweepkit.sweep import Place, Sweep


def learn_outing(
    sweeps: Sequence[Sweep],
    *,
    kit: Kit | str | Path | None = None,
    lines: Sequence[LinePiece | str] | None = None,
    measured_at: Place = "unknown",
    checks: CheckSweeps | None = None,
    draws: int = DEFAULT_DRAWS,
    **_other: Any,
) -> Outing | None:
    """What two or more sweeps through one line, with one calibration, tell together: ``outing`` of the review of
    each.

    The antenna may have changed between them. ``None`` where there is nothing to share: no line, no draws, measured
    at the feedpoint, sweeps without phase.
    """
    if not lines or not draws or measured_at == "feedpoint" or len(sweeps) < 2:
        return None
    gear = as_kit(kit)
    chain = LineChain(as_pieces(lines, gear))
    with_phase = [sweep for sweep in sweeps if sweep.phase == "signed" and (sweep.f_hz > 0).sum() > 1]
    if not chain.pieces or not with_phase:
        return None
    analyzer = gear.analyzer
    if checks is not None:
        low_hz = min(float(sweep.f_hz[0]) for sweep in with_phase)
        high_hz = max(float(sweep.f_hz[-1]) for sweep in with_phase)
        analyzer, _ = checks.judged_over(low_hz, high_hz, analyzer)
    reference_ohm = gear.radio.z0_ohm
    seen = [curve_for_outing(sweep, analyzer=analyzer, reference_ohm=reference_ohm) for sweep in with_phase]
    return share(
        [curve for curve, _ in seen],
        chain,
        seen[0][1],
        reference_ohm=reference_ohm,
        checks=() if checks is None else checks.known(reference_ohm),
    )
