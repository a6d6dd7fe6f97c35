"""From a review to the command that goes on from it, with what is known filled in."""

from __future__ import annotations

from collections.abc import Sequence

from sweepkit.quantities import frequency_text
from sweepkit.report.headline import BARE_ENDS
from sweepkit.report.page import Command
from sweepkit.reviews import Review
from sweepkit.reviews.bands import BandFigures

FARTHEST = 0.12  # a dip farther from the middle of a band, over it, is no matter of trimming; trims reach 0.88 to 1.10


def trim_command(review: Review, *, told: Sequence[str] = (), antenna: str = "") -> Command | None:
    """``sweepkit trim`` where a dip lies beside a band that is not all direct; the lowest such band.

    ``told`` are options that hold for the next command too, ``antenna`` the name under which kit or logbook know kind
    and length.
    """
    doubted = any(finding.code in (*BARE_ENDS, "wrong-plane") for finding in review.findings)
    if review.sweeps or not review.adequate or doubted:
        return None
    plane = review.feedpoint or review.main_plane
    places_hz = [dip.f_hz.value for dip in plane.dips if dip.f_hz.value is not None]
    for band in sorted(review.bands, key=lambda band: band.low_hz):
        beside_hz = _dip_beside_hz(band, places_hz)
        if beside_hz is None:
            continue
        middle_hz = (band.low_hz + band.high_hz) / 2
        side, length = ("below", "long") if beside_hz < middle_hz else ("above", "short")
        why = (
            f"Dip {abs(beside_hz - middle_hz) / 1e3:.0f} kHz {side} the middle of {band.name}: too {length}."
        )
        known = ("--antenna", antenna) if antenna else ("--kind", "KIND", "--length", "LEN")
        file = review.sweep.source.path or "FILE"
        return Command(why, ("sweepkit", "trim", file, *known, "--target", frequency_text(middle_hz), *told))
    return None


def _dip_beside_hz(band: BandFigures, places_hz: Sequence[float]) -> float | None:
    """The nearest dip, where it lies outside the band and within reach of a trim."""
    middle_hz = (band.low_hz + band.high_hz) / 2
    if band.best_swr.value is None or not places_hz:
        return None
    nearest_hz = min(places_hz, key=lambda f_hz: abs(f_hz - middle_hz))
    if band.low_hz <= nearest_hz <= band.high_hz or abs(nearest_hz / middle_hz - 1) > FARTHEST:
        return None
    return None if _is_all_direct(band) else nearest_hz


def _is_all_direct(band: BandFigures) -> bool:
    return {segment.verdict for segment in band.segments} == {"direct"}
