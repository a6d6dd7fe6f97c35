"""Touchstone files, version 1.0 and 1.1.

Touchstone File Format Specification, Rev 1.1 (EIA/IBIS Open Forum, 2002).
"""

from __future__ import annotations

import numpy as np

from sweepkit.conversions import gamma_from_z
from sweepkit.errors import UnreadableFile
from sweepkit.findings import Finding
from sweepkit.readers.assembly import Rows
from sweepkit.readers.hints import Hints
from sweepkit.readers.opening import Text
from sweepkit.readers.options import EXAMPLE
from sweepkit.readers.plain_one_port import complex_numbers
from sweepkit.readers.records import Records, has_option_line, list_version_1, read_numbers

NAME = "touchstone"
SUMMARY = "Touchstone 1.0 and 1.1: an option line such as # MHz S RI R 50, then numbers"


def recognise(head: str) -> bool:
    """Whether the beginning of a file is Touchstone version 1."""
    return "[version]" not in head.lower() and has_option_line(head)


def read(text: Text, hints: Hints) -> tuple[Rows, tuple[str, ...]]:
    """Rows and remarks of a Touchstone version 1 file.

    Raises
    ------
    UnreadableFile
        Anything that breaks the format, with the line.
    """
    listing = list_version_1(text)
    if listing.options is None:
        raise UnreadableFile(f"no option line; expected one like {EXAMPLE}; add it", line=1)
    if not listing.bodies:
        raise UnreadableFile(
            "no measured points; expected lines of numbers; export the sweep again", line=len(text.lines)
        )
    options = listing.options
    records = read_numbers(listing.bodies, hints.decimal)
    check_columns(records, 3)
    values = np.frombuffer(records.numbers, dtype=np.float64).reshape(-1, 3)
    numbers = complex_numbers(values[:, 1:], options.number_format)
    reference_ohm = options.reference_ohm or 50.0
    if options.parameter == "Z":
        numbers = gamma_from_z(numbers, 1.0)
    elif options.parameter == "Y":
        numbers = -gamma_from_z(numbers, 1.0)
    elif options.parameter != "S":
        raise UnreadableFile(f"{options.parameter} parameters of one port; expected S, Z or Y; export S")
    findings = comma_finding(records)
    rows = Rows(
        values[:, 0] * options.unit_hz, numbers, "signed", np.array(records.lines), reference_ohm, findings
    )
    return rows, tuple(listing.remarks)


def check_columns(records: Records, expected: int) -> None:
    """Refuse the first line that has another number of numbers."""
    for at, line in enumerate(records.lines):
        count = records.count(at)
        if count != expected:
            last = at == len(records.lines) - 1 and at > 0
            cure = "the file looks cut short - export the sweep again" if last else "correct the line"
            raise UnreadableFile(f"line has {count} numbers, {expected} expected; {cure}", line=line)


def comma_finding(records: Records) -> tuple[Finding, ...]:
    """Say that decimal commas were read, which the format does not allow."""
    if records.style.decimal == ".":
        return ()
    text = "numbers have decimal commas, which Touchstone does not allow; they were read as decimal marks"
    return (Finding("decimal-commas", "note", text, "compare one frequency with the analyzer's screen"),)
