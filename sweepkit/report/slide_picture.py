"""What it would take: the picture of a moved dip, and what each of its places says, looked up by the page."""

from __future__ import annotations

from typing import Any

import numpy as np

from sweepkit.figures import Figure
from sweepkit.plots.inline_svg import inline_svg
from sweepkit.plots.look import NARROW
from sweepkit.plots.slide import plot_slide
from sweepkit.report.page import Picture
from sweepkit.report.review_words import band_word
from sweepkit.reviews.slides import Slid, Slides

DIGITS = 4  # significant ones of an SWR that is drawn
AS_IT_IS = (
    "All else as it is: R and Q are taken to stay, which a few percent leave true; the interval is that of the "
    "measurement alone. How much wire that is: sweepkit trim."
)


def slide_picture(slides: Slides, *, prefix: str, place: str, reference_ohm: float) -> Picture:
    """The picture with its states."""
    name = f"{prefix}-slide"
    svg = inline_svg(plot_slide(slides, reference_ohm=reference_ohm, size=NARROW, titled=False), prefix=name)
    words = [_words(slides, state) for state in slides.states]
    said = f"Now: {words[slides.now]}."
    if slides.best != slides.now:
        said += f" Best: {words[slides.best]}."
    return Picture(
        name,
        f"What it would take: the dip moved, SWR {place}",
        said,
        svg.svg,
        svg.frame,
        note=f"{said} {AS_IT_IS}",
        moves=_moves(slides, words),
    )


def _moves(slides: Slides, words: list[str]) -> dict[str, Any]:
    """Plain values for the page: frequencies once, of each state the words and three curves."""
    return {
        "mhz": [round(float(f_hz) / 1e6, 4) for f_hz in slides.f_hz],
        "now": slides.now,
        "words": words,
        "swr": [[_plain(row) for row in state.swr] for state in slides.states],
    }


def _plain(row: np.ndarray[Any, Any]) -> list[float | None]:
    return [None if not np.isfinite(value) else float(f"{value:.{DIGITS}g}") for value in row]


def _words(slides: Slides, state: Slid) -> str:
    """``dip 7.100 MHz, 300 kHz up: 40 m DIRECT, 100 % (98 to 100) within SWR 2``."""
    away_hz = state.dip_hz - slides.states[slides.now].dip_hz
    moved = f", {abs(away_hz) / 1e3:.0f} kHz {'up' if away_hz > 0 else 'down'}" if away_hz else ""
    share = state.band.share_within_limit
    within = f", {_percent(share)} within SWR {slides.limit_swr:g}"
    swept = f", {100 * state.band.covered:.0f} % of it swept" if state.band.covered < 0.995 else ""
    return (
        f"dip {state.dip_hz / 1e6:.3f} MHz{moved}: {state.band.name} {band_word(state.band)}{within}{swept}"
    )


def _percent(share: Figure) -> str:
    """With its interval, where that says more."""
    value, low, high = (
        None if end is None else f"{100 * end:.0f}" for end in (share.value, share.low, share.high)
    )
    return f"{value} %" if low is None or low == high else f"{value} % ({low} to {high})"
