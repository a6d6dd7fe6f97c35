"""A measured line as the JSON that ``sweepkit feedline`` promises, and as a block of kit.toml that gives it back."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from sweepkit.conversions import FloatArray
from sweepkit.feedline.loss_check import OwnRecord, find_loss_excess_db, loss_excess_over_record_db
from sweepkit.feedline.measure import LineMeasurement
from sweepkit.feedline.reflections import BARE_END
from sweepkit.findings import Finding
from sweepkit.plain_types import to_plain

SCHEMA = "sweepkit/feedline/1"
# Of a velocity factor or a loss: no field measurement is surer; common practice, no source
LEAST_TOLERANCE = 0.001

GUESSED = ("# length not told: distances are", "# scaled by a guess; give --length")


def measurement_json(
    measured: LineMeasurement, findings: Sequence[Finding], record: OwnRecord | None = None
) -> dict[str, Any]:
    """The document of the contract; with a ``record`` it is compared with that in place of its type."""
    return {
        "schema": SCHEMA,
        "length_m": measured.length_m.to_json(),
        "velocity_factor": measured.velocity_factor.to_json(),
        "z0_ohm": measured.z0_ohm.to_json(),
        "resolution_m": measured.resolution_m,
        "range_m": measured.range_m,
        "loss_db": [
            {"f_hz": float(f_hz), **loss.to_json()}
            for f_hz, loss in zip(measured.loss_hz, measured.loss_db, strict=True)
            if loss.value is not None
        ],
        "reflections": to_plain(measured.reflections),
        "compared_with": _compared(measured, record),
        "kit": kit_block_of(measured, findings),
        "findings": to_plain(findings),
    }


def _compared(measured: LineMeasurement, record: OwnRecord | None) -> dict[str, Any] | None:
    """Loss over that of its own record, else of its type."""
    if record is not None:
        excess = loss_excess_over_record_db(measured, record)
        own = {"sweeps": list(record.sweeps), "when": record.when}
        return {"type": record.name, "loss_excess_db": excess.to_json(), "record": own}
    piece = measured.told.piece
    if piece is None:
        return None
    return {"type": piece.type or piece.name, "loss_excess_db": find_loss_excess_db(measured).to_json()}


def kit_block(measured: LineMeasurement, *, name: str = "measured") -> str:
    """TOML for the line, one table for each of its sections.

    The delay is what was measured, so length and velocity factor stand as one pair: the length without
    tolerance, the velocity factor with that of the delay, marked with the frequency it holds at. How far both may be
    off together is the tolerance of the scale.
    """
    if not measured.identified.is_explained or abs(measured.identified.ends[0]) < BARE_END:
        return ""
    sections = measured.identified.fit.sections
    count = len(sections.delay_s)
    middle_hz = measured.middle_hz
    in_place = float(measured.scale.velocity_factor[0] / measured.draws.slowing(middle_hz)[0])
    delay_tolerance = _relative_sigma(measured.draws.total_delay_s)
    scale_tolerance = _relative_sigma(measured.scale.velocity_factor)
    is_guess = measured.told.length_m is None and measured.told.known_velocity_factor is None
    loss_tolerance = _relative_sigma(measured.draws.loss_db(np.array([middle_hz]))[:, 0])
    tables = []
    for k, (delay_s, z0_ohm) in enumerate(zip(sections.delay_s, sections.z0_ohm, strict=True)):
        share = delay_s / sections.total_delay_s
        length_m = float(measured.scale.length_m[0]) * share
        k1 = 100 * sections.k1_db * share / length_m
        k2 = 100 * sections.k2_db * share / length_m
        lines = [
            f"[lines.{name if count == 1 else f'{name}-{k + 1}'}]",
            f"z0_ohm = {z0_ohm:.2f}",
            f"z0_tolerance = {_relative_sigma(measured.draws.z0_ohm[:, k]):.4f}",
            f"velocity_factor = {in_place:.6f}",
            f'velocity_factor_at = "{middle_hz / 1e6:g} MHz"',
            f"velocity_factor_tolerance = {delay_tolerance:.4f}",
            f"k1 = {k1:.5f}",
            f"k2 = {k2:.6f}",
            f"loss_tolerance = {loss_tolerance:.3f}",
            f'length = "{length_m:.4f} m"',
            "# one pair with the velocity factor:",
            "# their delay was measured",
            'length_tolerance = "0 cm"',
            *(GUESSED if is_guess else ()),
            f"scale_tolerance = {scale_tolerance:.4f}",
        ]
        tables.append("\n".join(lines) + "\n")
    return "\n".join(tables)


def kit_block_of(measured: LineMeasurement, findings: Sequence[Finding]) -> str:
    """The same; empty for a line that is broken or shorted on the way, of which nobody wants more."""
    told = any(end != "unknown" for end in measured.told_ends)
    ended = [finding for finding in findings if finding.code in ("open-line", "shorted-line")]
    broken = any(told or finding.level == "stop" for finding in ended)
    return "" if broken else kit_block(measured)


def _relative_sigma(values: FloatArray) -> float:
    """Spread of draws over their nominal value, not below what is believable."""
    if values.size < 2 or values[0] <= 0:
        return LEAST_TOLERANCE
    return max(LEAST_TOLERANCE, float(values[1:].std() / values[0]))
