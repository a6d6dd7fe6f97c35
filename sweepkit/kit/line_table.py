"""One piece of line from its table in a kit file: a catalogued type, or its own constants."""

from __future__ import annotations

from typing import Any

from sweepkit.errors import BadInput
from sweepkit.kit.choosing import NO_LINE
from sweepkit.kit.table import Table
from sweepkit.lines import LinePiece, catalogued_piece, find_line_type

OWN_SOURCE = "the operator's own constants"
OWN_CONSTANTS = ("z0_ohm", "velocity_factor", "k1", "k2")
LINE_KEYS = (
    "type",
    "length",
    *OWN_CONSTANTS,
    "length_tolerance",
    "velocity_factor_tolerance",
    "loss_tolerance",
    "z0_tolerance",
    "scale_tolerance",
    "velocity_factor_at",
    "z0_at",
)


def line_from_table(name: str, table: Table) -> LinePiece:
    """The piece of line that a table describes; what it cannot be is refused with the line in the file."""
    table.refuse_unknown(LINE_KEYS)
    if name == NO_LINE:
        raise table.error("", f"a line is called {NO_LINE!r}, which says that there is no line; rename it")
    length_m = _length_m(table)
    known = {field: value for field, value in _known(table).items() if value is not None}
    known |= _own_loss(table) | _own_impedance(table)
    type_name = table.text("type", example="RG-58")
    if type_name is None:
        _refuse_missing(table)
        return LinePiece(name=name, length_m=length_m, **known)
    try:
        return catalogued_piece(find_line_type(type_name).type, length_m, name=name, **known)
    except BadInput as error:
        raise table.error("type", error.text) from error


def _length_m(table: Table) -> float:
    length_m = table.length_m("length")
    if length_m is not None and length_m > 0:
        return length_m
    found = "no length" if length_m is None else f"a length of {length_m:g} m"
    rule = 'one above 0 was expected; write length = "15 m"'
    raise table.error("length", f"[{table.name}] has {found}; {rule}")


def _known(table: Table) -> dict[str, Any]:
    """Constants and tolerances by their name in :class:`LinePiece`; ``None`` where left out."""
    return {
        "z0_ohm": table.number("z0_ohm", example="50", limit="z0_ohm"),
        "velocity_factor": table.number(
            "velocity_factor", example="0.66", limit="velocity_factor", remark="a share of the speed of light"
        ),
        "k1_db_per_100m": _loss(table, "k1", "1.38"),
        "k2_db_per_100m": _loss(table, "k2", "0.0135"),
        "length_sigma_m": _length_sigma_m(table),
        "velocity_factor_sigma": _fraction(table, "velocity_factor_tolerance"),
        "loss_sigma": _fraction(table, "loss_tolerance"),
        "z0_sigma": _fraction(table, "z0_tolerance"),
        "scale_sigma": _fraction(table, "scale_tolerance"),
        "velocity_factor_at_hz": table.frequency_hz("velocity_factor_at"),
        "z0_at_hz": table.frequency_hz("z0_at"),
    }


def _loss(table: Table, key: str, example: str) -> float | None:
    return table.number(key, example=example, limit=key, remark="a loss is positive")


def _fraction(table: Table, key: str) -> float | None:
    return table.number(key, example="0.05", limit="tolerance", remark="0.05 is 5 %")


def _length_sigma_m(table: Table) -> float | None:
    length_m = table.length_m("length_tolerance")
    if length_m is not None and length_m < 0:
        rule = 'it must be 0 or more; write length_tolerance = "5 cm"'
        raise table.error("length_tolerance", f"{table.name}.length_tolerance is {length_m:g} m; {rule}")
    return length_m


def _own_loss(table: Table) -> dict[str, Any]:
    """What changes when the loss is the operator's own: no range of a fit, another source."""
    own = [key for key in ("k1", "k2") if key in table.values]
    if len(own) == 1:
        missing = "k2" if own == ["k1"] else "k1"
        rule = f"the loss needs both, k1*sqrt(f_MHz) + k2*f_MHz; add {missing} (0 if there is none)"
        raise table.error(own[0], f"[{table.name}] has {own[0]} without {missing}; {rule}")
    return {"fit_low_hz": None, "fit_high_hz": None, "source": OWN_SOURCE} if own else {}


def _own_impedance(table: Table) -> dict[str, Any]:
    """The operator's own impedance is the high-frequency limit, unless it is said where it was measured."""
    return {"z0_at_hz": None} if "z0_ohm" in table.values and "z0_at" not in table.values else {}


def _refuse_missing(table: Table) -> None:
    """Without a catalogued type all constants are needed."""
    missing = [key for key in OWN_CONSTANTS if key not in table.values]
    if missing:
        raise table.error(
            "",
            f"[{table.name}] has no type and lacks {', '.join(missing)}; a catalogued type, or "
            f'{", ".join(OWN_CONSTANTS)}, were expected; write type = "RG-58", or add what is missing',
        )
