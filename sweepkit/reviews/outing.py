"""What several sweeps of one outing tell together of the line and the analyzer that they share."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any, NamedTuple

from sweepkit.feedline.chain import LineChain
from sweepkit.findings import Finding
from sweepkit.instrument import DEFAULT_DRAWS, ErrorModel
from sweepkit.kit import Kit, as_kit, as_pieces
from sweepkit.lines import LinePiece
from sweepkit.reviews.check_sweeps import CheckSweeps
from sweepkit.reviews.planes import curve_for_outing
from sweepkit.station.outing import Outing, listen_each, share
from sweepkit.station.windows import Curve
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
    told = _through_a_line(sweeps, kit, lines, measured_at, checks) if draws and len(sweeps) > 1 else None
    return None if told is None else share([curve for curve, _ in told.seen], **told.at_all(0))


def doubt_lines(
    sweeps: Sequence[Sweep],
    *,
    kit: Kit | str | Path | None = None,
    lines: Sequence[LinePiece | str] | None = None,
    measured_at: Place = "unknown",
    checks: CheckSweeps | None = None,
    **_other: Any,
) -> list[Finding]:
    """Another line that fits a sweep by itself far better than the one told: what its own review with draws says."""
    told = _through_a_line(sweeps, kit, lines, measured_at, checks)
    if told is None:
        return []
    heard = [listen_each([curve], **told.at_all(number))[0] for number, (curve, _) in enumerate(told.seen)]
    return [one.finding for one in heard if one.finding is not None]


class _ThroughALine(NamedTuple):
    """Sweeps with what was told of the line they came through."""

    seen: Sequence[tuple[Curve, ErrorModel]]
    chain: LineChain
    reference_ohm: float
    checks: CheckSweeps | None

    def at_all(self, number: int) -> dict[str, Any]:
        """What learning takes beside the curves, with the error model of one of them."""
        known = () if self.checks is None else self.checks.known(self.reference_ohm)
        told = {"chain": self.chain, "reference_ohm": self.reference_ohm, "checks": known}
        return told | {"model": self.seen[number][1]}


def _through_a_line(
    sweeps: Sequence[Sweep],
    kit: Kit | str | Path | None,
    lines: Sequence[LinePiece | str] | None,
    measured_at: Place,
    checks: CheckSweeps | None,
) -> _ThroughALine | None:
    """``None`` where nothing can be learned: no line, measured at the feedpoint, no phase."""
    if not lines or measured_at == "feedpoint":
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
    return _ThroughALine(seen, chain, reference_ohm, checks)
