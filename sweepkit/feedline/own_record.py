"""A piece of line against its own record: the same piece swept earlier, when it was good."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sweepkit.feedline.loss_check import COMPARED_BELOW_HZ, LEAST_EXCESS_DB
from sweepkit.feedline.measure import LineMeasurement
from sweepkit.figures import Figure
from sweepkit.findings import Finding
from sweepkit.quantities import frequency_text, length_text

SAME_DELAY = 0.05  # heat, flexing and water move the delay of one piece by less; common practice, no source


@dataclass(frozen=True, eq=False)
class OwnRecord:
    """An earlier measurement of the same piece."""

    name: str  # the operator's own
    sweeps: tuple[int, ...]  # those it rests on, by their numbers in the logbook
    when: str | None  # ISO 8601
    measured: LineMeasurement  # with as many draws as what is compared


def compared_at_hz(measured: LineMeasurement, record: OwnRecord) -> float | None:
    """Highest listed frequency up to 30 MHz that both swept; ``None`` where there is none. [Hz]"""
    swept = record.measured.swept_hz
    listed = [float(f) for f in measured.loss_hz if swept[0] <= f <= swept[-1]]
    return max((f for f in listed if f <= COMPARED_BELOW_HZ), default=min(listed, default=None))


def loss_excess_over_record_db(measured: LineMeasurement, record: OwnRecord) -> Figure:
    """Loss now over that of the record, negative where it loses less now.

    No answer where one of them measured no line, where they have no frequency in common, or where the piece is of
    another length now.
    """
    then = record.measured
    if not (measured.identified.is_explained and then.identified.is_explained):
        return Figure.none("no line was measured, now or in its record")
    if abs(_delay_ratio(measured, record) - 1) > SAME_DELAY:
        return Figure.none("the piece has another length than in its record")
    f_hz = compared_at_hz(measured, record)
    if f_hz is None:
        return Figure.none("the sweep and the record have no listed frequency in common")
    at = np.array([f_hz])
    excess = measured.draws.loss_db(at) - then.draws.loss_db(at)
    return Figure.from_draws(excess[:, 0], reason="no line was measured")


def check_against_record(measured: LineMeasurement, record: OwnRecord) -> list[Finding]:
    """What is said of a piece that is no longer what it was."""
    then = record.measured
    if not (measured.identified.is_explained and then.identified.is_explained):
        return []
    ratio = _delay_ratio(measured, record)
    if abs(ratio - 1) > SAME_DELAY:
        then_m = float(then.scale.length_m[0])
        text = (
            f"{record.name} was {length_text(then_m)} long in its record and ends at "
            f"{length_text(ratio * then_m)} now: it was cut, it is broken there, or it is another piece"
        )
        step = "radio off and disconnected: read the label, and look at the line at that distance"
        return [Finding("length-contradicts-delay", "stop", text, step)]
    excess, f_hz = loss_excess_over_record_db(measured, record), compared_at_hz(measured, record)
    if excess.value is None or excess.value < LEAST_EXCESS_DB or not (excess.low is None or excess.low > 0):
        return []
    text = (
        f"{record.name} loses {excess.value:.2f} dB more at {frequency_text(f_hz or 0.0)} than in its own "
        "record: water in it, or a connector that has aged"
    )
    step = "radio off and disconnected: look at connectors and jacket; dry the line or replace it"
    return [Finding("line-loss", "warning", text, step)]


def _delay_ratio(measured: LineMeasurement, record: OwnRecord) -> float:
    """Delay now over that of the record. [-]"""
    then_s = record.measured.identified.fit.sections.total_delay_s
    return float(measured.identified.fit.sections.total_delay_s / then_s)
