"""A measured line as text: what is wrong, what was measured, the block for the kit."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence

from sweepkit.feedline.kit_block import kit_block
from sweepkit.feedline.loss_check import find_loss_excess_db
from sweepkit.feedline.measure import LineMeasurement
from sweepkit.feedline.own_record import OwnRecord, compared_at_hz, loss_excess_over_record_db
from sweepkit.figures import Figure
from sweepkit.findings import Finding
from sweepkit.quantities import frequency_text, length_text

LEAST_WIDTH, MOST_WIDTH = 40, 72
LEVEL_MARKS = {"stop": "!!", "warning": "! ", "note": "- "}


def line_text(
    measured: LineMeasurement,
    findings: Sequence[Finding],
    *,
    width: int = MOST_WIDTH,
    imperial: bool = False,
    record: OwnRecord | None = None,
) -> str:
    """A measured line for a terminal.

    Parameters
    ----------
    measured : LineMeasurement
        The line.
    findings : sequence of Finding
        What is to be said about it.
    width : int
        Columns of the terminal; held between 40 and 72.
    imperial : bool
        Feet and inches beside metres.
    record : OwnRecord, optional
        The same piece earlier, to compare with.

    Returns
    -------
    str
        Lines, without a newline at the end.
    """
    width = min(max(width, LEAST_WIDTH), MOST_WIDTH)
    blocks = [
        list(_findings(findings, width)),
        list(_figures(measured, width, imperial)),
        list(_losses(measured, record)),
        list(_reflections(measured, width, imperial)),
        list(_kit(measured)),
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block)


def _findings(findings: Sequence[Finding], width: int) -> Iterator[str]:
    if not findings:
        yield "Nothing wrong was found with this line."
    for finding in findings:
        yield from _wrapped(f"{LEVEL_MARKS[finding.level]} {finding.text}", width, hang="   ")
        yield from _wrapped(f"-> {finding.next_step}", width, indent="   ", hang="      ")


def _figures(measured: LineMeasurement, width: int, imperial: bool) -> Iterator[str]:
    """Length, velocity factor, impedance, and what the sweep can show at all."""
    if measured.length_m.value is None:
        yield from _wrapped(f"No length, loss or impedance: {measured.length_m.reason}.", width)
    else:
        length = f"length          {length_text(measured.length_m.value, imperial=imperial)}"
        yield length + _interval(measured.length_m, ".2f", " m")
        yield f"velocity factor {_value(measured.velocity_factor, '.3f')}"
        yield f"impedance       {_value(measured.z0_ohm, '.1f')} ohm"
    cell, far = length_text(measured.resolution_m), length_text(measured.range_m)
    yield from _wrapped(f"One cell of this sweep is {cell}; beyond {far} it cannot see.", width)


def _losses(measured: LineMeasurement, record: OwnRecord | None) -> Iterator[str]:
    if measured.length_m.value is None:
        return
    yield "loss, one way, matched (95 %)"
    for f_hz, loss in zip(measured.loss_hz, measured.loss_db, strict=True):
        yield f"  {f_hz / 1e6:7.2f} MHz  {_value(loss, '.2f')} dB"
    excess, piece = find_loss_excess_db(measured), measured.told.piece
    if piece is not None and excess.value is not None:
        yield f"  against {piece.type or piece.name}: {_value(excess, '+.2f')} dB"
    if record is not None:
        own = loss_excess_over_record_db(measured, record)
        at = "" if own.value is None else f" dB at {frequency_text(compared_at_hz(measured, record) or 0.0)}"
        yield f"  against its own record, {record.when or 'time unknown'}: {_value(own, '+.2f')}{at}"


def _reflections(measured: LineMeasurement, width: int, imperial: bool) -> Iterator[str]:
    if measured.reflections:
        yield "reflections"
    for reflection in measured.reflections:
        distance = length_text(reflection.distance_m.value or 0.0, imperial=imperial)
        text = f"{distance}  {reflection.size_db:.0f} dB  {reflection.looks_like}"
        yield from _wrapped(text, width, indent="  ", hang="    ")


def _kit(measured: LineMeasurement) -> Iterator[str]:
    block = kit_block(measured)
    if block:
        yield "for your kit.toml:"
        yield ""
        yield block.rstrip()


def _value(figure: Figure, form: str) -> str:
    if figure.value is None:
        return f"no answer: {figure.reason}"
    return f"{figure.value:{form}}{_interval(figure, form, '')}"


def _interval(figure: Figure, form: str, unit: str) -> str:
    if figure.low is None or figure.high is None:
        return ""
    return f" ({figure.low:{form}} to {figure.high:{form}}{unit})"


def _wrapped(text: str, width: int, *, indent: str = "", hang: str = "") -> list[str]:
    return textwrap.wrap(text, width, initial_indent=indent, subsequent_indent=hang or indent)
