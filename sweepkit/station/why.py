"""Why a band has its verdict, in words an operator understands."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Literal

import numpy as np

from sweepkit.conversions import gamma_abs_from_swr
from sweepkit.figures import Figure
from sweepkit.findings import Finding
from sweepkit.kit import describe_tuner
from sweepkit.quantities import frequency_text
from sweepkit.station.at_radio import ALL_LOST_DB, AtRadio, Nominal
from sweepkit.station.point_verdicts import (
    LOSS_NAMED_DB,
    LOSS_TOO_MUCH_DB,
    Limits,
    Verdict,
    reach_of,
    within_limit,
)
from sweepkit.station.power import leaving_w, share_from_loss_db
from sweepkit.station.segments import Segment
from sweepkit.station.tuner_loss import tuner_loss_db
from sweepkit.station.tuner_reach import BEYOND, MATCHES, find_margin, margin_figure

VOICE_CHANNEL_HZ = 3000.0  # one single-sideband channel; common practice, no source
WORTH_TUNING = 1.1  # this much more power is worth a word; common practice, no source
FailsOn = Literal["", "swr", "reach", "loss"]
RANGES_NAMED = 3  # more parts than these are counted, not listed


@dataclass(frozen=True, eq=False)
class Case:
    """Everything the words are made of."""

    at: AtRadio
    curves: Nominal
    limits: Limits
    verdict: Verdict
    segments: tuple[Segment, ...]
    covered: float
    enough: bool  # enough of the band was swept for any verdict
    band_hz: tuple[float, float]
    index: int | None  # where the lowest SWR with the verdict is; None where no SWR is known
    too_good: Finding | None  # why a low SWR is not believed
    told: Collection[str] = ()  # keys of the kit that the operator told

    @property
    def swr(self) -> float:
        """The lowest SWR with the verdict. [-]"""
        return float("nan") if self.index is None else float(self.curves.swr[self.index])

    @property
    def loss_db(self) -> float:
        """What the line loses there, 0 where it was not told. [dB]"""
        loss_db = self.curves.line_loss_db
        return 0.0 if loss_db is None or self.index is None else float(loss_db[self.index])

    @property
    def box_loss_db(self) -> float:
        """What a told box loses there, 0 where none was told. [dB]"""
        return 0.0 if self.index is None else float(self.curves.box_loss_db[self.index])

    @property
    def too_lossy(self) -> bool:
        """Line and box alone forbid it."""
        return self.loss_db + self.box_loss_db > LOSS_TOO_MUCH_DB


def explain(case: Case) -> str:
    """Sentences: what was seen, against which limit, and what else the operator must know."""
    main = {"direct": _direct, "tuner": _tuner, "no": _no, "unknown": _unknown}[case.verdict]
    sentences = [main(case)]
    if case.verdict in ("direct", "tuner"):
        sentences += [
            _rests_on_swr(case),
            _tuner_gives_more(case),
            _narrow(case),
            _named_loss(case),
            _on_battery(case),
            _uncovered(case),
        ]
    if case.verdict != "unknown":
        sentences.append(_near_limit(case))
    return " ".join(f"{text[0].upper()}{text[1:]}." for text in sentences if text)


def swr_text(swr: float) -> str:
    """An SWR for people: two decimals below 10, none above, ``above 100`` beyond."""
    return f"{swr:.2f}" if swr < 9.995 else f"{swr:.0f}" if swr <= 100 else "above 100"


def _at_best(case: Case) -> str:
    if case.index is None:
        return "no SWR"
    return f"SWR {swr_text(case.swr)} at {frequency_text(float(case.curves.f_hz[case.index]))}"


def _direct(case: Case) -> str:
    return f"{_at_best(case)}; at or below the limit of {case.limits.limit_swr:g} {_where(case)}"


def _where(case: Case) -> str:
    """The parts that have the verdict."""
    parts = [part for part in case.segments if part.verdict == case.verdict]
    if len(parts) == len(case.segments):
        return "wherever it was swept" if case.covered < 1 else "over the whole band"
    ranges = [f"{frequency_text(part.low_hz)[:-4]} to {frequency_text(part.high_hz)}" for part in parts]
    more = len(ranges) - RANGES_NAMED
    named = " and ".join(ranges[:RANGES_NAMED])
    return f"from {named}" + (f" and in {more} more parts" if more > 0 else "")


def _tuner(case: Case) -> str:
    above = f"{_at_best(case)} is above the limit of {case.limits.limit_swr:g}"
    return f"{above}; {_reach(case)}; usable {_where(case)}"


def _reach(case: Case) -> str:
    """What the tuner holds against what it sees, with the margin."""
    tuner = case.limits.tuner
    if tuner is None:
        return "there is no tuner"
    if tuner.max_swr is not None:
        return f"the tuner matches up to {tuner.max_swr:g}"
    z_ohm = case.curves.z_ohm
    if z_ohm is None or case.index is None:
        return f"there is {describe_tuner(tuner)}, and any impedance of this SWR fits it"
    return f"there is {describe_tuner(tuner)}; {_margin_text(complex(z_ohm[case.index]), case)}"


def _margin_text(z_ohm: complex, case: Case) -> str:
    if case.limits.tuner is None:
        return ""
    margin = find_margin(z_ohm, case.limits.tuner)
    side = "inside" if margin.ohm >= 0 else "outside"
    sign = "±" if case.curves.phase == "unsigned" else "+" if z_ohm.imag >= 0 else "-"
    seen = f"{z_ohm.real:.0f} {sign} j{abs(z_ohm.imag):.0f} ohm"
    return f"it sees {seen}, {abs(margin.ohm):.0f} ohm{_margin_ends(case)} {side} its {margin.edge}"


def _margin_ends(case: Case) -> str:
    """The interval of the margin where the sweep has one."""
    figure = _margin(case)
    if figure.low is None or figure.high is None or round(figure.low) == round(figure.high):
        return ""
    outside = figure.value is not None and figure.value < 0
    ends = sorted((-figure.low, -figure.high)) if outside else [figure.low, figure.high]
    return f" ({ends[0]:.0f} to {ends[1]:.0f})"


def _margin(case: Case) -> Figure:
    """Margin of the tuner's region at the best frequency. [ohm]"""
    tuner, z_ohm = case.limits.tuner, case.at.z_ohm
    if tuner is None or tuner.r_ohm is None or z_ohm is None or case.index is None:
        return Figure.none("there is no region of R and X, or no impedance")
    return margin_figure(z_ohm[:, case.index], tuner)


def fails_on(case: Case) -> FailsOn:
    """What a "no" rests on; empty for another verdict."""
    if case.verdict != "no":
        return ""
    usable = within_limit(case.curves, case.limits) | (reach_of(case.curves, case.limits) != BEYOND)
    if case.too_lossy and usable[case.index]:
        return "loss"
    by_region = case.limits.tuner is not None and case.limits.tuner.r_ohm is not None
    return "reach" if by_region else "swr"


def _no(case: Case) -> str:
    if fails_on(case) == "loss":
        return f"{_at_best(case)}, but {_lossy_parts(case)}"
    return f"{_at_best(case)} at best; the limit is {case.limits.limit_swr:g} and {_reach(case)}"


def _lossy_parts(case: Case) -> str:
    """Line, box or both, whichever carries the loss."""
    if case.box_loss_db == 0:
        loses, what = f"the line loses {_loss_text(case.loss_db)}", "the line comes"
    elif case.loss_db < LOSS_NAMED_DB / 10:
        loses, what = f"the box loses {_loss_text(case.box_loss_db)}", "the box comes"
    else:
        parts = f"{case.loss_db:.1f} dB and {case.box_loss_db:.1f} dB"
        loses = f"line and box lose {parts}, together {_loss_text(case.loss_db + case.box_loss_db)}"
        what = "the larger loss comes"
    better = "a better one" if what == "the box comes" else "a shorter or a better one"
    return f"{loses}; above {LOSS_TOO_MUCH_DB:g} dB {what} first: take {better}"


def _unknown(case: Case) -> str:
    if case.index is None:
        return "no SWR is known here; sweep the band again"
    if not case.enough:
        return f"only {_percent(case.covered)} of the band was swept; sweep {_band_text(case)}"
    if case.too_good is not None:
        return f"{case.too_good.text}; {case.too_good.next_step}"
    if any(part.verdict == "unknown" for part in case.segments):
        missing = "sign of X" if case.curves.phase == "unsigned" else "phase"
        return (
            f"{_at_best(case)} is above the limit of {case.limits.limit_swr:g}, and without the {missing} it "
            f"cannot be told whether it suits {describe_tuner(case.limits.tuner)}; sweep with phase"
        )
    return (
        f"{_at_best(case)} at best in the {_percent(case.covered)} of the band that was swept, which is not "
        f"usable; sweep {_band_text(case)} before giving it up"
    )


def _near_limit(case: Case) -> str:
    """The interval of the best SWR reaches over a limit."""
    tuner = case.limits.tuner
    reach = None if tuner is None else tuner.max_swr
    best = best_swr_figure(case.at)
    if best.low is None or best.high is None:
        return ""
    for limit, what in ((case.limits.limit_swr, "the limit"), (reach, "the tuner's reach")):
        if limit is not None and best.low <= limit < best.high:
            between = f"between {swr_text(best.low)} and {swr_text(best.high)}"
            return f"close call: the best SWR is {between} (95 %), on either side of {what} of {limit:g}"
    margin = _margin(case)
    if (
        case.verdict != "direct"
        and margin.low is not None
        and margin.high is not None
        and margin.low < 0 < margin.high
    ):
        return "close call: the interval (95 %) lies on both sides of the tuner's edge"
    return ""


def _on_battery(case: Case) -> str:
    """What is left at the lowest voltage that the kit tells, or at the one in use."""
    radio = case.limits.radio
    if radio.volts is not None and radio.power_at_volts:
        lowest = min(volts for volts, _ in radio.power_at_volts)
        below = f", below the kit's lowest {lowest:g} V," if radio.volts < lowest else ""
        most = " at most" if below else ""
        left = f"{_percent(radio.supply_share)} of {radio.power_w:g} W"
        return f"at {radio.volts:g} V{below} the radio gives{most} {left}"
    if not radio.power_at_volts or radio.power_at_volts[-1][1] >= 1:
        return ""
    volts, share = radio.power_at_volts[-1]
    return f"on {volts:g} V the radio gives {_percent(share)} of these watts"


def best_swr_figure(at: AtRadio) -> Figure:
    """The lowest SWR, each draw's own; in reflections, where no draw is far from the others."""
    gamma_abs = gamma_abs_from_swr(np.where(np.isnan(swr := at.swr[:]), np.inf, swr).min(axis=1))
    known = np.where(gamma_abs < 1, gamma_abs, np.nan)
    return Figure.from_draws(known, reason="no SWR is known here", wall=0.0).mapped(
        lambda g: (1 + g) / (1 - g)
    )


def _narrow(case: Case) -> str:
    width_hz = sum(part.width_hz for part in case.segments if part.verdict == case.verdict)
    if width_hz >= VOICE_CHANNEL_HZ:
        return ""
    return f"only {width_hz / 1e3:.1f} kHz wide, less than one voice channel"


def _rests_on_swr(case: Case) -> str:
    """What a file without phase cannot tell of a tuner known by its SWR."""
    if case.verdict != "tuner" or case.curves.phase != "none":
        return ""
    return "the file has no phase, so this rests on the SWR alone"


def _tuner_gives_more(case: Case) -> str:
    """Direct is allowed, but the radio folds back and would not through the tuner."""
    if case.verdict != "direct" or case.limits.tuner is None:
        return ""
    direct_w = float(leaving_w(case.swr, case.limits.radio))
    tuned_w = float(
        leaving_w(case.swr, case.limits.radio, case.limits.tuner, tuner_loss_db=_tuner_loss_db(case))
    )
    if reach_of(case.curves, case.limits)[case.index] != MATCHES or tuned_w < WORTH_TUNING * direct_w:
        return ""
    return f"through the tuner {tuned_w:.3g} W leave the radio instead of {direct_w:.3g} W"


def _tuner_loss_db(case: Case) -> float:
    """What the tuner would lose at the best frequency, nominal."""
    if case.limits.tuner is None:
        return 0.0
    z_ohm = case.curves.z_ohm if case.curves.phase == "signed" else None
    seen = None if z_ohm is None or case.index is None else z_ohm[case.index : case.index + 1]
    swr = np.array([case.swr])
    return float(tuner_loss_db(case.limits.tuner, swr, seen, z0_ohm=case.limits.radio.z0_ohm)[0])


def _named_loss(case: Case) -> str:
    """What tuner, line and told box lose, where it is worth a word."""
    return "; ".join(filter(None, (_named_tuner_loss(case), _named_line_loss(case), _named_box_loss(case))))


def _named_tuner_loss(case: Case) -> str:
    loss_db = _tuner_loss_db(case) if case.verdict == "tuner" else 0.0
    return f"the tuner loses {_loss_text(loss_db)}" if loss_db > LOSS_NAMED_DB else ""


def _named_line_loss(case: Case) -> str:
    if case.loss_db <= LOSS_NAMED_DB:
        return ""
    back = "; a tuner at the radio does not get that back" if case.verdict == "tuner" else ""
    return f"the line loses {_loss_text(case.loss_db)}{back}"


def _named_box_loss(case: Case) -> str:
    return f"the box loses {_loss_text(case.box_loss_db)}" if case.box_loss_db > LOSS_NAMED_DB else ""


def _uncovered(case: Case) -> str:
    if round(case.covered, 2) >= 1:
        return ""
    return f"{_percent(case.covered)} of the band was swept; the rest has no verdict"


def _loss_text(loss_db: float) -> str:
    if loss_db >= ALL_LOST_DB:
        return "all of the power"
    return f"{loss_db:.1f} dB ({_percent(1 - float(share_from_loss_db(loss_db)))} of the power)"


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %"


def _band_text(case: Case) -> str:
    low_hz, high_hz = case.band_hz
    return f"{low_hz / 1e6:.3f} to {frequency_text(high_hz)}"
