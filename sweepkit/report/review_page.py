"""A review as a page: verdict on each band, figures, pictures, findings, cautions, provenance."""

from __future__ import annotations

from collections.abc import Iterator

from sweepkit.cautions import BEFORE_TRANSMITTING, IN_SHORT, POWER_OFF
from sweepkit.figures import Figure
from sweepkit.report.page import (
    Page,
    Picture,
    Row,
    Table,
    Tone,
    Verdict,
    figure_row,
    file_title,
    stop_verdicts,
)
from sweepkit.report.provenance import Made, list_provenance
from sweepkit.report.review_pictures import repeats_picture, review_pictures, review_readout
from sweepkit.reviews import Review
from sweepkit.reviews.bands import BandFigures
from sweepkit.reviews.plane import DipFigures, Plane, ResonanceFigures, SwrBandwidth
from sweepkit.reviews.repeatability import Repeatability

FAR_OFF_SWR = 10.0  # a band that never comes below it has no table
SHOWN_DIPS = 6
HIGHEST_SWR = 100.0  # beyond it digits mean nothing
SIGNS = {"direct": "✓", "tuner": "~", "no": "✗", "unknown": "?"}
WORDS = {"direct": "DIRECT", "tuner": "TUNER", "no": "NO", "unknown": "CANNOT SAY"}
TONES: dict[str, Tone] = {"direct": "good", "tuner": "fair", "no": "bad", "unknown": "unknown"}
RANK = ("direct", "tuner", "unknown", "no")


def review_page(
    review: Review,
    *,
    made: Made | None = None,
    assumed: tuple[str, ...] = (),
    pictures: bool = True,
    number: int = 1,
) -> Page:
    """The page of one review.

    Parameters
    ----------
    review : Review
        A reviewed sweep.
    made : Made, optional
        How it came about.
    assumed : tuple of str
        What stands in for what the operator has not told.
    pictures : bool
        With pictures and their readout; a page for a notebook does without.
    number : int
        Of the page among several; keeps the names of their pictures apart.
    """
    sweep = review.sweep
    return Page(
        title=_title(review),
        subtitle=subtitle(review),
        verdicts=(
            *stop_verdicts(review.findings),
            *_again(review),
            *_verdicts(review.bands),
            *_no_band(review),
        ),
        tables=tuple(_tables(review)),
        pictures=tuple(_pictures(review, number)) if pictures else (),
        readouts=tuple(review_readout(part) for part in review.parts or (review,)) if pictures else (),
        findings=review.findings,
        cautions=(IN_SHORT, *BEFORE_TRANSMITTING, POWER_OFF),
        assumed=assumed,
        provenance=list_provenance(review.sweeps or (sweep,), made or Made()),
    )


def _pictures(review: Review, number: int) -> Iterator[Picture]:
    """Of one sweep, of each sweep of a setup, or of repeats and their mean."""
    if review.repeatability is not None:
        yield repeats_picture(review, prefix=f"p{number}")
    for k, part in enumerate(review.parts or (review,)):
        yield from review_pictures(part, prefix=f"p{number}-{k + 1}", readout=k, named=bool(review.parts))


def _title(review: Review) -> str:
    """The file, and how many more one answer rests on."""
    more = f" and {len(review.sweeps) - 1} more" if len(review.sweeps) > 1 else ""
    return file_title(review.sweep.source.path) + more


def _count(review: Review) -> str:
    of = "sweeps of one setup" if review.parts else "repeats"
    return f"{len(review.sweeps)} {of}"


def subtitle(review: Review) -> str:
    """What was swept, and where it was measured.

    Parameters
    ----------
    review : Review
        A reviewed sweep.
    """
    sweep = review.sweep
    place = {
        "radio": "measured at the radio",
        "feedpoint": "measured at the feedpoint",
        "unknown": "where it was measured was not told",
    }[review.planes.measured_at]
    several = f"{_count(review)}; the first: " if len(review.sweeps) > 1 else ""
    phase = "" if sweep.phase == "signed" else "; no phase in the file, so no impedance"
    span = f"{sweep.f_hz[0] / 1e6:.3f} to {sweep.f_hz[-1] / 1e6:.3f} MHz"
    return f"{several}{span}, {sweep.f_hz.size} points, {place}{phase}"


def _again(review: Review) -> list[Verdict]:
    """First of all, where the sweep was not good enough."""
    if review.adequate:
        return []
    wanted = tuple(
        f"{sweep.start_hz / 1e6:g} to {sweep.stop_hz / 1e6:g} MHz with {sweep.points} points"
        for sweep in review.next_sweeps
    )
    return [Verdict("!", "", "SWEEP AGAIN", wanted or ("this one was too poor",), "unknown")]


def _no_band(review: Review) -> list[Verdict]:
    if review.bands:
        return []
    return [Verdict("?", "", "NO BAND", ("the sweep touches no amateur band of the table",), "unknown")]


def _rank(band: BandFigures) -> tuple[int, float]:
    return RANK.index(band.verdict), band.best_swr.value if band.best_swr.value is not None else float("inf")


def _verdicts(bands: tuple[BandFigures, ...]) -> Iterator[Verdict]:
    """Best first; bands with the same answer for the same reason share one."""
    groups: dict[tuple[str, str], list[BandFigures]] = {}
    for band in sorted(bands, key=_rank):
        why = f"SWR above {FAR_OFF_SWR:g}" if band.verdict == "no" and _is_far_off(band) else band.why
        groups.setdefault((band.verdict, why), []).append(band)
    for (verdict, why), group in groups.items():
        names = ", ".join(band.name for band in sorted(group, key=lambda band: band.low_hz))
        parts = _segments(group[0]) if len(group) == 1 else []
        yield Verdict(SIGNS[verdict], names, WORDS[verdict], (why, *parts), TONES[verdict])


def _is_far_off(band: BandFigures) -> bool:
    """A band whose figures are not worth a table."""
    low = band.best_swr.low if band.best_swr.low is not None else band.best_swr.value
    return band.verdict in ("no", "unknown") and low is not None and low > FAR_OFF_SWR


def _segments(band: BandFigures) -> list[str]:
    if len(band.segments) == 1 and band.covered >= 1:
        return []
    return [
        f"{part.low_hz / 1e6:.3f} to {part.high_hz / 1e6:.3f} MHz: {WORDS[part.verdict].lower()}"
        for part in band.segments
    ]


def _tables(review: Review) -> Iterator[Table]:
    if review.repeatability is not None:
        yield Table("How well it repeats", tuple(_repeat_rows(review.repeatability)))
    for name, plane in _planes(review):
        yield Table(name, tuple(_plane_rows(plane)))
    for band in review.bands:
        if not _is_far_off(band):
            yield Table(f"Band {band.name}", tuple(_band_rows(band, review.limit_swr)))


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
        yield (
            ("Where it was measured" if review.planes.measured_at == "unknown" else "At the radio"),
            review.radio,
        )
    if review.feedpoint is not None:
        yield "At the feedpoint", review.feedpoint


def _plane_rows(plane: Plane) -> Iterator[Row]:
    if not plane.dips:
        yield Row("dip", "no answer", "no dip inside the sweep")
    for number, dip in enumerate(plane.dips[:SHOWN_DIPS]):
        yield from _dip_rows(dip)
        for width in plane.swr_bandwidths:
            if width.dip == number:
                yield from _width_rows(width)
    for resonance in plane.resonances:
        yield from _resonance_rows(resonance)


def _dip_rows(dip: DipFigures) -> Iterator[Row]:
    yield figure_row("dip", dip.f_hz, "MHz", ".3f", scale=1e-6)
    yield swr_row("SWR there", dip.swr)
    yield figure_row("return loss there", dip.return_loss_db, "dB", ".1f")
    if dip.r_ohm.value is not None:
        yield figure_row("R there", dip.r_ohm, "ohm", ".1f")
        yield figure_row("X there", dip.x_ohm, "ohm", ".1f")


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
    if band.power_to_antenna_w.value is not None:
        yield figure_row("reaches the antenna", band.power_to_antenna_w, "W", ".3g")


def swr_row(name: str, swr: Figure) -> Row:
    """An SWR as a row, without digits that mean nothing.

    Parameters
    ----------
    name : str
        The quantity.
    swr : Figure
        Its value. [-]
    """
    top = swr.high if swr.high is not None else swr.value
    if top is None or top <= HIGHEST_SWR:
        return figure_row(name, swr, "", ".2f")
    low = swr.low if swr.low is not None else swr.value
    return Row(name, f"above {min(low or 1.0, HIGHEST_SWR):.0f}", "")
