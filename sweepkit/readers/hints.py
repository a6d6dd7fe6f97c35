"""What the user says about a file that the file does not say itself."""

from __future__ import annotations

from dataclasses import dataclass

from sweepkit.errors import BadInput
from sweepkit.limits import refuse_outside

UNIT_HZ = {"hz": 1.0, "khz": 1e3, "mhz": 1e6, "ghz": 1e9}
_DECIMAL = {"comma": ",", "point": ".", ",": ",", ".": "."}


@dataclass(frozen=True)
class Hints:
    """Checked hints; ``None`` where the user said nothing."""

    columns: tuple[str, ...] | None = None  # what each column holds, in the file's order
    unit_hz: float | None = None  # of the frequencies
    decimal: str | None = None  # mark of the numbers
    reference_ohm: float | None = None  # where the file states none
    trace: str | None = None  # which of several reflections: s22, or words of a column's name
    recover_sign: bool = False  # of an unsigned reactance, where the sweep itself tells it


def make_hints(
    *,
    columns: str | None = None,
    unit: str | None = None,
    decimal: str | None = None,
    reference_ohm: float | None = None,
    trace: str | None = None,
    recover_sign: bool = False,
) -> Hints:
    """Check hints as the user wrote them."""
    if unit is not None and unit.strip().lower() not in UNIT_HZ:
        raise BadInput(f"--unit is {unit!r}; it must be Hz, kHz, MHz or GHz")
    if decimal is not None and decimal.strip().lower() not in _DECIMAL:
        raise BadInput(f"--decimal is {decimal!r}; it must be comma or point")
    refuse_outside("reference_ohm", reference_ohm, called="--reference-ohm")
    named = None if columns is None else tuple(word.strip() for word in columns.split(","))
    return Hints(
        columns=named,
        unit_hz=None if unit is None else UNIT_HZ[unit.strip().lower()],
        decimal=None if decimal is None else _DECIMAL[decimal.strip().lower()],
        reference_ohm=None if reference_ohm is None else float(reference_ohm),
        trace=None if trace is None else trace.strip(),
        recover_sign=recover_sign,
    )
