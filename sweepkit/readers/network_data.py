"""From lines of network parameters to rows of one port's reflection, for both versions of Touchstone."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.errors import NeedsHint, UnreadableFile
from sweepkit.findings import Finding
from sweepkit.readers.assembly import left_out_finding, refuse_lone_turn, refuse_no_size
from sweepkit.readers.hints import Hints
from sweepkit.readers.number_block import Remarks
from sweepkit.readers.numbers import Style, is_plain_number
from sweepkit.readers.odd_rows import refuse_odd
from sweepkit.readers.opening import Text
from sweepkit.readers.options import EXAMPLE, Options
from sweepkit.readers.order import PrintedNumber, PrintedRow, Rows
from sweepkit.readers.ports import (
    arranged,
    chosen_port,
    complex_numbers,
    network_step,
    port_finding,
    reflection,
    refuse_unnormalised,
)
from sweepkit.readers.printing import Printed, column_step
from sweepkit.readers.records import Parts, infer_ports, numbers_of, numbers_per_point, point_lines

CHECKED_COLUMNS = 9  # of a two-port; of more ports only frequency and first reflection are looked at
# All sizes above 0 dB and some above this are no noise around total reflection; our own choice
LINEAR_DB = 0.3
DEFAULT_REFERENCE_OHM = 50.0  # the rule where the option line states none (Touchstone 1.1, "Option Line")

_PORT_IMPEDANCE = re.compile(
    r"port\s*impedance\s*[=:]?\s*([-+]?[\d.]+(?:e[-+]?\d+)?)(?:\s+([-+]?[\d.]+(?:e[-+]?\d+)?))?",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class Layout:
    """What the head of a Touchstone file says about its numbers."""

    options: Options
    options_line: int
    absolute: bool  # Z, Y, G and H in ohm and siemens (version 2), not divided by the reference
    ports: int | None = None  # as the file states it
    named_ports: int | None = None  # as its name does
    references_ohm: tuple[float, ...] | None = None  # [Reference] of each port
    order: str = "21_12"  # which transmission of a two-port stands first
    triangle: str = "full"  # part of the matrix that is written
    points: int | None = None  # [Number of Frequencies] and its line
    points_line: int | None = None


@dataclass(frozen=True)
class Matrices:
    """All parameters of a file as it holds them."""

    f_hz: FloatArray
    parameters: ComplexArray  # as printed, shape (n, ports, ports)
    lines: NDArray[np.int64]  # of each point
    references_ohm: tuple[float, ...]  # of each port
    findings: tuple[Finding, ...] = ()  # rows that may be damaged

    @property
    def ports(self) -> int:
        """How many."""
        return int(self.parameters.shape[1])


def read_matrices(text: Text, parts: Parts, layout: Layout, hints: Hints) -> Matrices:
    """The parameters of every port."""
    block, options = numbers_of(text, parts, hints), layout.options
    _refuse_column_hints(hints, layout)
    ports = layout.ports or infer_ports(block, layout.named_ports)
    size = numbers_per_point(ports, triangular=layout.triangle != "full")
    firsts = point_lines(block, size, noise_may_follow=ports == 2 and not layout.absolute)
    _check_points(firsts.size, layout)
    lines = block.lines[firsts]
    values = block.values[: firsts.size * size].reshape(-1, size)
    findings: list[Finding] = []
    if not block.is_even:
        for at in range(size if size <= CHECKED_COLUMNS else 3):
            column = Printed.of_block(block, at, size, firsts.size)
            cut_short = at == size - 1 and text.is_cut_short
            findings += refuse_odd(column, lines, cut_short=cut_short, never_alone=at == 0)
    _refuse_wrong_format(values, options, lines)
    parameters = arranged(
        complex_numbers(values[:, 1:], options.number_format), ports, layout.order, layout.triangle
    )
    f_hz, references_ohm = values[:, 0] * options.unit_hz, _references(layout, hints, ports)
    return Matrices(f_hz, parameters, lines, references_ohm, tuple(findings))


def network_rows(text: Text, parts: Parts, layout: Layout, hints: Hints) -> Rows:
    """Rows of one port's reflection."""
    read = read_matrices(text, parts, layout, hints)
    options, ports = layout.options, read.ports
    port = chosen_port(hints.trace, ports)
    try:
        gamma = reflection(read.parameters, options, read.references_ohm, port, absolute=layout.absolute)
    except UnreadableFile as error:
        error.line = layout.options_line
        raise
    reference_ohm = read.references_ohm[port]
    if not layout.absolute and hints.reference_ohm is None:
        refuse_unnormalised(gamma, options, reference_ohm, layout.options_line)
    left_out = rows_among(parts.remarks, numbers_per_point(ports), layout.options_line)
    findings = (
        *port_finding(port, ports),
        *_comma_finding(parts.style),
        *remark_finding(parts.remarks, reference_ohm),
        *read.findings,
        *left_out_finding(left_out),
    )
    step = None
    if ports == 1:
        steps = [column_step(numbers_of(text, parts, hints), at, 3, read.f_hz.size) for at in (1, 2)]
        step = network_step(options, reference_ohm, steps, absolute=layout.absolute)
    printed_row = _row_printer(text, layout, read, port, parts.style.decimal)
    return Rows(read.f_hz, gamma, "signed", read.lines, reference_ohm, findings, step, printed_row)


def _row_printer(
    text: Text, layout: Layout, read: Matrices, port: int, decimal: str
) -> Callable[[int], PrintedRow | None]:
    """How a point prints that stands in one line; none of the numbers are kept, which weigh much in a large file."""
    size = numbers_per_point(read.ports, triangular=layout.triangle != "full")
    ports, references_ohm = read.ports, read.references_ohm

    def reflections(rows: FloatArray) -> ComplexArray:
        parts = complex_numbers(rows[:, 1:], layout.options.number_format)
        matrices = arranged(parts, ports, layout.order, layout.triangle)
        return reflection(matrices, layout.options, references_ohm, port, absolute=layout.absolute)

    def printed_row(line: int) -> PrintedRow | None:
        words = text.line(line).partition("!")[0].split()
        if len(words) != size or not all(is_plain_number(word.replace(decimal, ".")) for word in words):
            return None
        return PrintedRow(
            tuple(map(PrintedNumber, words)), size, decimal, lambda f: f * layout.options.unit_hz, reflections
        )

    return printed_row


def _refuse_column_hints(hints: Hints, layout: Layout) -> None:
    if hints.columns is not None or (hints.unit_hz not in (None, layout.options.unit_hz)):
        raise UnreadableFile(
            "the option line says what the columns and their unit are, and the hints say something else; "
            "expected no clash; leave --columns and --unit out, or correct the option line",
            line=layout.options_line,
        )


def _check_points(found: int, layout: Layout) -> None:
    if layout.points is not None and layout.points != found:
        raise UnreadableFile(
            f"[Number of Frequencies] is {layout.points}, but the file holds {found}; expected both equal; "
            "the file looks cut short or damaged - export the sweep again",
            line=layout.points_line,
        )


def _references(layout: Layout, hints: Hints, ports: int) -> tuple[float, ...]:
    """Reference of each port; the hint fills a gap and never overrules the file."""
    stated = layout.references_ohm
    if stated is None and layout.options.reference_ohm is not None:
        stated = (layout.options.reference_ohm,) * ports
    if stated is None and layout.options.bare_r and hints.reference_ohm is None:
        raise NeedsHint(
            f"the option line has R without a number; expected ohms, like {EXAMPLE}; pass --reference-ohm 50 "
            "(or what it is), or write it there",
            hint="reference-ohm",
            line=layout.options_line,
        )
    if stated is None:
        return (hints.reference_ohm or DEFAULT_REFERENCE_OHM,) * ports
    if hints.reference_ohm is not None and hints.reference_ohm not in stated:
        raise UnreadableFile(
            f"the file states {stated[0]:g} ohm as reference, --reference-ohm says {hints.reference_ohm:g}; "
            "expected no clash; leave the option out",
            line=layout.options_line,
        )
    return stated


def _refuse_wrong_format(values: FloatArray, options: Options, lines: NDArray[np.int64]) -> None:
    """Sizes that the format in the option line cannot have."""
    if options.number_format == "RI":
        return
    sizes = values[:, 1::2]
    refuse_lone_turn(np.radians(values[:, 2]), lines)
    if options.number_format == "DB":
        refuse_no_size(sizes[:, 0], lines)
        if options.parameter == "S" and sizes.shape[1] == 1 and sizes.min() > 0 and sizes.max() > LINEAR_DB:
            raise UnreadableFile(
                f"all sizes are above 0 dB, up to {sizes.max():.3g}; expected decibels of 0 or less, as DB in the "
                "option line says; write MA there if the numbers are linear",
                line=int(lines[0]),
            )
        return
    wrong = (sizes < 0).any(axis=1)
    if wrong.any():
        raise UnreadableFile(
            "negative magnitude; expected 0 or more, as MA in the option line says; "
            "write DB there if the numbers are decibels, RI if they are real and imaginary parts",
            line=int(lines[int(np.argmax(wrong))]),
        )


def _comma_finding(style: Style) -> tuple[Finding, ...]:
    if style.decimal == ".":
        return ()
    text = "numbers have commas, which Touchstone does not allow; they were read as decimal marks"
    return (Finding("commas-in-numbers", "note", text, "compare one frequency with the analyzer's screen"),)


def rows_among(remarks: Remarks, size: int, first_line: int) -> list[int]:
    """Lines of remarks below the option line that hold as many numbers as a point, and nothing else."""
    return [
        line
        for line, remark in remarks
        if line > first_line and len(words := remark.split()) == size and all(map(is_plain_number, words))
    ]


def remark_finding(remarks: Remarks, reference_ohm: float) -> tuple[Finding, ...]:
    """A port impedance in the remarks that is not the reference is said, not used."""
    for _, remark in remarks:
        match = _PORT_IMPEDANCE.search(remark)
        if match is None:
            continue
        try:
            impedance = complex(float(match.group(1)), float(match.group(2) or 0))
        except ValueError:
            continue
        if abs(impedance - reference_ohm) > 1e-3 * reference_ohm:
            text = (
                f"a remark gives a port impedance of {impedance:.6g} ohm; the numbers were read against "
                f"{reference_ohm:g} ohm, the reference of the option line"
            )
            step = f"if the remark is right, export again renormalised to {reference_ohm:g} ohm"
            return (Finding("reference-in-remarks", "warning", text, step),)
    return ()
