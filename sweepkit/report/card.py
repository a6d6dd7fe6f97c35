"""A review on a card: at most 8 lines of 40 columns, words and signs, no colour."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence

from sweepkit.findings import Finding
from sweepkit.report.headline import PARTLY, RANK, bare_end, is_partly, parts_with, rank, spoils_the_answer
from sweepkit.reviews import Review
from sweepkit.reviews.bands import BandFigures
from sweepkit.reviews.next_sweep import NextSweep

LINES, COLUMNS = 8, 40
SHOWN_SWEEPS = 2  # next sweeps on the card; the text has all
SIGNS = {"direct": "+", "tuner": "~", "no": "x", "unknown": "?"}
WORDS = {"direct": "DIRECT", "tuner": "TUNER", "no": "NO", "unknown": "?"}
ALREADY_SAID = ("too-coarse", "dip-at-edge", "span-too-narrow", "likely-cause")  # by a line of its own
SINCE = {
    "likely-cause": "?",
    "nothing-wrong-since": "=",
}  # findings that are said in words, up to a semicolon


def render_card(review: Review, *, imperial: bool = False) -> str:
    """The card of one review; the first line says what that of page and text says.

    A line that ends bare comes first where no band can be used for it, then a finding that forbids to act, and the
    sweep to take where this one spoils the answer; else the bands, best verdict first, then rising: sign, name,
    verdict, widest range in kHz with that verdict ("+": there are more), SWR, watts that leave the coax. Then a
    warning, the likely cause or that all is as usual where the logbook has an earlier sweep, and what the figures are
    true for.
    """
    end, word = bare_end(review, imperial=imperial)
    word = word if len(word) <= COLUMNS else word.replace("the line is", "line")
    again = [] if review.adequate else _again(review.next_sweeps)
    spoilt = spoils_the_answer(review)
    others = [finding for finding in review.findings if end is None or finding.code != end.code]
    stops = [f"STOP: {code}" for code in _first(others, "stop")]
    warnings = [] if stops else [f"! {code}" for code in _first(others, "warning")]
    before = [*([word] if word else []), *stops, *(again if spoilt else [])]
    since = [
        f"{SINCE[one.code]} {one.text.partition(';')[0]}" for one in review.findings if one.code in SINCE
    ]
    after = [*([] if spoilt else again), *warnings, *since, _legend(review)]
    bands = _bands(review.bands, LINES - len(before) - len(after))
    return "\n".join(line[:COLUMNS].rstrip() for line in [*before, *bands, *after])


def _again(next_sweeps: Sequence[NextSweep]) -> list[str]:
    """What to key into the analyzer."""
    if not next_sweeps:
        return ["SWEEP AGAIN: this one was too poor"]
    shown = next_sweeps[:SHOWN_SWEEPS]
    heads = ["SWEEP AGAIN", *["        AND"] * (len(shown) - 1)]
    lines = [f"{head} {_sweep(sweep)}" for head, sweep in zip(heads, shown, strict=True)]
    if len(next_sweeps) > len(shown):
        lines[-1] += f" +{len(next_sweeps) - len(shown)}"
    return lines


def _sweep(sweep: NextSweep) -> str:
    low_khz, high_khz = math.floor(sweep.start_hz / 1e3), math.ceil(sweep.stop_hz / 1e3)
    return f"{low_khz}-{high_khz}kHz {sweep.points}pts"


def _bands(bands: Sequence[BandFigures], room: int) -> list[str]:
    """A line for each band, best first; what does not fit is counted."""
    if not bands:
        return ["no band asked for lies in this sweep"]
    ranked = sorted(bands, key=rank)
    if len(ranked) <= room:
        return [_band(band) for band in ranked]
    shown, rest = ranked[: room - 1], ranked[room - 1 :]
    counts = Counter(band.verdict for band in rest)
    counted = ", ".join(f"{counts[verdict]} {WORDS[verdict]}" for verdict in RANK if counts[verdict])
    return [*map(_band, shown), f"  {len(rest)} more: {counted}"]


def _band(band: BandFigures) -> str:
    verdict, name = band.verdict, band.name.replace(" ", "")[:5]
    if is_partly(band):
        line = f"{SIGNS[verdict]} {name:<5}{PARTLY} {_range(band)}"
        ends = [f" {text:>6}" for text in (_swr(band), _watts(band)) if text]
        return line + "".join(
            end for k, end in enumerate(ends, 1) if len(line + "".join(ends[:k])) <= COLUMNS
        )
    head = f"{SIGNS[verdict]} {name:<5}{WORDS[verdict]:<6}"
    return f"{head} {_range(band):<13} {_swr(band):>6}{_watts(band):>6}"


def _range(band: BandFigures) -> str:
    """The widest range with the band's verdict, rounded inwards; of a band of no use where it is best."""
    parts = parts_with(band.verdict, band)
    if band.verdict in ("no", "unknown") or not parts:
        best_hz = band.best_hz.value
        return "" if best_hz is None else f"best {best_hz / 1e3:.0f}"
    low_khz, high_khz = math.ceil(parts[0].low_hz / 1e3), math.floor(parts[0].high_hz / 1e3)
    more = "+" if len(parts) > 1 else ""
    return f"{low_khz}-{high_khz}{more}" if low_khz < high_khz else f"at {parts[0].low_hz / 1e3:.0f}{more}"


def _swr(band: BandFigures) -> str:
    swr = band.best_swr.value
    if swr is None:
        return ""
    return f"{swr:.1f}:1" if swr < 9.95 else f"{swr:.0f}:1" if swr < 100 else ">99:1"


def _watts(band: BandFigures) -> str:
    watts = band.power_to_antenna_w.value
    return "" if watts is None else f"{watts:.0f}W" if watts >= 10 else f"{watts:.1f}W"


def _first(findings: Sequence[Finding], level: str) -> list[str]:
    """Code of the first finding of a level, for its line; the text of the review explains it."""
    codes = [finding.code for finding in findings if finding.level == level]
    return [code for code in codes if code not in ALREADY_SAID][:1]


def _legend(review: Review) -> str:
    """What the figures are, and where they are true."""
    watts = [text for text in map(_watts, review.bands) if text]
    leaves = f"leaves coax {watts[0]}" if len(watts) == 1 else "W leaves coax"
    if review.planes.measured_at == "unknown":
        return "kHz, SWR where measured" + (f", {leaves}" if watts else "")
    plane = "the radio" if review.radio is not None else "feedpoint"  # no room for more
    return f"kHz, SWR at {plane}" + (f", {leaves}" if watts else "")
