"""A review as text: what to do, then why, then the figures. Made to be read on 40 columns in the sun."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from sweepkit.cautions import IN_SHORT
from sweepkit.figures import Figure
from sweepkit.findings import Finding
from sweepkit.reviews import Review
from sweepkit.reviews.bands import BandFigures
from sweepkit.reviews.plane import DipFigures, Plane, SwrBandwidth
from sweepkit.reviews.verdicts import TOO_COARSE

LEAST_WIDTH, MOST_WIDTH = 40, 72
FAR_OFF_SWR = 10.0  # bands that never come below it share one line
HIGHEST_SWR = 100.0  # written as "above 100": beyond it digits mean nothing
SHOWN_DIPS = 4  # deeper ones first; the JSON has all
VERDICT_WORDS = {"direct": "DIRECT", "tuner": "TUNER", "no": "NO", "unknown": "CANNOT SAY"}
LEVEL_MARKS = {"stop": "!!", "warning": "! ", "note": "- "}


def review_text(review: Review, *, width: int = MOST_WIDTH, assumptions: tuple[str, ...] = ()) -> str:
    """A review for a terminal.

    Parameters
    ----------
    review : Review
        A reviewed sweep.
    width : int
        Columns of the terminal; held between 40 and 72.
    assumptions : tuple of str
        What stands in for what the operator has not told.

    Returns
    -------
    str
        Lines, without a newline at the end.
    """
    width = min(max(width, LEAST_WIDTH), MOST_WIDTH)
    blocks = [
        list(_head(review, width)),
        list(_findings([finding for finding in review.findings if finding.level != "note"], width)),
        *(list(_band(band, width)) for band in review.bands if not _is_brief(band)),
        list(_brief_bands(review, width)),
        list(_findings([finding for finding in review.findings if finding.level == "note"], width)),
        *(list(_plane(name, plane, width)) for name, plane in _planes(review)),
        list(_assumed(assumptions, width)),
        list(_caution(review, width)),
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block)


def _head(review: Review, width: int) -> Iterator[str]:
    """File, whether the sweep was good enough, and where its numbers are true."""
    sweep = review.sweep
    yield _shortened(sweep.source.path or "sweep", width)
    span = f"{sweep.f_hz[0] / 1e6:.3f} to {sweep.f_hz[-1] / 1e6:.3f} MHz, {sweep.f_hz.size} points"
    yield from _wrapped(
        ("SWEEP GOOD ENOUGH: " if review.adequate else "SWEEP AGAIN: this one was ") + span, width
    )
    for wanted in review.next_sweeps:
        yield f"  {wanted.start_hz / 1e6:g} to {wanted.stop_hz / 1e6:g} MHz, {wanted.points} points"
    place = {
        "radio": "Measured at the radio.",
        "feedpoint": "Measured at the feedpoint.",
        "unknown": "Where it was measured was not told; "
        "say --measured-at feedpoint, or --line for the line that was in between.",
    }[review.planes.measured_at]
    yield from _wrapped(place, width)
    if sweep.phase != "signed":
        yield from _wrapped("No phase in the file: SWR only, no impedance.", width)


def _band(band: BandFigures, width: int) -> Iterator[str]:
    """A band: the verdict, where, how well, why."""
    yield f"{band.name:<6} {VERDICT_WORDS[band.verdict]}"
    for segment in band.segments:
        if len(band.segments) > 1 or band.covered < 1:
            low, high = f"{segment.low_hz / 1e6:.3f}", f"{segment.high_hz / 1e6:.3f}"
            yield f"  {low} to {high} MHz {VERDICT_WORDS[segment.verdict].lower()}"
    yield from _wrapped(band.why, width, indent="  ")
    swr, power_w = band.best_swr, band.power_to_antenna_w
    if swr.low is not None and swr.high is not None and swr.high <= HIGHEST_SWR:
        yield from _wrapped(f"best SWR between {swr.low:.2f} and {swr.high:.2f} (95 %)", width, indent="  ")
    if power_w.value is not None:
        yield from _wrapped(f"{_with_interval(power_w, '.3g')} W reach the antenna", width, indent="  ")


def _is_brief(band: BandFigures) -> bool:
    """A band that shares a line with others."""
    return _is_far_off(band) or band.why == TOO_COARSE


def _is_far_off(band: BandFigures) -> bool:
    """A band on which nothing but the word no is worth a line."""
    low = band.best_swr.low if band.best_swr.low is not None else band.best_swr.value
    return band.verdict == "no" and low is not None and low > FAR_OFF_SWR


def _brief_bands(review: Review, width: int) -> Iterator[str]:
    coarse = [band.name for band in review.bands if band.why == TOO_COARSE]
    if coarse:
        yield from _wrapped(f"CANNOT SAY on {', '.join(coarse)}: {TOO_COARSE}", width)
    far_off = [band.name for band in review.bands if _is_far_off(band) and band.name not in coarse]
    if far_off:
        yield from _wrapped(f"NO on {', '.join(far_off)}: SWR above {FAR_OFF_SWR:g}", width)
    if not review.bands:
        yield from _wrapped("The sweep touches no amateur band of the table.", width)


def _findings(findings: list[Finding], width: int) -> Iterator[str]:
    for finding in findings:
        yield from _wrapped(f"{LEVEL_MARKS[finding.level]} {finding.text}", width, hang="   ")
        yield from _wrapped(f"-> {finding.next_step}", width, indent="   ", hang="      ")


def _planes(review: Review) -> Iterator[tuple[str, Plane]]:
    """Planes that are known, each once, under a name that claims no more than is known."""
    if review.feedpoint is not None and review.planes.feedpoint is review.planes.radio:
        yield "AT THE FEEDPOINT, which is the radio", review.feedpoint
        return
    if review.radio is not None:
        name = "AT THE RADIO" if review.planes.measured_at != "unknown" else "WHERE IT WAS MEASURED"
        yield name, review.radio
    if review.feedpoint is not None:
        yield "AT THE FEEDPOINT", review.feedpoint


def _plane(name: str, plane: Plane, width: int) -> Iterator[str]:
    yield name
    if not plane.dips:
        yield from _wrapped("no dip inside the sweep", width, indent="  ")
    for number, dip in enumerate(plane.dips[:SHOWN_DIPS]):
        yield from _dip(dip, width)
        for bandwidth in plane.swr_bandwidths:
            if bandwidth.dip == number:
                yield from _width(bandwidth, width)
    if len(plane.dips) > SHOWN_DIPS:
        yield f"  and {len(plane.dips) - SHOWN_DIPS} shallower dips"
    for resonance in plane.resonances:
        if resonance.f_hz.value is not None and resonance.r_ohm.value is not None:
            f_mhz = _with_interval(resonance.f_hz.scaled(1e-6), ".3f")
            q = "" if resonance.q.value is None else f", Q {resonance.q.value:.3g}"
            text = f"X = 0 at {f_mhz} MHz, {resonance.kind}, R {resonance.r_ohm.value:.3g} ohm{q}"
            yield from _wrapped(text, width, indent="  ", hang="    ")


def _dip(dip: DipFigures, width: int) -> Iterator[str]:
    text = f"dip {_with_interval(dip.f_hz.scaled(1e-6), '.3f')} MHz, SWR {_swr_text(dip.swr)}"
    yield from _wrapped(text, width, indent="  ", hang="    ")
    if dip.r_ohm.value is not None and dip.x_ohm.value is not None:
        sign = "+" if dip.x_ohm.value >= 0 else "-"
        yield f"    {dip.r_ohm.value:.1f} {sign} j{abs(dip.x_ohm.value):.1f} ohm"


def _width(bandwidth: SwrBandwidth, width: int) -> Iterator[str]:
    """Nothing where the dip is too shallow for the limit, which its SWR already says."""
    low_hz, high_hz, across_hz = bandwidth.low_hz, bandwidth.high_hz, bandwidth.bandwidth_hz
    if low_hz.value is None and high_hz.value is None:
        return
    ends = " to ".join("?" if end.value is None else f"{end.value / 1e6:.3f}" for end in (low_hz, high_hz))
    text = f"within SWR {bandwidth.limit_swr:g}: {ends} MHz"
    if across_hz.value is not None:
        text += f", {across_hz.value / 1e3:.0f} kHz"
    yield from _wrapped(text, width, indent="    ", hang="      ")


def _assumed(assumptions: tuple[str, ...], width: int) -> Iterator[str]:
    if assumptions:
        yield from _wrapped(
            "Assumed: " + "; ".join(assumptions) + ". Tell yours with --kit.", width, hang="  "
        )


def _caution(review: Review, width: int) -> Iterator[str]:
    if any(band.verdict in ("direct", "tuner") for band in review.bands):
        yield from _wrapped(IN_SHORT, width, hang="  ")


def _swr_text(swr: Figure) -> str:
    """``1.52 (1.49 to 1.55)``, without digits that mean nothing."""
    if swr.value is None or swr.high is None or swr.high <= HIGHEST_SWR:
        return _with_interval(swr, ".2f")
    return f"above {min(swr.low or 1.0, HIGHEST_SWR):.0f}"


def _with_interval(figure: Figure, form: str) -> str:
    """``1.52 (1.49 to 1.55)``."""
    if figure.value is None:
        return "?"
    value = format(figure.value, form)
    if figure.low is None or figure.high is None:
        return value
    return f"{value} ({format(figure.low, form)} to {format(figure.high, form)})"


def _wrapped(text: str, width: int, *, indent: str = "", hang: str | None = None) -> list[str]:
    later = indent if hang is None else hang
    return textwrap.wrap(text, width, initial_indent=indent, subsequent_indent=later, break_on_hyphens=False)


def _shortened(text: str, width: int) -> str:
    """The end of a long path, which tells more than its beginning."""
    printable = "".join(c if c.isprintable() else "?" for c in text)
    return printable if len(printable) <= width else "..." + printable[3 - width :]
