"""One sweep reviewed: what stands in the JSON, and how it comes about."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from sweepkit.bands import Band, read_bands
from sweepkit.conversions import ComplexArray
from sweepkit.errors import BadInput
from sweepkit.feedline.chain import LineChain
from sweepkit.findings import Finding
from sweepkit.instrument import DEFAULT_DRAWS
from sweepkit.kit import AntennaNote, Kit, as_pieces, read_kit, resolve_antenna
from sweepkit.lines import LinePiece
from sweepkit.plain_types import record, to_plain
from sweepkit.reviews.adequacy import judge_sweep
from sweepkit.reviews.bands import BandFigures, describe_band, touched_bands, trace_bands
from sweepkit.reviews.check_sweeps import CheckSweeps
from sweepkit.reviews.health import find_sweep_faults
from sweepkit.reviews.heat import look_beyond
from sweepkit.reviews.line import (
    describe_line,
    find_dead_end,
    find_line_faults,
    find_unseen_end,
    find_wrong_plane,
    guess_line_in,
)
from sweepkit.reviews.next_sweep import NextSweep
from sweepkit.reviews.plane import SWR_LIMITS, DrawnDips, Plane, describe_planes, find_all_dips
from sweepkit.reviews.planes import Planes, lay_out_planes
from sweepkit.reviews.repeatability import Repeatability
from sweepkit.reviews.unplugged import Unplugged, judge_unplugged
from sweepkit.reviews.verdicts import judge_bands
from sweepkit.reviews.view import View
from sweepkit.station.outing import Outing
from sweepkit.sweep import Place, Sweep

SCHEMA = "sweepkit/review/1"
LEAST_POINTS = 2


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
    bands: tuple[BandFigures, ...]
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


def review(
    sweep: Sweep,
    *,
    kit: Kit | str | Path | None = None,
    lines: Sequence[LinePiece | str] | None = None,
    measured_at: Place = "unknown",
    region: int | None = None,
    bands: tuple[Band, ...] | None = None,
    swr_limit: float | None = None,
    checks: CheckSweeps | None = None,
    antenna: AntennaNote | str | None = None,
    unplugged: Sweep | None = None,
    draws: int = DEFAULT_DRAWS,
    seed: int = 0,
    spread: ComplexArray | None = None,
    outing: Outing | None = None,
) -> Review:
    """Review one sweep.

    Parameters
    ----------
    sweep : Sweep
        The sweep.
    kit : Kit or path, optional
        The operator's gear, or its kit.toml; without it the stated defaults.
    lines : sequence of LinePiece or str, optional
        Line in order from the radio, pieces or what ``--line`` takes; empty for a radio at the antenna;
        left out where it is not known.
    measured_at : {"radio", "feedpoint", "unknown"}
        Where the file's numbers are true. With lines, ``unknown`` means at the radio.
    region : {1, 2, 3}, optional
        ITU region of the band edges; before the kit's.
    bands : tuple of Band, optional
        Bands to judge instead of the table's.
    swr_limit : float, optional
        Highest SWR for direct use; before the radio's. [-]
    checks : CheckSweeps, optional
        Sweeps of a load, an open and a short, which size the analyzer's errors.
    antenna : AntennaNote or str, optional
        What is known of the antenna, or its name in the kit: what it can show, and what lies beyond the coax.
    unplugged : Sweep, optional
        The same with the antenna unplugged: clears a low SWR that is doubted, or proves the doubt.
    draws : int
        Members of the ensemble; 0 for nominal values only.
    seed : int
        Same seed, same answer.
    spread : complex array, shape (repeats, n), optional
        For :func:`sweepkit.reviews.repeats.review_repeats`: what each repeat differs from the sweep. [-]
    outing : Outing, optional
        What this sweep and others tell together of line and analyzer, from
        :func:`sweepkit.reviews.outing.learn_outing`; left out: what this one tells.

    Returns
    -------
    Review
        Figures at each known plane, bands, adequacy, findings.

    Raises
    ------
    BadInput
        Fewer than two points; a sweep without phase at another reference than the radio's; an SWR limit of 1 or less; a
        region that does not exist.
    """
    if not isinstance(kit, Kit):
        kit = Kit() if kit is None else read_kit(kit)
    limit_swr = kit.radio.direct_swr if swr_limit is None else swr_limit
    if not 1 < limit_swr < math.inf:
        raise BadInput(f"the SWR limit is {limit_swr:g}; it must be above 1; write one like 2.0")
    if np.count_nonzero(sweep.f_hz > 0) < LEAST_POINTS:
        raise BadInput(
            f"the file holds {sweep.f_hz.size} point above 0 Hz; a review needs at least {LEAST_POINTS}; "
            "export the whole sweep",
            path=sweep.source.path or None,
        )
    analyzer = kit.analyzer
    poor: tuple[Finding, ...] = ()
    if checks is not None:
        analyzer, poor = checks.judged_over(float(sweep.f_hz[0]), float(sweep.f_hz[-1]), analyzer)
    planes = lay_out_planes(
        sweep,
        chain=None if lines is None else LineChain(as_pieces(lines, kit)),
        measured_at=measured_at,
        analyzer=analyzer,
        reference_ohm=kit.radio.z0_ohm,
        draws=draws,
        seed=seed,
        spread=spread,
        checks=() if checks is None else checks.known(kit.radio.z0_ohm),
        outing=outing,
    )
    limits = tuple(sorted({*SWR_LIMITS, limit_swr}))
    guess = guess_line_in(planes)
    wrong_plane = find_wrong_plane(planes, guess)
    believed = wrong_plane is None
    radio, at_radio = _look(planes.radio, limits, is_feedpoint=False)
    same = at_radio if planes.feedpoint is planes.radio else None  # the radio is at the antenna
    feedpoint, at_feed = _look(planes.feedpoint, limits, is_feedpoint=believed, drawn=same)
    radio_dips, feedpoint_dips = (() if drawn is None else drawn.of(0) for drawn in (at_radio, at_feed))
    at_feedpoint = planes.measured_at == "feedpoint"
    measured_plane = feedpoint if at_feedpoint else radio
    if measured_plane is None:
        raise ValueError("the measured plane is always known")
    all_bands = bands if bands is not None else read_bands(region=kit.region if region is None else region)
    judged_view = planes.radio or planes.measured
    touched = touched_bands(all_bands, judged_view)
    measured_dips = feedpoint_dips if at_feedpoint else radio_dips
    dead_end = find_dead_end(planes, measured_dips)
    at_antenna = planes.feedpoint is not None  # with a line told, the antenna itself is what must be resolved
    adequacy = judge_sweep(
        planes.feedpoint or planes.measured,
        feedpoint_dips if at_antenna else measured_dips,
        feedpoint or measured_plane,
        has_antenna=dead_end is None,
        bands=touched,
        limit_swr=limit_swr,
        analyzer=kit.analyzer,
    )
    judged_dips = feedpoint_dips if planes.radio is None else radio_dips
    note = resolve_antenna(antenna, kit) if isinstance(antenna, str) else antenna
    beyond = look_beyond(
        touched,
        feedpoint or measured_plane,
        note,
        kit.boxes,
        swept_hz=(float(judged_view.f_hz[0]), float(judged_view.f_hz[-1])),
        reference_ohm=kit.radio.z0_ohm,
        at_feedpoint=at_antenna,
        with_intervals=draws > 0,
    )
    tested: Mapping[str, Unplugged] = {}
    if unplugged is not None:
        tested = judge_unplugged(unplugged, sweep, planes, touched, reference_ohm=kit.radio.z0_ohm)
    curves = trace_bands([judged_view], touched, [judged_dips])[0]
    verdicts = judge_bands(
        curves,
        planes,
        kit=kit,
        limit_swr=limit_swr,
        all_bands=all_bands,
        doubtful=adequacy.doubtful_bands,
        beyond=beyond,
        unplugged=tested,
    )
    doubts = [verdict.finding for verdict in verdicts]
    doubts += [one.finding for name, one in beyond.items() if name not in tested and not any(doubts)]
    doubts += [one.contradiction for one in beyond.values()]
    doubts += [test.finding for test in tested.values()]
    told = dict.fromkeys(filter(None, doubts))
    faults = find_sweep_faults(planes.measured, analyzer)
    # what the reader could not judge without noise and directivity is judged in faults
    read = tuple(finding for finding in sweep.findings if finding.code != "reflection-above-one")
    lines_found = (dead_end,) if dead_end else find_line_faults(planes, analyzer, guess)
    more_of_line = (None if dead_end else wrong_plane, find_unseen_end(planes))
    lines_found = (*(finding for finding in more_of_line if finding is not None), *lines_found)
    return Review(
        sweep=sweep,
        planes=planes,
        limit_swr=limit_swr,
        radio=radio,
        feedpoint=feedpoint,
        bands=tuple(
            describe_band(
                curve,
                verdict,
                limit_swr=limit_swr,
                line=describe_line(curve, planes, power_w=kit.radio.power_w),
                beyond=beyond[curve.band.name],
            )
            for curve, verdict in zip(curves, verdicts, strict=True)
        ),
        adequate=adequacy.adequate,
        next_sweeps=adequacy.next_sweeps,
        findings=(*adequacy.findings, *poor, *faults, *lines_found, *told, *read),
    )


def _look(
    view: View | None,
    limits: tuple[float, ...],
    *,
    is_feedpoint: bool,
    drawn: DrawnDips | None = None,
) -> tuple[Plane | None, DrawnDips | None]:
    """Figures and dips of a plane, where it is known."""
    if view is None:
        return None, None
    drawn = find_all_dips([view]) if drawn is None else drawn
    return describe_planes([view], drawn, limits_swr=limits, is_feedpoint=[is_feedpoint])[0], drawn
