"""Measured loss of a line against what its type should lose, or against its own record from when it was good."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sweepkit.conversions import FloatArray
from sweepkit.feedline.measure import LineMeasurement
from sweepkit.feedline.propagation import formula_loss_db_per_100m
from sweepkit.figures import Figure
from sweepkit.findings import Finding
from sweepkit.lines import LinePiece
from sweepkit.quantities import frequency_text, length_text

SPREADS = 2.0  # a loss is off when it lies so many spreads of the published figures away
LEAST_EXCESS_DB = 0.1  # below this, extra loss matters to nobody; common practice, no source
ABSURD = 4.0  # so many times the loss of the type: perhaps a longer line, folded back into the range
COMPARED_BELOW_HZ = 30e6  # one number for the excess is given at the highest listed frequency below this
SAME_DELAY = 0.05  # heat, flexing and water move the delay of one piece by less; common practice, no source


def expected_loss_db(measured: LineMeasurement, piece: LinePiece, f_hz: FloatArray) -> FloatArray:
    """Loss that a good line of this type and of each draw's length has, shape (draws, n).

    A record whose scale is not sure has its loss for its delay, whatever metres are.
    """
    per_m = formula_loss_db_per_100m(f_hz, piece.k1_db_per_100m, piece.k2_db_per_100m) / 100
    length_m, known = measured.scale.length_m, measured.told.known_velocity_factor
    if piece.scale_sigma and known is not None:
        length_m = length_m / measured.scale.velocity_factor * known
    return np.asarray(length_m[:, None] * per_m)


def compared_hz(measured: LineMeasurement) -> float:
    """Where one number for the excess is given: the highest listed frequency below 30 MHz. [Hz]"""
    below = measured.loss_hz[measured.loss_hz <= COMPARED_BELOW_HZ]
    return float(below[-1] if below.size else measured.loss_hz[0])


def find_loss_excess_db(measured: LineMeasurement) -> Figure:
    """Measured loss over that of the told type, at the highest listed frequency below 30 MHz; below 0: less. [dB]"""
    piece = measured.told.piece
    if piece is None or not measured.identified.is_explained:
        return Figure.none("no type was told to compare with, or no line was measured")
    f_hz = np.array([compared_hz(measured)])
    excess = measured.draws.loss_db(f_hz) - expected_loss_db(measured, piece, f_hz)
    return Figure.from_draws(excess[:, 0], reason="no line was measured")


def check_loss(measured: LineMeasurement) -> list[Finding]:
    """One finding where the line loses clearly more, or less, than its type can."""
    piece = measured.told.piece
    if piece is None:
        return []
    f_hz = measured.loss_hz
    share = measured.draws.loss_db(f_hz) / expected_loss_db(measured, piece, f_hz)
    loss_db, expected_db = measured.draws.loss_db(f_hz)[0], expected_loss_db(measured, piece, f_hz)[0]
    low, high = (share, share) if len(share) == 1 else np.quantile(share[1:], [0.025, 0.975], axis=0)
    matters = np.abs(loss_db - expected_db) > LEAST_EXCESS_DB
    is_more = np.atleast_2d(low)[0] > 1 + SPREADS * piece.loss_sigma
    is_less = np.atleast_2d(high)[0] < 1 - SPREADS * piece.loss_sigma
    worst = int(np.argmax(np.where(matters & (is_more | is_less), np.abs(np.log(share[0])), -1)))
    at = (
        f"{loss_db[worst]:.2f} dB at {frequency_text(float(f_hz[worst]))}, where {expected_db[worst]:.2f} "
        f"are expected of {length_text(float(measured.scale.length_m[0]))} of {piece.type or piece.name}"
    )
    if matters[worst] and is_more[worst]:
        return [_too_lossy(at, float(share[0, worst]), measured.range_m)]
    return [_too_good(at)] if matters[worst] and is_less[worst] else []


def _too_lossy(at: str, share: float, range_m: float) -> Finding:
    text = f"the line loses {at}: water in it, corroded braid, or another type"
    step = "radio off and disconnected: look at connectors and jacket; dry the line or replace it"
    if share > ABSURD:
        text += f"; or it is longer than the {range_m:.0f} m that this sweep tells apart, and seems nearer"
        step += "; sweep again with twice the points"
    return Finding("line-loss", "warning", text, step)


def _too_good(at: str) -> Finding:
    return Finding(
        "wrong-type",
        "warning",
        f"the line loses only {at}: it is another type",
        "read the jacket of the cable, and tell its type with --type",
    )


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
