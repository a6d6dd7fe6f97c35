"""A measured line as the JSON that ``sweepkit feedline`` promises."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sweepkit.feedline.kit_block import kit_block_of
from sweepkit.feedline.loss_check import find_loss_excess_db
from sweepkit.feedline.measure import LineMeasurement
from sweepkit.feedline.own_record import OwnRecord, loss_excess_over_record_db
from sweepkit.findings import Finding
from sweepkit.plain_types import to_plain

SCHEMA = "sweepkit/feedline/1"


def measurement_json(
    measured: LineMeasurement, findings: Sequence[Finding], record: OwnRecord | None = None
) -> dict[str, Any]:
    """The document of the contract.

    ``record``: the same piece earlier; it is compared with in place of its type.
    """
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
