"""Tables: of reviews, a row per sweep with its deepest dip or per band; of a comparison, a row per setup or group."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Mapping
from typing import TYPE_CHECKING, Any, Generic, TypeVar

from sweepkit.figures import Figure
from sweepkit.reviews import Review
from sweepkit.reviews.bands import BandFigures, verdicts_of
from sweepkit.visible import cell

if TYPE_CHECKING:
    from sweepkit.comparison.answer import Comparison

T = TypeVar("T")
Row = Mapping[str, Any]
NO_DIP = Figure.none("no dip")
NO_RESONANCE = Figure.none("no series resonance at the feedpoint belongs to the dip")
OF_USERS = ("path", "bands", "band", "group", "id", "site", "antenna", "when")  # no spreadsheet may run these


class Table(Generic[T]):
    """CSV text with a header; figures take three columns, empty where there is no answer."""

    def __init__(self, rows: Callable[[T], Iterable[Row]]) -> None:
        self._rows = rows
        self._bytes = io.BytesIO()  # a quarter of what text takes
        self._buffer = io.TextIOWrapper(self._bytes, encoding="utf-8", newline="", write_through=True)
        self._writer = csv.writer(self._buffer, lineterminator="\n")
        self._has_header = False

    def add(self, answer: T) -> None:
        """Its rows."""
        for row in self._rows(answer):
            if not self._has_header:
                self._writer.writerow(_header(row))
                self._has_header = True
            self._writer.writerow(_cells(row))

    def text(self) -> str:
        """All rows so far."""
        return self._bytes.getvalue().decode("utf-8")


def review_rows(review: Review) -> list[Row]:
    """One row a review."""
    return [review_row(review)]


def band_rows(review: Review) -> list[Row]:
    """A row for each band."""
    return [band_row(review, band) for band in review.bands]


def review_row(review: Review) -> dict[str, Any]:
    """The review as one row: plain values, and figures."""
    sweep, plane = review.sweep, review.main_plane
    dip = plane.dips[0] if plane.dips else None
    width = plane.width(0, review.limit_swr)
    at_feed = review.feedpoint
    resonance = at_feed.series_resonance_of(at_feed.dips[0]) if at_feed and at_feed.dips else None
    return {
        "path": sweep.source.path,
        "sha256": sweep.source.sha256,
        "points": int(sweep.f_hz.size),
        "start_hz": float(sweep.f_hz[0]),
        "stop_hz": float(sweep.f_hz[-1]),
        "measured_at": review.planes.measured_at,
        "adequate": review.adequate,
        "dip_hz": dip.f_hz if dip else NO_DIP,
        "dip_swr": dip.swr if dip else NO_DIP,
        "r_ohm": dip.r_ohm if dip else NO_DIP,
        "x_ohm": dip.x_ohm if dip else NO_DIP,
        "resonance_hz": resonance.f_hz if resonance else NO_RESONANCE,
        "q": resonance.q if resonance else NO_RESONANCE,
        "limit_swr": review.limit_swr,
        "bandwidth_hz": width.bandwidth_hz if width else NO_DIP,
        "bands": "; ".join(f"{band.name} {band.verdict}" for band in verdicts_of(review.bands)),
        "findings": "; ".join(dict.fromkeys(finding.code for finding in review.findings)),
    }


def band_row(review: Review, band: BandFigures) -> dict[str, Any]:
    """One band of a review as a row: plain values, and figures."""
    direct = [part for part in band.segments if part.verdict == "direct"]
    return {
        "path": review.sweep.source.path,
        "band": band.name,
        "low_hz": band.low_hz,
        "high_hz": band.high_hz,
        "covered": band.covered,
        "verdict": band.verdict,
        "direct_low_hz": direct[0].low_hz if direct else None,
        "direct_high_hz": direct[-1].high_hz if direct else None,
        "limit_swr": review.limit_swr,
        "share_within_limit": band.share_within_limit,
        "best_hz": band.best_hz,
        "best_swr": band.best_swr,
        "swr_at_low_edge": band.swr_at_low_edge,
        "swr_at_high_edge": band.swr_at_high_edge,
        "line_loss_db": band.line_loss_db,
        "power_to_antenna_w": band.power_to_antenna_w,
    }


def _header(row: Mapping[str, Any]) -> list[str]:
    names: list[str] = []
    for name, value in row.items():
        names += [name, f"{name}_low", f"{name}_high"] if isinstance(value, Figure) else [name]
    return names


def _cells(row: Mapping[str, Any]) -> list[Any]:
    cells: list[Any] = []
    for name, value in row.items():
        if isinstance(value, Figure):
            cells += [value.value, value.low, value.high]
        elif isinstance(value, bool):
            cells.append("yes" if value else "no")
        else:
            cells.append(cell(value) if name in OF_USERS and value is not None else value)
    return cells


def compare_csv(comparison: Comparison) -> str:
    """A row for each group, or for each setup where they are not grouped."""
    table = Table(_compared_rows)
    table.add(comparison)
    return table.text()


def _compared_rows(comparison: Comparison) -> list[Row]:
    from sweepkit.comparison.setups import SHOWN  # a table of reviews needs no comparison

    if comparison.groups:
        return [
            {"group": group.name, "n": group.n, "sites": group.sites, **group.figures}
            for group in comparison.groups
        ]
    return [
        {"id": setup.id, "site": setup.site, "antenna": setup.antenna, "when": setup.when}
        | {name: comparison.figures[setup.id][name] for name in SHOWN}
        for setup in comparison.setups
    ]
