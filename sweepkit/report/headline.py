"""The first words of a review, for page, text and card alike, and the command that goes on from it.

How much of a band is direct, and what forbids all: plain values in, so that a review and its JSON give the same words.
"""

from __future__ import annotations

from collections.abc import Sequence

from sweepkit.quantities import frequency_text, length_text
from sweepkit.report.page import Command
from sweepkit.reviews import Review
from sweepkit.reviews.bands import BandFigures

DIRECT_SHARE = 0.95  # of a band from which it is called direct without "partly"; docs/review.md
RANGES = 3  # named in a headline; more are counted
WORDS = {"direct": "DIRECT", "tuner": "TUNER", "no": "NO", "unknown": "CANNOT SAY"}
PARTLY = "PARTLY DIRECT"
BARE_ENDS = {"open-line": "open", "shorted-line": "shorted"}

Segments = Sequence[tuple[str, float, float]]  # verdict, low_hz, high_hz


def is_partly(
    verdict: str, *, band_hz: tuple[float, float], covered: float, share: float | None, segments: Segments
) -> bool:
    """Whether a band that can be used directly can be so in part only, or was swept in part only."""
    if verdict != "direct":
        return False
    direct_hz = sum(high - low for word, low, high in segments if word == "direct")
    shares = [direct_hz / (band_hz[1] - band_hz[0])] + ([] if share is None else [share * covered])
    return min(shares) < DIRECT_SHARE


def parts_with(verdict: str, segments: Segments) -> list[tuple[float, float]]:
    """Parts with a verdict, widest first. [Hz]"""
    parts = [(low, high) for word, low, high in segments if word == verdict]
    return sorted(parts, key=lambda part: part[0] - part[1])


def ranges_text(verdict: str, segments: Segments) -> str:
    """``7.056 to 7.156``: the widest parts with a verdict in MHz, rising; beyond three they are counted."""
    found = parts_with(verdict, segments)
    texts = [_range(low / 1e6, high / 1e6) for low, high in sorted(found[:RANGES])]
    return ", ".join(texts) + (f" and {len(found) - RANGES} more" if len(found) > RANGES else "")


def _range(low_mhz: float, high_mhz: float) -> str:
    low, high = f"{low_mhz:.3f}", f"{high_mhz:.3f}"
    return f"{low} to {high}" if low != high else f"at {low}"


def bare_end_text(code: str, distance_m: float | None) -> str:
    """``the line is open 12.8 m away``; empty for another finding."""
    if code not in BARE_ENDS or distance_m is None:
        return ""
    away = f"{distance_m:.1f} m" if distance_m >= 1 else length_text(distance_m)
    return f"the line is {BARE_ENDS[code]} {away} away"


def forbids_all(level: str, verdicts: Sequence[str]) -> bool:
    """Whether a line that ends bare is the answer: it is certain, or no band can be used anyway."""
    return level == "stop" or not any(verdict in ("direct", "tuner") for verdict in verdicts)


def spoils_the_answer(*, adequate: bool, verdicts: Sequence[str]) -> bool:
    """Whether a poor sweep comes before the bands: where it leaves nothing that can be used, or nothing known.

    ``adequate``: whether the sweep was good enough.
    """
    if adequate or any(verdict in ("direct", "tuner") for verdict in verdicts):
        return False
    return "unknown" in verdicts or not verdicts


def band_word(band: BandFigures) -> str:
    """What the operator may do there."""
    segments = plain_segments(band)
    edges_hz = (band.low_hz, band.high_hz)
    share = band.share_within_limit.value
    if is_partly(band.verdict, band_hz=edges_hz, covered=band.covered, share=share, segments=segments):
        return f"{PARTLY} {ranges_text('direct', segments)}".strip()
    return WORDS[band.verdict]


def plain_segments(band: BandFigures) -> list[tuple[str, float, float]]:
    """Parts of a band as the first words take them."""
    return [(part.verdict, part.low_hz, part.high_hz) for part in band.segments]


def changes_in_bands(before: Review, after: Review) -> list[str]:
    """A line for each band of either answer, lowest first; those that are the same say so."""
    old, new = ({band.name: band for band in answer.bands} for answer in (before, after))
    bands = sorted((old | new).values(), key=lambda band: band.low_hz)
    return [_line(band.name, old.get(band.name), new.get(band.name)) for band in bands]


def _line(name: str, old: BandFigures | None, new: BandFigures | None) -> str:
    was, becomes = (_said(band) for band in (old, new))
    return f"{name}: {was}, the same with both" if was == becomes else f"{name}: {was} -> {becomes}"


def _said(band: BandFigures | None) -> str:
    """The word, where the tuner is needed or can be, and the watts."""
    if band is None:
        return "not touched"
    tuned = ranges_text("tuner", plain_segments(band)) if band.verdict in ("direct", "tuner") else ""
    watts = band.power_to_antenna_w.value
    parts = [band_word(band), f"with the tuner {tuned} MHz" if tuned else ""]
    return ", ".join(filter(None, (*parts, "" if watts is None else f"{watts:.3g} W leave the coax")))


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
