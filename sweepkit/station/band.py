"""The verdict on one band: direct, through the tuner, no, or cannot say, with why and with watts."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from functools import cached_property, partial
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweepkit.conversions import gamma_abs_from_swr
from sweepkit.figures import Figure
from sweepkit.findings import Finding
from sweepkit.kit.radio import Radio
from sweepkit.kit.tuner import Tuner
from sweepkit.station.at_radio import CEILING_SHARE, AtRadio, Nominal
from sweepkit.station.ledger import PowerLoss, line_loss_figure, make_ledger
from sweepkit.station.point_verdicts import Limits, Verdict, point_verdicts, within_limit
from sweepkit.station.segments import Segment, find_segments
from sweepkit.station.too_good import ceiling_finding
from sweepkit.station.why import Case, FailsOn, explain, fails_on

LEAST_COVERED = 0.10  # of a band swept for any verdict; common practice, no source
ALL_COVERED = 0.90  # of a band swept before nothing usable means "no"; common practice, no source


class Said(NamedTuple):
    """What is said of a verdict beside it."""

    why: str
    power_to_antenna_w: Figure
    power: tuple[PowerLoss, ...] = ()
    fails_on: FailsOn = ""


@dataclass(frozen=True, eq=False)
class BandVerdict:
    """What the operator may do on one band; words and watts are made when they are asked for."""

    verdict: Verdict  # the best of its segments, as docs/kit.md says
    segments: tuple[Segment, ...]  # the swept part of the band without gap or overlap, in rising frequency
    covered: float  # share of the band that was swept
    best_hz: float | None  # of the lowest SWR
    finding: Finding | None  # swr-too-good where the verdict is withheld for it
    find_line_loss: Callable[[], Figure]
    say: Callable[[], Said]  # makes the rest

    @cached_property
    def _said(self) -> Said:
        return self.say()

    @property
    def why(self) -> str:
        """Why, in words."""
        return self._said.why

    @cached_property
    def line_loss_db(self) -> Figure:
        """Total loss of the line at the best frequency. [dB]"""
        return self.find_line_loss()

    @property
    def power_to_antenna_w(self) -> Figure:
        """What leaves the coax at the best frequency that has the verdict. [W]"""
        return self._said.power_to_antenna_w

    @property
    def power(self) -> tuple[PowerLoss, ...]:
        """Where the rest of the radio's power goes up to there, in order from the radio."""
        return self._said.power

    @property
    def fails_on(self) -> FailsOn:
        """What a "no" rests on: the SWR, the region of the tuner, the loss of the line."""
        return self._said.fails_on


def judge_band(
    at: AtRadio,
    *,
    band_hz: tuple[float, float],
    radio: Radio,
    tuner: Tuner | None,
    limit_swr: float | None = None,
    too_good: Finding | None = None,
    told: Collection[str] = (),
) -> BandVerdict:
    """Whether to transmit on a band, where, how, and with how many watts out of the coax; "unknown" where nothing
    says.

    ``limit_swr`` goes before the radio's ``direct_swr``. ``too_good`` is why a low SWR is not to be believed: what
    :func:`sweepkit.station.find_flat_outside` said of the whole sweep, or what was said of the antenna. ``told`` are
    keys of the kit that the operator told, such as ``tuner.loss_db``.
    """
    return judge_together(
        [ToJudge(at, band_hz, too_good)], radio=radio, tuner=tuner, limit_swr=limit_swr, told=told
    )[0]


class ToJudge(NamedTuple):
    """One band of :func:`judge_together`, as :func:`judge_band` takes it."""

    at: AtRadio
    band_hz: tuple[float, float]
    too_good: Finding | None


def judge_together(
    bands: Sequence[ToJudge],
    *,
    radio: Radio,
    tuner: Tuner | None,
    limit_swr: float | None = None,
    told: Collection[str] = (),
) -> list[BandVerdict]:
    """:func:`judge_band` of many bands and sweeps, of which the same is known: phase, impedance, loss of the line."""
    if not bands:
        return []
    limits = Limits(radio, tuner, radio.direct_swr if limit_swr is None else limit_swr)
    curves = [each.at.nominal(z0_ohm=radio.z0_ohm) for each in bands]
    sizes = [each.f_hz.size for each in curves]
    doubted = np.repeat([each.too_good is not None for each in bands], sizes)
    all_curves = Nominal.joined(curves, with_impedance=limits.rests_on_impedance)
    here = point_verdicts(all_curves, limits, too_good=doubted)
    segments = find_segments(
        all_curves, sizes, here, lambda some, after: point_verdicts(some, limits, too_good=doubted[after])
    )
    ends = np.cumsum(sizes).tolist()
    found = [here[first:end] for first, end in zip([0, *ends[:-1]], ends, strict=True)]
    return [_judged(*each, limits, told) for each in zip(bands, curves, found, segments, strict=True)]


def _judged(
    to_judge: ToJudge,
    curves: Nominal,
    here: NDArray[np.str_],
    segments: tuple[Segment, ...],
    limits: Limits,
    told: Collection[str],
) -> BandVerdict:
    """The verdict on a band by its segments and those at its points."""
    at, band_hz, too_good = to_judge
    covered = min(max(float(at.f_hz[-1] - at.f_hz[0]) / (band_hz[1] - band_hz[0]), 0.0), 1.0)
    verdict = _verdict(segments, covered)
    best, shown = curves.best(), curves.best(among=here == verdict)
    index = best if shown is None else shown
    doubted = verdict == "unknown" and any(segment.verdict == "unknown" for segment in segments)
    finding = (_ceiling(at, curves, limits, index) or too_good) if doubted else None
    case = Case(
        at=at,
        curves=curves,
        limits=limits,
        verdict=verdict,
        segments=segments,
        covered=covered,
        enough=covered >= LEAST_COVERED,
        band_hz=band_hz,
        index=index,
        too_good=finding,
        told=told,
    )
    return BandVerdict(
        verdict=verdict,
        segments=segments,
        covered=covered,
        best_hz=None if best is None else float(at.f_hz[best]),
        finding=finding,
        find_line_loss=partial(line_loss_figure, at, best),
        say=partial(_say, case),
    )


def _say(case: Case) -> Said:
    ledger = make_ledger(case)
    return Said(explain(case), ledger.leaves_coax_w, ledger.losses, fails_on(case))


def _verdict(segments: tuple[Segment, ...], covered: float) -> Verdict:
    """The best of the segments; "no" only where nearly all of the band was swept."""
    found = {segment.verdict for segment in segments}
    if covered < LEAST_COVERED:
        return "unknown"
    ranked: tuple[Verdict, ...] = ("direct", "tuner", "unknown")
    for verdict in ranked:
        if verdict in found:
            return verdict
    return "no" if covered >= ALL_COVERED else "unknown"


def _ceiling(at: AtRadio, curves: Nominal, limits: Limits, index: int | None) -> Finding | None:
    """The finding where a usable reading may be all that the line shows."""
    if index is None or at.swr_ceiling is None:
        return None
    if not (within_limit(curves, limits)[index] and curves.nearness[index] >= 1):
        return None
    swr, ceiling_swr = float(curves.swr[index]), float(at.swr_ceiling[0, index])
    near = gamma_abs_from_swr(swr) >= CEILING_SHARE * gamma_abs_from_swr(ceiling_swr)
    return ceiling_finding(swr, ceiling_swr, near=bool(near))
