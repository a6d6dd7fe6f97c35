"""From lines of network parameters to rows of one port's reflection, for both versions of Touchstone."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.errors import NeedsHint, UnreadableFile
from sweepkit.findings import Finding
from sweepkit.readers.assembly import Rows, left_out_finding
from sweepkit.readers.hints import Hints
from sweepkit.readers.numbers import is_plain_number
from sweepkit.readers.options import EXAMPLE, Options
from sweepkit.readers.plain_one_port import SAMPLED_ROWS, complex_numbers
from sweepkit.readers.ports import (
    chosen_port,
    matrices,
    one_port_reflection,
    port_finding,
    refuse_unnormalised,
    several_ports_reflection,
)
from sweepkit.readers.printing import network_step
from sweepkit.readers.records import (
    Bodies,
    Records,
    group,
    infer_ports,
    numbers_per_point,
    read_numbers,
)

CHUNK_POINTS = 1000  # points of several ports given to scikit-rf at a time; our own choice
DEFAULT_REFERENCE_OHM = 50.0  # the rule where the option line states none (Touchstone 1.1, "Option Line")

_PORT_IMPEDANCE = re.compile(
    r"port\s*impedance\s*[=:]?\s*([-+]?[\d.]+(?:e[-+]?\d+)?)(?:\s+([-+]?[\d.]+(?:e[-+]?\d+)?))?",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class Layout:
    """What the head of a Touchstone file says about its numbers.

    Parameters
    ----------
    options : Options
        The option line.
    options_line : int
        Where it stands.
    absolute : bool
        Z, Y, G and H in ohm and siemens (version 2), not divided by the reference.
    ports, named_ports : int or None
        Number of ports as the file states it, and as its name does.
    references_ohm : tuple of float or None
        [Reference] of each port. [ohm]
    order : {"21_12", "12_21"}
        Which transmission of a two-port stands first.
    triangle : {"full", "lower", "upper"}
        Part of the matrix that is written.
    points, points_line : int or None
        [Number of Frequencies] and its line.
    """

    options: Options
    options_line: int
    absolute: bool
    ports: int | None = None
    named_ports: int | None = None
    references_ohm: tuple[float, ...] | None = None
    order: str = "21_12"
    triangle: str = "full"
    points: int | None = None
    points_line: int | None = None


def network_rows(bodies: Bodies, layout: Layout, remarks: Bodies, hints: Hints, last_line: int) -> Rows:
    """Rows of one port's reflection.

    Raises
    ------
    UnreadableFile
        The first line that breaks the format.
    """
    if not bodies:
        raise UnreadableFile(
            "no measured points; expected lines of numbers; export the sweep again", line=last_line
        )
    _refuse_column_hints(hints, layout)
    options = layout.options
    records = read_numbers(
        bodies, hints.decimal, minus_infinity_at=1 if options.number_format == "DB" else None
    )
    ports = layout.ports or infer_ports(records, layout.named_ports)
    size = numbers_per_point(ports, triangular=layout.triangle != "full")
    firsts = group(records, size, noise_may_follow=ports == 2 and not layout.absolute)
    _check_points(len(firsts) - 1, layout)
    port = chosen_port(hints.trace, ports)
    references = _references(layout, hints, ports)
    lines = np.array(records.lines)[firsts[:-1]]
    values = np.frombuffer(records.numbers, dtype=np.float64)[: records.starts[firsts[-1]]].reshape(-1, size)
    _refuse_negative_magnitude(values, options, lines)
    try:
        if ports == 1:
            gamma = one_port_reflection(
                complex_numbers(values[:, 1:], options.number_format),
                options,
                references[0],
                absolute=layout.absolute,
            )
        else:
            gamma = np.concatenate(
                [
                    _reflection_of_one(values[start : start + CHUNK_POINTS], layout, references, port)
                    for start in range(0, len(values), CHUNK_POINTS)
                ]
            )
    except UnreadableFile as error:
        error.line = layout.options_line
        raise
    if not layout.absolute and hints.reference_ohm is None:
        refuse_unnormalised(gamma, options, references[0], layout.options_line)
    findings = (
        *port_finding(port, ports),
        *_comma_finding(records),
        *_remark_finding(remarks, references[port]),
        *left_out_finding(_rows_among(remarks, size, layout.options_line)),
    )
    step = (
        None if ports > 1 else network_step(options, references[0], _pairs(bodies), absolute=layout.absolute)
    )
    f_hz = values[:, 0] * options.unit_hz
    return Rows(f_hz, gamma, "signed", lines, references[port], findings, step)


def _pairs(bodies: Bodies) -> list[tuple[str, str]]:
    """The two numbers behind the frequency of some one-port rows, evenly spread over the file."""
    words = (body.split() for _, body in bodies[:: max(1, len(bodies) // SAMPLED_ROWS)])
    return [(row[1], row[2]) for row in words if len(row) == 3]


def _reflection_of_one(
    values: FloatArray, layout: Layout, references: tuple[float, ...], port: int
) -> ComplexArray:
    """Reflection of one port of several at some of the points."""
    rows = [" ".join(map(repr, point)) for point in values.tolist()]
    matrix = matrices(rows, layout.options, len(references), layout.order, layout.triangle)
    return several_ports_reflection(matrix, layout.options, list(references), port, absolute=layout.absolute)


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


def _refuse_negative_magnitude(values: FloatArray, options: Options, lines: np.ndarray) -> None:
    if options.number_format != "MA":
        return
    wrong = (values[:, 1::2] < 0).any(axis=1)
    if wrong.any():
        raise UnreadableFile(
            "negative magnitude; expected 0 or more, as MA in the option line says; "
            "write DB there if the numbers are decibels, RI if they are real and imaginary parts",
            line=int(lines[int(np.argmax(wrong))]),
        )


def _comma_finding(records: Records) -> tuple[Finding, ...]:
    style = records.style
    if style.decimal == ".":
        return ()
    text = "numbers have commas, which Touchstone does not allow; they were read as decimal marks"
    return (Finding("commas-in-numbers", "note", text, "compare one frequency with the analyzer's screen"),)


def _rows_among(remarks: Bodies, size: int, first_line: int) -> list[int]:
    """Lines of remarks below the option line that hold as many numbers as a point, and nothing else."""
    return [
        line
        for line, remark in remarks
        if line > first_line and len(words := remark.split()) == size and all(map(is_plain_number, words))
    ]


def _remark_finding(remarks: Bodies, reference_ohm: float) -> tuple[Finding, ...]:
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
