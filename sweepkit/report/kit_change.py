"""What another kit changes in the answer for one sweep: a line for each band, before and after."""

from __future__ import annotations

from sweepkit.report.headline import ranges_text
from sweepkit.report.review_words import band_word, plain_segments
from sweepkit.reviews import Review
from sweepkit.reviews.bands import BandFigures


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
