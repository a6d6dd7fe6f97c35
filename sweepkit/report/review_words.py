"""The word for a band of a review: ``DIRECT``, or ``PARTLY DIRECT`` with the range."""

from __future__ import annotations

from sweepkit.report.headline import PARTLY, WORDS, is_partly, ranges_text
from sweepkit.reviews.bands import BandFigures


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
