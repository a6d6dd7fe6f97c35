"""The first words of a review, for page, text and card alike, and the command that goes on from it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from sweepkit.antennas.catalogue import OF_DIPOLES
from sweepkit.antennas.usual_dip import SERVES_SWR
from sweepkit.findings import Finding
from sweepkit.quantities import FOOT_M, frequency_text, length_text
from sweepkit.report.page import Command
from sweepkit.reviews import Review
from sweepkit.reviews.bands import BandFigures
from sweepkit.reviews.no_half_wave import half_wave_hz
from sweepkit.reviews.plane import Plane
from sweepkit.station.point_verdicts import Verdict
from sweepkit.station.segments import Segment

DIRECT_SHARE = 0.95  # of a band from which it is called direct without "partly"; docs/review.md
RANGES = 3  # named in a headline; more are counted
WORDS = {"direct": "DIRECT", "tuner": "TUNER", "no": "NO", "unknown": "CANNOT SAY"}
RANK: tuple[Verdict, ...] = ("direct", "tuner", "unknown", "no")
PARTLY = "PARTLY DIRECT"
BARE_ENDS = {"open-line": "open", "shorted-line": "shorted"}


def is_partly(band: BandFigures) -> bool:
    """Whether a band that can be used directly can be so in part only, or was swept in part only."""
    if band.verdict != "direct":
        return False
    direct_hz = sum(part.width_hz for part in band.segments if part.verdict == "direct")
    share = band.share_within_limit.value
    shares = [direct_hz / (band.high_hz - band.low_hz)] + ([] if share is None else [share * band.covered])
    return min(shares) < DIRECT_SHARE


def parts_with(verdict: str, band: BandFigures) -> list[Segment]:
    """Parts of a band with a verdict, widest first."""
    return sorted(
        (part for part in band.segments if part.verdict == verdict), key=lambda part: -part.width_hz
    )


def ranges_text(verdict: str, band: BandFigures) -> str:
    """``7.056 to 7.156``: the widest parts with a verdict in MHz, rising; beyond three they are counted."""
    found = parts_with(verdict, band)
    shown = sorted(found[:RANGES], key=lambda part: part.low_hz)
    texts = [_range(part.low_hz / 1e6, part.high_hz / 1e6) for part in shown]
    return ", ".join(texts) + (f" and {len(found) - RANGES} more" if len(found) > RANGES else "")


def _range(low_mhz: float, high_mhz: float) -> str:
    low, high = f"{low_mhz:.3f}", f"{high_mhz:.3f}"
    return f"{low} to {high}" if low != high else f"at {low}"


def bare_end_text(code: str, distance_m: float | None, *, imperial: bool = False) -> str:
    """``the line is open 12.8 m away``; empty for another finding."""
    if code not in BARE_ENDS or distance_m is None:
        return ""
    feet = f" ({distance_m / FOOT_M:.0f} ft)" if imperial else ""
    away = f"{distance_m:.1f} m{feet}" if distance_m >= 1 else length_text(distance_m, imperial=imperial)
    return f"the line is {BARE_ENDS[code]} {away} away"


def bare_end(review: Review, *, imperial: bool = False) -> tuple[Finding | None, str]:
    """The finding that the line ends bare, where it is certain or no band can be used anyway, and its answer."""
    for finding in review.findings:
        away_m = None if finding.distance_m is None else finding.distance_m.value
        text = bare_end_text(finding.code, away_m, imperial=imperial)
        if text and (finding.level == "stop" or not can_be_used(review)):
            return finding, f"NO: {text}"
    return None, ""


def can_be_used(review: Review) -> bool:
    """Whether any band can, with a tuner or without."""
    return any(band.verdict in ("direct", "tuner") for band in review.bands)


def spoils_the_answer(review: Review) -> bool:
    """Whether a poor sweep comes before the bands: where it leaves nothing that can be used, or nothing known."""
    if review.adequate or can_be_used(review):
        return False
    return not review.bands or any(band.verdict == "unknown" for band in review.bands)


def rank(band: BandFigures) -> tuple[int, bool, float]:
    """Sorts bands: best verdict first, what is partly so after what is all so, then rising frequency."""
    return RANK.index(band.verdict), is_partly(band), band.low_hz


def band_word(band: BandFigures) -> str:
    """What the operator may do there."""
    return f"{PARTLY} {ranges_text('direct', band)}".strip() if is_partly(band) else WORDS[band.verdict]


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
    tuned = ranges_text("tuner", band) if band.verdict in ("direct", "tuner") else ""
    watts = band.power_to_antenna_w.value
    parts = [band_word(band), f"with the tuner {tuned} MHz" if tuned else ""]
    return ", ".join(filter(None, (*parts, "" if watts is None else f"{watts:.3g} W leave the coax")))


SECOND_HALF_WAVE = 0.08  # a second half wave lies so near twice the first: 2.00 to 2.07 times; our choice
FARTHEST = 0.12  # a dip farther from the middle of a band, over it, is no matter of trimming; trims reach 0.88 to 1.10


@dataclass(frozen=True)
class ForTrim:
    """An antenna that kit or logbook know, for the command that comes next.

    ``name`` is empty where its lengths are not known, ``places`` are the bands that it is told to serve, and
    ``is_planned`` says that trim knows them by itself.
    """

    name: str = ""
    kind: str = ""
    places: tuple[str, ...] = ()
    is_planned: bool = False
    length_m: float | None = None


def trim_command(
    review: Review, *, told: Sequence[str] = (), antenna: ForTrim | None = None
) -> Command | None:
    """``sweepkit trim`` where a dip lies beside a band that is not all direct; the lowest such band.

    ``told`` are options that hold for the next command too. An antenna that serves several bands is trimmed for all of
    them, a random wire for none: its dips are where it has them, and a tuner does the rest.
    """
    named = antenna or ForTrim()
    doubted = any(finding.code in (*BARE_ENDS, "wrong-plane") for finding in review.findings)
    if review.sweeps or not review.adequate or doubted or named.kind == "random-wire":
        return None
    plane = review.feedpoint or review.main_plane
    places_hz = [dip.f_hz.value for dip in plane.dips if dip.f_hz.value is not None]
    contradicted_hz = _missing_half_wave_hz(review, named, places_hz)
    if contradicted_hz is not None:
        why = f"No dip near {frequency_text(contradicted_hz)}, the half wave of {length_text(named.length_m or 0)}"
        ask = ("--target", frequency_text(contradicted_hz), *told)
        file = review.sweep.source.path or "FILE"
        return Command(
            f"{why}: is that its length?", ("sweepkit", "trim", file, "--antenna", named.name, *ask)
        )
    halves = [] if named.name or named.kind else _half_waves_hz(plane)
    served = _served(review, replace(named, kind="end-fed") if halves else named, halves or places_hz)
    for band in served:
        beside_hz = _dip_beside_hz(band, places_hz)
        if beside_hz is None:
            continue
        middle_hz = (band.low_hz + band.high_hz) / 2
        side, length = ("below", "long") if beside_hz < middle_hz else ("above", "short")
        why = f"Dip {abs(beside_hz - middle_hz) / 1e3:.0f} kHz {side} the middle of {band.name}"
        is_for_all = (bool(halves) or _is_of_several(named)) and (len(served) > 1 or named.kind in OF_DIPOLES)
        aim: tuple[str, ...] = ("--target", frequency_text(middle_hz))
        if is_for_all:
            aim = () if named.is_planned else tuple(word for one in served for word in ("--band", one.name))
        why += "; trim weighs all its bands." if is_for_all else f": too {length}."
        known = ("--antenna", named.name) if named.name else ("--kind", "KIND", "--length", "LEN")
        file = review.sweep.source.path or "FILE"
        return Command(why, ("sweepkit", "trim", file, *known, *aim, *told))
    return None


def _missing_half_wave_hz(review: Review, named: ForTrim, dips_hz: Sequence[float]) -> float | None:
    """Where an end-fed of the told length must dip, if that was swept and no dip is near."""
    if named.kind != "end-fed" or not named.length_m or not named.name:
        return None
    own_hz, f_hz = half_wave_hz(named.length_m), review.sweep.f_hz
    is_swept = f_hz[0] < own_hz * (1 - FARTHEST) and own_hz * (1 + FARTHEST) < f_hz[-1]
    is_there = any(abs(dip_hz / own_hz - 1) <= 2 * FARTHEST for dip_hz in dips_hz)
    return own_hz if is_swept and not is_there else None


def _half_waves_hz(plane: Plane) -> list[float]:
    """Dips of a wire that nobody told the kind of, where one lies at about twice another: it serves several bands."""
    deep_hz = [
        dip.f_hz.value
        for dip in plane.dips
        if dip.f_hz.value is not None and (dip.swr.value or math.inf) <= SERVES_SWR
    ]
    is_one = any(abs(other / f_hz / 2 - 1) <= SECOND_HALF_WAVE for f_hz in deep_hz for other in deep_hz)
    return deep_hz if is_one else []


def _is_of_several(named: ForTrim) -> bool:
    """Whether it is told to serve several bands, or of a kind that does."""
    return len(named.places) > 1 or named.kind in (*OF_DIPOLES, "end-fed")


def _served(review: Review, named: ForTrim, dips_hz: Sequence[float]) -> list[BandFigures]:
    """The bands that a trim may be for, lowest first.

    Those told; of an end-fed without any the one at its lowest dip, and with it what it serves without a tuner: other
    half waves of the wire lie beside bands for which nobody put it up.
    """
    bands = sorted(review.bands, key=lambda band: band.low_hz)
    if named.places or named.kind in OF_DIPOLES:
        names = {"".join(place.split()).lower() for place in named.places}
        return [band for band in bands if "".join(band.name.split()).lower() in names]
    if named.kind != "end-fed" or not dips_hz:
        return bands
    lowest = [band for band in bands if _is_near(band, min(dips_hz))]
    return [band for band in bands if band.verdict == "direct" or band in lowest] if lowest else []


def _is_near(band: BandFigures, f_hz: float) -> bool:
    return abs(2 * f_hz / (band.low_hz + band.high_hz) - 1) <= FARTHEST


def _dip_beside_hz(band: BandFigures, places_hz: Sequence[float]) -> float | None:
    """The nearest dip, where it lies outside the band and within reach of a trim."""
    middle_hz = (band.low_hz + band.high_hz) / 2
    if band.best_swr.value is None or not places_hz:
        return None
    nearest_hz = min(places_hz, key=lambda f_hz: abs(f_hz - middle_hz))
    if band.low_hz <= nearest_hz <= band.high_hz or abs(nearest_hz / middle_hz - 1) > FARTHEST:
        return None
    is_all_direct = {segment.verdict for segment in band.segments} == {"direct"}
    return None if is_all_direct else nearest_hz
