"""What is kept of a review so that it can be compared years later: the figures, without the sweep."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, ClassVar, Literal

from sweepkit.errors import UnreadableFile
from sweepkit.figures import Figure
from sweepkit.plain_types import Plain
from sweepkit.reviews.bands import bests_of
from sweepkit.reviews.plane import DipFigures, Plane
from sweepkit.reviews.review import Review

SCHEMA = "sweepkit/summary/1"
BANDWIDTH_SWR = 2.0  # limit of the bandwidth that is kept [-]

PlaneName = Literal["radio", "feedpoint", "unknown"]


@dataclass(frozen=True)
class DipSummary:
    """One dip. ``q`` is that of the series resonance that belongs to it, which only the feedpoint shows."""

    dip_hz: Figure
    dip_swr: Figure
    r_ohm: Figure
    x_ohm: Figure
    q: Figure
    bandwidth_hz: Figure


@dataclass(frozen=True)
class BandSummary:
    """One band that the sweep touches, judged at the radio where it is known."""

    covered: float
    best_hz: Figure
    best_swr: Figure
    line_loss_db: Figure


@dataclass(frozen=True)
class Summary(Plain):
    """The figures of one sweep or setup."""

    schema: ClassVar[str] = SCHEMA

    # dips at each plane that is known, deepest first; unknown alone where nobody said where it was measured
    planes: Mapping[PlaneName, tuple[DipSummary, ...]]
    bands: Mapping[str, BandSummary]  # by name
    start_hz: float
    stop_hz: float
    points: int
    phase: str  # as in the review
    adequate: bool  # whether the sweep was good enough
    findings: tuple[str, ...]  # codes

    @property
    def step_hz(self) -> float:
        """Mean distance of two points. [Hz]"""
        return (self.stop_hz - self.start_hz) / max(self.points - 1, 1)

    @classmethod
    def from_json(cls, document: Mapping[str, Any]) -> Summary:
        """A summary that was kept, from a document that is never trusted."""
        try:
            if document["schema"] != SCHEMA:
                raise ValueError(document["schema"])
            return cls(
                planes={
                    name: tuple(
                        DipSummary(**{part: Figure.from_json(figure) for part, figure in dip.items()})
                        for dip in dips
                    )
                    for name, dips in document["planes"].items()
                },
                bands={
                    name: BandSummary(
                        covered=float(band["covered"]),
                        best_hz=Figure.from_json(band["best_hz"]),
                        best_swr=Figure.from_json(band["best_swr"]),
                        line_loss_db=Figure.from_json(band["line_loss_db"]),
                    )
                    for name, band in document["bands"].items()
                },
                start_hz=float(document["start_hz"]),
                stop_hz=float(document["stop_hz"]),
                points=int(document["points"]),
                phase=str(document["phase"]),
                adequate=bool(document["adequate"]),
                findings=tuple(str(code) for code in document["findings"]),
            )
        except (KeyError, TypeError, ValueError, AttributeError) as error:
            raise UnreadableFile("figures that were kept are not readable; they are damaged") from error


def summarise(review: Review) -> Summary:
    """What is kept of a review."""
    planes: dict[PlaneName, tuple[DipSummary, ...]] = {}
    if review.feedpoint is not None:
        planes["feedpoint"] = _dips(review.feedpoint, at_feedpoint=True)
    if review.radio is not None:
        name: PlaneName = "unknown" if review.planes.measured_at == "unknown" else "radio"
        planes[name] = _dips(review.radio, at_feedpoint=False)
    sweeps = review.sweeps or (review.sweep,)
    return Summary(
        planes=planes,
        bands={
            band.name: BandSummary(band.covered, band.best_hz, band.best_swr, band.line_loss_db)
            for band in bests_of(review.bands)
        },
        start_hz=min(float(sweep.f_hz[0]) for sweep in sweeps),
        stop_hz=max(float(sweep.f_hz[-1]) for sweep in sweeps),
        points=int(review.sweep.f_hz.size),
        phase=review.sweep.phase,
        adequate=review.adequate,
        findings=tuple(dict.fromkeys(finding.code for finding in review.findings)),
    )


def _dips(plane: Plane, *, at_feedpoint: bool) -> tuple[DipSummary, ...]:
    return tuple(
        DipSummary(
            dip_hz=dip.f_hz,
            dip_swr=dip.swr,
            r_ohm=dip.r_ohm,
            x_ohm=dip.x_ohm,
            q=_q(plane, dip) if at_feedpoint else Figure.none("Q is only known at the feedpoint"),
            bandwidth_hz=width.bandwidth_hz
            if (width := plane.width(number, BANDWIDTH_SWR)) is not None
            else Figure.none(f"no bandwidth at SWR {BANDWIDTH_SWR:g} was asked for"),
        )
        for number, dip in enumerate(plane.dips)
    )


def _q(plane: Plane, dip: DipFigures) -> Figure:
    """Q of the series resonance that belongs to a dip."""
    own = plane.series_resonance_of(dip)
    return Figure.none("no series resonance belongs to this dip") if own is None else own.q
