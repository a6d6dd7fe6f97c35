"""How a column of numbers prints: its decimals, its digits, and so the smallest step it can show."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from statistics import mode

import numpy as np

from sweepkit.printed_step import PrintedStep, Step
from sweepkit.readers.options import Options

ENOUGH_NUMBERS = (
    8  # so many numbers that all end in 0 do so because the instrument shows no more; our own choice
)
_NUMBER = re.compile(r"[+-]?\s?(\d*)[.,]?(\d*)(?:[eEdD]([+-]?\d+))?[^0-9.,]*$")


def printed_step(texts: Iterable[str], decimal: str = ".") -> Step:
    """Smallest step of a column, from some of its printed numbers.

    Parameters
    ----------
    texts : iterable of str
        Numbers as printed; of a complex number the last part counts.
    decimal : {".", ","}
        Decimal mark.

    Returns
    -------
    Step
        Relative where the count of digits is what the numbers share, absolute where the count of decimals is.
    """
    parts = [_split(text, decimal) for text in texts]
    if not parts:
        return Step(0.0)
    decimals = [len(behind) for _, behind, _ in parts]
    digits = [
        len((before + behind).lstrip("0")) for before, behind, _ in parts if (before + behind).strip("0")
    ]
    with_exponent = sum(exponent for _, _, exponent in parts) > len(parts) / 2
    shown = max(decimals)
    if digits and (with_exponent or _share(digits) > _share(decimals)):
        return Step(0.0, relative=10.0 ** (1 - max(digits)), decimals=0 if with_exponent else shown)
    if len(parts) >= ENOUGH_NUMBERS:
        decimals = [len(behind.rstrip("0")) for _, behind, _ in parts]
    return Step(10.0 ** -max(decimals), decimals=shown)


_NAMES = {
    ("S", "RI"): ("re", "im"),
    ("S", "MA"): ("mag", "s_phase"),
    ("S", "DB"): ("db", "s_phase"),
    ("Z", "RI"): ("r", "x"),
    ("Z", "MA"): ("z_abs", "z_phase"),
    ("Y", "RI"): ("g", "b"),
    ("Y", "MA"): ("y_abs", "y_phase"),
}


def network_step(
    options: Options, reference_ohm: float, pairs: Sequence[tuple[str, str]], *, absolute: bool = False
) -> PrintedStep | None:
    """Printed step of a one-port Touchstone file, from some of its pairs of numbers."""
    names = _NAMES.get((options.parameter, options.number_format))
    if names is None or not pairs:
        return None
    first, second = (printed_step(texts) for texts in zip(*pairs, strict=True))
    unit = {"S": 1.0, "Z": reference_ohm, "Y": 1 / reference_ohm}[options.parameter]
    unit = 1.0 if absolute else unit
    polar = options.number_format != "RI"
    return PrintedStep(
        names, (first.scaled(unit), second.scaled(np.pi / 180 if polar else unit)), reference_ohm
    )


def _split(text: str, decimal: str) -> tuple[str, str, bool]:
    """Digits before and behind the mark of the last number in a text, and whether it has an exponent."""
    if decimal == ",":
        text = text.replace(".", "").replace(",", ".")
    match = _NUMBER.search(text.replace(",", "")) if decimal == "." else _NUMBER.search(text)
    if match is None:
        return "", "", False
    return match.group(1), match.group(2), match.group(3) is not None


def _share(counts: list[int]) -> float:
    return counts.count(mode(counts)) / len(counts)
