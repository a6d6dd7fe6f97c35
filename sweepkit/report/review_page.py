"""A review as a page: verdict on each band, figures, pictures, findings, cautions, provenance."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

from sweepkit.cautions import BEFORE_SWEEPING, BEFORE_TRANSMITTING, IN_SHORT, POWER_OFF
from sweepkit.conversions import FloatArray
from sweepkit.figures import Figure
from sweepkit.findings import Finding
from sweepkit.kit import Kit
from sweepkit.report.headline import (
    ForTrim,
    band_word,
    bare_end,
    can_be_used,
    ranges_text,
    rank,
    spoils_the_answer,
    trim_command,
)
from sweepkit.report.page import (
    Page,
    Picture,
    Row,
    Table,
    Tone,
    Verdict,
    figure_row,
    file_title,
    sentence,
    stop_verdicts,
    with_feet,
)
from sweepkit.report.provenance import Made, list_provenance
from sweepkit.reviews import Review
from sweepkit.reviews.bands import BandFigures
from sweepkit.reviews.plane import DipFigures, Plane, ResonanceFigures, SwrBandwidth
from sweepkit.reviews.review import Repeatability

FAR_OFF_SWR = 10.0  # a band that never comes below it has no table
FAR_OFF = {"swr": f"SWR above {FAR_OFF_SWR:g}", "reach": "Outside what the tuner matches"}  # by what fails
FEWEST_POINTS = 7  # fewer show no dip: common practice, no source
NO_BAND = (
    "no band asked for lies inside the sweep; sweep a span with a band in it, or name a table with --bands"
)
HF_HZ = (1e6, 1e9)  # no sweep of an antenna that this is for lies wholly outside
ELSEWHERE = "the file was read as {} to {} MHz; if that is not what was swept, --unit says what its frequencies are in"
TOO_FEW = "{} points show no dip and no band; sweep again with 101 or more over the band"
SHOWN_DIPS = 6
SHOWN_FIRST = 2  # dips in the short text
HIGHEST_SWR = 100.0  # beyond it digits mean nothing
SIGNS = {"direct": "✓", "tuner": "~", "no": "✗", "unknown": "?"}
TONES: dict[str, Tone] = {"direct": "good", "tuner": "fair", "no": "bad", "unknown": "unknown"}
LEAVES = "leaves the coax"  # never "reaches the antenna": box, coil and ground come after
UNTOLD_PLACE = "Where it was measured (--line or --measured-at tells more)"
# Notes that are shown with the answer: on what --antenna or --line asked, and on what the file lacks.
ANSWERING = ("nothing-wrong-since", "inside-usual", "no-phase", "hole-in-grid")
SAID_BY_THE_SWEEP_TO_TAKE = ("too-coarse", "dip-at-edge", "span-too-narrow")


def review_page(
    review: Review,
    *,
    made: Made | None = None,
    assumed: tuple[str, ...] = (),
    assumed_in_short: str = "",
    told: Sequence[str] = (),
    antenna: ForTrim | None = None,
    kit: Kit | None = None,
    pictures: bool = True,
    imperial: bool = False,
    number: int = 1,
) -> Page:
    """The page of one review; without ``made`` it does not say where it comes from.

    ``told`` are options that hold for the next command too, ``antenna`` is what kit or logbook know of it; ``kit``
    serves for what it would take with the dip elsewhere. Text and a page for a notebook do without ``pictures``;
    ``number``, of the page among several, keeps their names apart.
    """
    if imperial:
        review = replace(review, findings=tuple(map(with_feet, review.findings)))
    findings = [finding for finding in review.findings if finding is not bare_end(review)[0]]
    return Page(
        title=_title(review),
        subtitle=subtitle(review),
        verdicts=tuple(_answers(review, _of_watts(kit), imperial=imperial)),
        command=trim_command(review, told=told, antenna=antenna),
        tables=tuple(_tables(review)),
        pictures=tuple(_pictures(review, kit or Kit(), number)) if pictures else (),
        readouts=tuple(readouts(review)) if pictures else (),
        findings=tuple(
            sorted(
                (finding for finding in findings if not _is_more(finding, review)),
                key=lambda finding: finding.level == "note",
            )
        ),
        more_findings=tuple(finding for finding in findings if _is_more(finding, review)),
        cautions=(IN_SHORT, *BEFORE_TRANSMITTING, POWER_OFF, *BEFORE_SWEEPING),
        cautions_in_short=IN_SHORT if can_be_used(review) else "",
        assumed=assumed,
        assumed_in_short=assumed_in_short,
        provenance=list_provenance(review.sweeps or (review.sweep,), made) if made else (),
    )


def _is_more(finding: Finding, review: Review) -> bool:
    """What the verdicts say already, and what is merely good to know."""
    said = finding.code in SAID_BY_THE_SWEEP_TO_TAKE and not review.adequate
    said = said or (finding.code == "wrong-plane" and any(other.level == "stop" for other in review.findings))
    return said or (finding.level != "warning" and finding.code not in ANSWERING)


def _pictures(review: Review, kit: Kit, number: int) -> Iterator[Picture]:
    """Of one sweep, of each sweep of a setup, or of repeats and their mean."""
    from sweepkit.report.review_pictures import repeats_picture, review_pictures, what_it_would_take

    if review.repeatability is not None:
        yield repeats_picture(review, prefix=f"p{number}")
    for k, part in enumerate(review.parts or (review,)):
        swr, *more = review_pictures(part, prefix=f"p{number}-{k + 1}", readout=k, named=bool(review.parts))
        yield swr
        yield from what_it_would_take(review, kit, prefix=f"p{number}")
        yield from more


def readouts(review: Review) -> Iterator[Mapping[str, Any]]:
    """What follows the pointer on the pictures of each sweep."""
    from sweepkit.report.review_pictures import review_readout

    yield from (review_readout(part) for part in review.parts or (review,))


def _title(review: Review) -> str:
    """The file, and how many more one answer rests on."""
    more = f" and {len(review.sweeps) - 1} more" if len(review.sweeps) > 1 else ""
    return file_title(review.sweep.source.path) + more


def _count(review: Review) -> str:
    of = "sweeps of one setup" if review.parts else "repeats"
    return f"{len(review.sweeps)} {of}"


def subtitle(review: Review) -> str:
    """What was swept, and where it was measured."""
    sweep = review.sweep
    place = {"radio": "at the radio", "feedpoint": "at the feedpoint", "unknown": "place not told"}[
        review.planes.measured_at
    ]
    several = f"{_count(review)}; the first: " if len(review.sweeps) > 1 else ""
    phase = "" if sweep.phase == "signed" else "; no phase in the file, so no impedance"
    span = f"{sweep.f_hz[0] / 1e6:.3f} to {sweep.f_hz[-1] / 1e6:.3f} MHz"
    return f"{several}{span}, {sweep.f_hz.size} points, {place}{phase}"


def _answers(review: Review, of_watts: str, *, imperial: bool) -> Iterator[Verdict]:
    """What forbids everything, then the bands; the sweep to take before them where this one spoils the answer."""
    end, word = bare_end(review, imperial=imperial)
    if end is not None:
        yield Verdict("✗", "", word, (sentence(end.text), sentence(end.next_step)), "bad")
    yield from stop_verdicts([finding for finding in review.findings if finding is not end])
    spoilt = spoils_the_answer(review)
    again = [] if review.adequate else [_again(review)]
    yield from again if spoilt else ()
    yield from _verdicts(review.bands, why_not="" if end is not None else None, of_watts=of_watts)
    if not review.bands:
        yield Verdict("?", "", "NO BAND", (_why_no_band(review.sweep.f_hz),), "unknown")
    yield from () if spoilt else again


def _why_no_band(f_hz: FloatArray) -> str:
    if f_hz.size < FEWEST_POINTS:
        return TOO_FEW.format(f_hz.size)
    if f_hz[-1] < HF_HZ[0] or f_hz[0] > HF_HZ[1]:
        return ELSEWHERE.format(f"{f_hz[0] / 1e6:g}", f"{f_hz[-1] / 1e6:g}")
    return NO_BAND


def _again(review: Review) -> Verdict:
    wanted = tuple(
        f"{sweep.start_hz / 1e6:g} to {sweep.stop_hz / 1e6:g} MHz with {sweep.points} points"
        for sweep in review.next_sweeps
    )
    return Verdict("!", "", "SWEEP AGAIN", wanted or ("this one was too poor",), "unknown")


def _verdicts(
    bands: Sequence[BandFigures], *, why_not: str | None = None, of_watts: str = ""
) -> Iterator[Verdict]:
    """Best first; bands with the same answer for the same reason share one. ``why_not`` is why any is "no"."""
    groups: dict[tuple[str, str], list[BandFigures]] = {}
    for band in sorted(bands, key=rank):
        why = FAR_OFF.get(band.fails_on, band.why) if is_far_off(band) else band.why
        why = why_not if band.verdict == "no" and why_not is not None else why
        groups.setdefault((band_word(band), why), []).append(band)
    for (word, why), group in groups.items():
        names = ", ".join(band.name for band in sorted(group, key=lambda band: band.low_hz))
        rest = _rest(group[0], of_watts) if len(group) == 1 else ""
        verdict = group[0].verdict
        said = " ".join(filter(None, (why, rest)))
        yield Verdict(SIGNS[verdict], names, word, (said,) if said else (), TONES[verdict])


def _of_watts(kit: Kit | None) -> str:
    """Of how many watts, where the radio's were not told."""
    return "" if kit is None or "radio.power_w" in kit.given else f" of {kit.radio.power_w:g} W"


def _rest(band: BandFigures, of_watts: str) -> str:
    """What the tuner does for the rest of a band that is direct in part, "no" is what remains; and the watts."""
    ranges = ranges_text("tuner", band) if band.verdict == "direct" else ""
    tuned = f"Tuner needed from {ranges} MHz." if ranges else ""
    watts = band.power_to_antenna_w.value
    leaves = "" if watts is None else f"{LEAVES.capitalize()}: {watts:.3g} W{of_watts}."
    return " ".join(filter(None, (tuned, leaves)))


def is_far_off(band: BandFigures) -> bool:
    """A band whose figures are not worth a table."""
    low = band.best_swr.low if band.best_swr.low is not None else band.best_swr.value
    return band.verdict in ("no", "unknown") and low is not None and low > FAR_OFF_SWR


def _tables(review: Review) -> Iterator[Table]:
    if review.repeatability is not None:
        yield Table("How well it repeats", tuple(_repeat_rows(review.repeatability)))
    planes = list(_planes(review))
    spoilt = bool(review.bands) and spoils_the_answer(review)
    shows_antenna = review.feedpoint is not None and bare_end(review)[0] is None
    matters = review.feedpoint if shows_antenna else planes[0][1]
    for name, plane in planes:
        yield Table(name, tuple(_plane_rows(plane, review)), more=spoilt or plane is not matters)
    for band in review.bands:
        if not is_far_off(band):
            yield Table(f"Band {band.name}", tuple(_band_rows(band, review.limit_swr)), more=True)


def _repeat_rows(measured: Repeatability) -> Iterator[Row]:
    """Standard deviations of what each repeat alone says of the deepest dip."""
    yield Row("repeats", str(measured.repeats), "")
    if measured.dip_hz_sd is None or measured.dip_swr_sd is None:
        yield Row("dip of each repeat", "no answer", "a repeat has no dip")
        return
    yield Row("standard deviation of the dip", f"{measured.dip_hz_sd / 1e3:.3g} kHz", "")
    yield Row("standard deviation of its SWR", f"{measured.dip_swr_sd:.2g}", "")


def _planes(review: Review) -> Iterator[tuple[str, Plane]]:
    """Planes that are known, under names that claim no more than is known."""
    if review.feedpoint is not None and review.planes.feedpoint is review.planes.radio:
        yield "At the feedpoint, which is the radio", review.feedpoint
        return
    if review.radio is not None:
        yield ((UNTOLD_PLACE if review.planes.measured_at == "unknown" else "At the radio"), review.radio)
    if review.feedpoint is not None:
        yield "At the feedpoint", review.feedpoint


def _plane_rows(plane: Plane, review: Review) -> Iterator[Row]:
    """Of the dips that the bands ask for, place, SWR and width come first; all else is *more*."""
    if not plane.dips:
        yield Row("dip", "no answer", "no dip inside the sweep")
    asked = _asked_dips(plane, review.bands)
    for number, dip in enumerate(plane.dips[:SHOWN_DIPS]):
        first, more = _dip_rows(dip)
        widths = [width for width in plane.swr_bandwidths if width.dip == number]
        at_limit = [
            row for width in widths if width.limit_swr == review.limit_swr for row in _brief_width(width)
        ]
        others = [row for width in widths for row in _width_rows(width) if row not in at_limit]
        is_first = number in asked
        yield from (replace(row, more=not is_first) for row in (*first, *at_limit))
        yield from (replace(row, more=True) for row in (*more, *others))
    yield from _other_dips(
        [dip.f_hz.value for k, dip in enumerate(plane.dips[:SHOWN_DIPS]) if k not in asked]
    )
    for resonance in plane.resonances:
        yield from (replace(row, more=True) for row in _resonance_rows(resonance))


def _other_dips(f_hz: Sequence[float | None]) -> Iterator[Row]:
    """Where the dips are whose figures are *more*, lowest first."""
    known = sorted(each for each in f_hz if each is not None)
    if known:
        yield Row("other dips", f"{', '.join(f'{each / 1e6:.3f}' for each in known)} MHz", "")


def _asked_dips(plane: Plane, bands: Sequence[BandFigures]) -> set[int]:
    """The dip nearest each band that can be used or nearly so, at most two; the deepest where none is asked for."""
    places = [(number, dip.f_hz.value) for number, dip in enumerate(plane.dips[:SHOWN_DIPS])]
    known = [(number, f_hz) for number, f_hz in places if f_hz is not None]
    asked: list[int] = []
    for band in sorted(bands, key=rank):
        if known and not is_far_off(band):
            middle_hz = (band.low_hz + band.high_hz) / 2
            asked.append(min(known, key=lambda dip: abs(dip[1] - middle_hz))[0])
    return set(list(dict.fromkeys(asked))[:SHOWN_FIRST]) or {0}


def _dip_rows(dip: DipFigures) -> tuple[list[Row], list[Row]]:
    first = [figure_row("dip", dip.f_hz, "MHz", ".3f", scale=1e-6), swr_row("SWR there", dip.swr)]
    more = [figure_row("return loss there", dip.return_loss_db, "dB", ".1f")]
    if dip.r_ohm.value is not None:
        more.append(figure_row("R there", dip.r_ohm, "ohm", ".1f"))
        more.append(figure_row("X there", dip.x_ohm, "ohm", ".1f"))
    return first, more


def _brief_width(width: SwrBandwidth) -> list[Row]:
    """The width, or the one end of it that was swept."""
    rows = list(_width_rows(width))
    return [row for row in rows if row.name.endswith("bandwidth")] or [
        row for row in rows if row.value != "no answer"
    ]


def _width_rows(width: SwrBandwidth) -> Iterator[Row]:
    """Nothing where the dip is too shallow for the limit, which its SWR already says."""
    if width.low_hz.value is None and width.high_hz.value is None:
        return
    limit = f"SWR {width.limit_swr:g}"
    yield figure_row(f"{limit} from", width.low_hz, "MHz", ".3f", scale=1e-6)
    yield figure_row(f"{limit} to", width.high_hz, "MHz", ".3f", scale=1e-6)
    if width.bandwidth_hz.value is not None:
        yield figure_row(f"{limit} bandwidth", width.bandwidth_hz, "kHz", ".0f", scale=1e-3)


def _resonance_rows(resonance: ResonanceFigures) -> Iterator[Row]:
    yield figure_row(f"X = 0, {resonance.kind}", resonance.f_hz, "MHz", ".3f", scale=1e-6)
    yield figure_row("R there", resonance.r_ohm, "ohm", ".1f")
    yield figure_row("Q there", resonance.q, "", ".3g")


def _band_rows(band: BandFigures, limit_swr: float) -> Iterator[Row]:
    if band.covered < 1:
        yield Row("swept", f"{band.covered:.0%}", "of the band")
    yield swr_row("best SWR", band.best_swr)
    yield figure_row("at", band.best_hz, "MHz", ".3f", scale=1e-6)
    yield swr_row("SWR at the low edge", band.swr_at_low_edge)
    yield swr_row("SWR at the high edge", band.swr_at_high_edge)
    yield figure_row(f"share within SWR {limit_swr:g}", band.share_within_limit, "%", ".0f", scale=100)
    if band.line_loss_db.value is not None:
        yield figure_row("lost in the line", band.line_loss_db, "dB", ".2f")
    yield from _power_rows(band)


LOST_IN = {
    "radio": "held back by the radio",
    "tuner": "lost in the tuner",
    "line": "lost in the line, where it is used",
    "box": "lost in transformer or choke",
    "coil": "lost in the coil",
    "ground": "lost in ground and all else",
}


def _power_rows(band: BandFigures) -> Iterator[Row]:
    """The ledger: what each part takes, the watts between coax and antenna where they are known."""
    beyond = False
    for loss in band.power:
        is_beyond = loss.where in ("box", "coil", "ground")
        if is_beyond and not beyond:
            yield from _watts_row(band)
        beyond = beyond or is_beyond
        row = figure_row(LOST_IN[loss.where], loss.loss_db, "dB", ".2f")
        usual = "" if loss.told or loss.loss_db.value is None else "not told, by usual values"
        yield replace(row, interval=", ".join(filter(None, (row.interval, usual))))
    if not beyond:
        yield from _watts_row(band)


def _watts_row(band: BandFigures) -> Iterator[Row]:
    if band.power_to_antenna_w.value is not None:
        yield figure_row(LEAVES, band.power_to_antenna_w, "W", ".3g")


def swr_row(name: str, swr: Figure) -> Row:
    """An SWR as a row, without digits that mean nothing."""
    top = swr.high if swr.high is not None else swr.value
    if top is None or top <= HIGHEST_SWR:
        return figure_row(name, swr, "", ".2f")
    low = swr.low if swr.low is not None else swr.value
    return Row(name, f"above {min(low or 1.0, HIGHEST_SWR):.0f}", "")
