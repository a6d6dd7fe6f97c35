"""One sweep reviewed: what stands in the JSON, and how it comes about."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, NamedTuple, Unpack

import numpy as np

from sweepkit.bands import Band
from sweepkit.errors import BadInput
from sweepkit.feedline.likely import LineGuess
from sweepkit.findings import Finding
from sweepkit.kit import Analyzer
from sweepkit.plain_types import record, to_plain
from sweepkit.reviews.adequacy import NOTHING_LACKING, Adequacy, find_adequate, judge_sweep
from sweepkit.reviews.asked import Asked, Told, ask
from sweepkit.reviews.bands import BandCurve, BandFigures, Bands, describe_band, touched_bands, trace_bands
from sweepkit.reviews.health import find_faults
from sweepkit.reviews.heat import Beyond, box_of, look_beyond
from sweepkit.reviews.line import (
    describe_line,
    find_dead_end,
    find_likely_dead_end,
    find_line_faults,
    find_unseen_end,
    find_wrong_plane,
    guess_lines_in,
    warn_of_dead_end,
)
from sweepkit.reviews.next_sweep import NextSweep
from sweepkit.reviews.plane import SWR_LIMITS, DrawnDip, DrawnDips, Plane, describe_planes, find_all_dips
from sweepkit.reviews.planes import Planes
from sweepkit.reviews.unplugged import Unplugged, judge_unplugged
from sweepkit.reviews.verdicts import Known, judge_bands
from sweepkit.reviews.view import View
from sweepkit.station.band import BandVerdict
from sweepkit.sweep import Sweep

SCHEMA = "sweepkit/review/1"
LEAST_POINTS = 2


@dataclass(frozen=True)
class Repeatability:
    """Standard deviations of the deepest dip over so many repeated sweeps; ``None`` where one of them has no dip."""

    repeats: int
    dip_hz_sd: float | None
    dip_swr_sd: float | None


@dataclass(frozen=True, eq=False)
class Review:
    """Everything said of one sweep.

    ``sweep`` and ``planes`` are what it rests on; the rest is the JSON of ``docs/review.md``. Where several
    sweeps give one answer, ``sweeps`` has them all, and ``parts`` the reviews of those that are not repeats.
    """

    sweep: Sweep
    planes: Planes
    limit_swr: float
    radio: Plane | None
    feedpoint: Plane | None
    bands: Sequence[BandFigures]
    adequate: bool
    next_sweeps: tuple[NextSweep, ...]
    findings: tuple[Finding, ...]
    sweeps: tuple[Sweep, ...] = ()
    parts: tuple[Review, ...] = ()
    repeatability: Repeatability | None = None

    @property
    def main_plane(self) -> Plane:
        """The plane the bands are judged at: the radio where it is known."""
        plane = self.radio or self.feedpoint
        if plane is None:
            raise ValueError("a review has at least one plane")
        return plane

    def as_measured(self) -> Review:
        """The same review with the plane of the file's own numbers alone, for pictures of the sweep itself."""
        if self.planes.measured_at != "feedpoint" or self.planes.radio is None:
            return self
        planes = replace(self.planes, radio=None, chain=None)
        return replace(self, planes=planes, radio=None)

    def to_json(self) -> dict[str, Any]:
        """The review as promised, plain types only."""
        answer: dict[str, Any] = {"schema": SCHEMA, "file": file_json(self.sweep)}
        if self.sweeps:
            answer["files"] = [file_json(sweep) for sweep in self.sweeps]
        for file, part in zip(answer.get("files", []), self.parts, strict=False):
            file["adequate"] = part.adequate
        if self.repeatability is not None:
            answer["repeatability"] = record(self.repeatability)
        return answer | {
            "phase": self.sweep.phase,
            "measured_at": self.planes.measured_at,
            "planes": to_plain({"radio": self.radio, "feedpoint": self.feedpoint}),
            "bands": to_plain(self.bands),
            "adequate": self.adequate,
            "next_sweeps": to_plain(self.next_sweeps),
            "findings": to_plain(self.findings),
        }


def file_json(sweep: Sweep) -> dict[str, Any]:
    """What every JSON says of a file."""
    return {
        "path": sweep.source.path,
        "sha256": sweep.source.sha256,
        "reader": sweep.source.reader,
        "points": int(sweep.f_hz.size),
        "start_hz": float(sweep.f_hz[0]),
        "stop_hz": float(sweep.f_hz[-1]),
        "reference_ohm": sweep.reference_ohm,
    }


def review(sweep: Sweep, **told: Unpack[Told]) -> Review:
    """Review one sweep.

    ``lines``, in order from the radio, are pieces or what ``--line`` takes; empty for a radio at the antenna, left
    out where it is not known. With lines, measured at ``unknown`` means at the radio. ``region`` and ``swr_limit`` go
    before the kit's, ``bands`` before the table's.

    ``checks`` size the analyzer's errors; ``antenna`` (or its name in the kit) says what it can show, and what lies
    beyond the coax; ``unplugged`` clears a low SWR that is doubted, or proves the doubt. ``spread``, shape (repeats,
    n), is what each repeat differs from the sweep, for :func:`sweepkit.reviews.repeats.review_repeats`; ``outing``
    comes from :func:`sweepkit.reviews.outing.learn_outing`. No ``draws``, nominal values only.

    ``BadInput``: fewer than two points; a sweep without phase at another reference than the radio's; an SWR limit of
    1 or less; a region that does not exist.
    """
    return review_alike([sweep], ask(**told))[0]


def review_alike(sweeps: Sequence[Sweep], asked: Asked) -> list[Review]:
    """Review sweeps for which :func:`sweepkit.reviews.asked.alike` says the same; a single one is such a stack."""
    _check(sweeps[0])
    analyzer, poor = asked.analyzer_over(sweeps[0])
    planes = asked.planes(sweeps, analyzer)
    guesses = guess_lines_in(planes)
    wrong = [find_wrong_plane(*pair) for pair in zip(planes, guesses, strict=True)]
    limits = tuple(sorted({*SWR_LIMITS, asked.limit_swr}))
    believed = [finding is None for finding in wrong]
    radios = _look([each.radio for each in planes], limits, is_feedpoint=[False] * len(planes))
    same = radios if planes[0].feedpoint is planes[0].radio else None  # the radio is at the antenna
    feeds = _look([each.feedpoint for each in planes], limits, is_feedpoint=believed, seen=same)
    judged = [each.radio or each.measured for each in planes]
    touched = touched_bands(asked.bands, judged[0])
    judged_at = feeds if planes[0].radio is None else radios
    curves = trace_bands(judged, touched, judged_at.of_dips)
    seen = [
        _Seen(planes[k], guesses[k], wrong[k], *radios.seen[k], *feeds.seen[k]) for k in range(len(sweeps))
    ]
    adequate = _adequate(planes, feeds if planes[0].feedpoint is not None else radios, touched, asked)
    judged_sweeps = [_judge(*each, asked) for each in zip(sweeps, seen, curves, adequate, strict=True)]
    verdicts = judge_bands(
        [each.known for each in judged_sweeps],
        kit=asked.kit,
        limit_swr=asked.limit_swr,
        all_bands=asked.bands,
        box=box_of(asked.antenna, asked.kit.boxes),
    )
    faults = find_faults([each.measured for each in planes], analyzer)
    reviews = [
        _review(*each, asked, analyzer)
        for each in zip(
            sweeps, seen, judged_sweeps, verdicts, [(*poor, *found) for found in faults], strict=True
        )
    ]
    for each in planes:
        each.forget()
    return reviews


class _Seen(NamedTuple):
    """What was made out of one sweep: planes, what it says of a line, figures and dips at each plane."""

    planes: Planes
    guess: LineGuess | None
    wrong_plane: Finding | None
    radio: Plane | None
    radio_dips: tuple[DrawnDip, ...]
    feedpoint: Plane | None
    feedpoint_dips: tuple[DrawnDip, ...]

    @property
    def measured(self) -> tuple[Plane, tuple[DrawnDip, ...]]:
        """Figures and dips at the plane of the file's own numbers."""
        at_feedpoint = self.planes.measured_at == "feedpoint"
        plane = self.feedpoint if at_feedpoint else self.radio
        if plane is None:
            raise ValueError("the measured plane is always known")
        return plane, self.feedpoint_dips if at_feedpoint else self.radio_dips


class _Judged(NamedTuple):
    """Verdict on a sweep itself, a line without an antenna, and what is known of its bands."""

    adequacy: Adequacy
    dead_end: Finding | None
    known: Known


def _adequate(planes: Sequence[Planes], looks: _Looks, touched: tuple[Band, ...], asked: Asked) -> list[bool]:
    """Whether surely nothing is lacking of each sweep."""
    if looks.drawn is None:
        return [False] * len(planes)
    views = [each.feedpoint or each.measured for each in planes]
    figures = [plane for plane, _ in looks.seen]
    found = find_adequate(views, looks.drawn, figures, bands=touched, limit_swr=asked.limit_swr)
    return [bool(one) for one in found]


def _judge(sweep: Sweep, seen: _Seen, curves: tuple[BandCurve, ...], adequate: bool, asked: Asked) -> _Judged:
    kit, planes, touched = asked.kit, seen.planes, tuple(curve.band for curve in curves)
    measured_plane, measured_dips = seen.measured
    dead_end = find_dead_end(planes, measured_dips)
    likely = None if dead_end else find_likely_dead_end(planes, measured_dips)
    at_antenna = planes.feedpoint is not None  # with a line told, the antenna itself is what must be resolved
    adequacy = (
        NOTHING_LACKING
        if adequate
        else judge_sweep(
            planes.feedpoint or planes.measured,
            seen.feedpoint_dips if at_antenna else measured_dips,
            seen.feedpoint or measured_plane,
            has_antenna=dead_end is None and likely is None,
            bands=touched,
            limit_swr=asked.limit_swr,
            analyzer=kit.analyzer,
        )
    )
    judged_view = planes.radio or planes.measured
    beyond = look_beyond(
        touched,
        seen.feedpoint or measured_plane,
        planes.feedpoint or planes.measured,
        asked.antenna,
        kit.boxes,
        swept_hz=(float(judged_view.f_hz[0]), float(judged_view.f_hz[-1])),
        reference_ohm=kit.radio.z0_ohm,
        at_feedpoint=at_antenna,
        with_intervals=asked.draws > 0,
    )
    tested: Mapping[str, Unplugged] = {}
    if asked.unplugged is not None:
        tested = judge_unplugged(asked.unplugged, sweep, planes, touched, reference_ohm=kit.radio.z0_ohm)
    if likely is not None:
        adequacy = replace(adequacy, findings=(*adequacy.findings, likely))
    return _Judged(adequacy, dead_end, Known(curves, planes, adequacy.doubtful_bands, beyond, tested))


def _review(
    sweep: Sweep,
    seen: _Seen,
    judged: _Judged,
    verdicts: tuple[BandVerdict, ...],
    faults: tuple[Finding, ...],
    asked: Asked,
    analyzer: Analyzer,
) -> Review:
    """All that was found of one sweep."""
    adequacy, dead_end, (curves, planes, _, beyond, tested) = judged
    told = _doubts(verdicts, beyond, tested)
    dead_end = None if dead_end is None else warn_of_dead_end(dead_end, verdicts)

    def described(number: int) -> BandFigures:
        return describe_band(
            curves[number],
            verdicts[number],
            limit_swr=asked.limit_swr,
            line=describe_line(curves[number], planes, power_w=asked.kit.radio.power_w),
            beyond=beyond[curves[number].band.name],
        )

    return Review(
        sweep=sweep,
        planes=planes,
        limit_swr=asked.limit_swr,
        radio=seen.radio,
        feedpoint=seen.feedpoint,
        bands=Bands(list(zip(curves, verdicts, strict=True)), described),
        adequate=adequacy.adequate,
        next_sweeps=adequacy.next_sweeps,
        findings=(
            *adequacy.findings,
            *faults,
            *_of_lines(seen, dead_end, analyzer),
            *told,
            # what the reader could not judge without noise and directivity is judged among the faults
            *(finding for finding in sweep.findings if finding.code != "reflection-above-one"),
        ),
    )


def _doubts(
    verdicts: Sequence[BandVerdict], beyond: Mapping[str, Beyond], tested: Mapping[str, Unplugged]
) -> tuple[Finding, ...]:
    """Why a low SWR is not believed, and what a test said of it; each once."""
    doubts = [verdict.finding for verdict in verdicts]
    doubts += [one.finding for name, one in beyond.items() if name not in tested and not any(doubts)]
    doubts += [one.contradiction for one in beyond.values()]
    doubts += [test.finding for test in tested.values()]
    return tuple(dict.fromkeys(filter(None, doubts)))


def _of_lines(seen: _Seen, dead_end: Finding | None, analyzer: Analyzer) -> tuple[Finding, ...]:
    """What the sweep says of the line."""
    first = (None if dead_end else seen.wrong_plane, find_unseen_end(seen.planes))
    found = (dead_end,) if dead_end else find_line_faults(seen.planes, analyzer, seen.guess)
    return (*filter(None, first), *found)


def _check(sweep: Sweep) -> None:
    if np.count_nonzero(sweep.f_hz > 0) < LEAST_POINTS:
        raise BadInput(
            f"the file holds {sweep.f_hz.size} point above 0 Hz; a review needs at least {LEAST_POINTS}; "
            "export the whole sweep",
            path=sweep.source.path or None,
        )


class _Looks(NamedTuple):
    """Figures and dips of a plane of each sweep, and the dips of all as rows; nothing where it is not known."""

    seen: Sequence[tuple[Plane | None, tuple[DrawnDip, ...]]]
    drawn: DrawnDips | None

    @property
    def of_dips(self) -> DrawnDips:
        """The dips of all, where the plane is known."""
        if self.drawn is None:
            raise ValueError("the plane that is judged is always known")
        return self.drawn


def _look(
    views: Sequence[View | None],
    limits: tuple[float, ...],
    *,
    is_feedpoint: Sequence[bool],
    seen: _Looks | None = None,
) -> _Looks:
    """Figures and dips of a plane, which is known of all sweeps or of none."""
    known = [view for view in views if view is not None]
    if not known:
        return _Looks([(None, ())] * len(views), None)
    drawn = find_all_dips(known) if seen is None or seen.drawn is None else seen.drawn
    planes = describe_planes(known, drawn, limits_swr=limits, is_feedpoint=is_feedpoint)
    dips = [drawn.of(k) for k in range(len(known))] if seen is None else [dips for _, dips in seen.seen]
    return _Looks(list(zip(planes, dips, strict=True)), drawn)
