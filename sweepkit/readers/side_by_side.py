"""Plain one-port Touchstone files of one kind, read side by side: their numbers at once, each check one array formula.

Only files come out of here in which surely nothing is to be said, mended or refused, with what ``read_sweep`` gives,
number for number. Of any other the answer is nothing, and ``read_sweep`` reads it by itself. A new check of Touchstone
files belongs here, too, wherever a plain file can fail it; tests hold both against each other on damaged files.
"""

from __future__ import annotations

import hashlib
import os
import re
import stat
from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.errors import UnreadableFile
from sweepkit.printed_step import PrintedStep, Step
from sweepkit.readers import touchstone
from sweepkit.readers.assembly import LOWEST_BAND_HZ, NO_DECIBELS, WORTH_SAYING
from sweepkit.readers.network_data import remark_finding, rows_among
from sweepkit.readers.number_block import Block, read_block
from sweepkit.readers.opening import BEGIN, named_ports
from sweepkit.readers.options import Options, looks_like_options, parse_options
from sweepkit.readers.order import DUPLICATE_TOLERANCE, LEAST_JUMPING, MIXED_RATIO
from sweepkit.readers.ports import complex_numbers, network_step
from sweepkit.readers.printing import STEP_ROWS, column_step, ends_in_zero
from sweepkit.readers.slips import LEAST_OFF, OFF_GRID, REACH
from sweepkit.readers.uneven_columns import Columns, nothing_is_odd, steps
from sweepkit.sweep import FREQUENCY_RANGE_HZ, Place, Source, Sweep, sweeps_on_one_grid

LARGEST_BYTES = 1 << 17  # a larger file gains nothing from company; our own choice
FIRST_LINES = 4  # that tell whether all of a file print alike; our own choice
NUMBERS = 3  # in a line: frequency and a pair
SURELY = 1 - 1e-9  # of a limit: what is nearer to it may be beyond it by rounding
FULL_TURN_DEG = 360.0

_REMARKS = rb"((?:[ \t]*(?:![\t\x20-\x7e]*)?\n)*)"
_HEAD = re.compile(_REMARKS + rb"(#(?!\d)[\t\x20\x22-\x7e]*)\n" + _REMARKS)
_OF_NUMBERS = b"0123456789.+-eE \t\n"


class _File(NamedTuple):
    """A file whose text may be plain."""

    place: int  # among those asked for
    source: Source
    body: bytes  # its lines of numbers
    ends: bool  # with a line end


def read_side_by_side(names: Sequence[str], *, measured_at: Place = "unknown") -> list[Sweep | None]:
    """The sweep of each plain file; nothing where ``read_sweep`` must look."""
    sweeps: list[Sweep | None] = [None] * len(names)
    kinds: dict[tuple[Options, tuple[int, ...]], list[_File]] = {}
    for place, name in enumerate(names):
        taken = _taken_apart(place, name)
        if taken is not None:
            options, file = taken
            kinds.setdefault((options, _shape(file.body)), []).append(file)
    for (options, _), alike in kinds.items():
        block = _block(alike)
        for files, numbers in [(alike, block)] if block is not None else _plain_halves(alike):
            for file, sweep in zip(files, _sweeps(files, numbers, options, measured_at), strict=True):
                sweeps[file.place] = sweep
    return sweeps


def _taken_apart(place: int, name: str) -> tuple[Options, _File] | None:
    """The head and the numbers of a file, where nothing in it is out of the ordinary."""
    data = _plain_bytes(name)
    text = data.replace(b"\r\n", b"\n") if b"\r" in data else data
    head = _HEAD.match(text)
    if head is None or named_ports(name) not in (None, 1):
        return None
    body = text[head.end() :].strip(b" \t\n")
    line = head[2].decode()
    if not body or body.translate(None, _OF_NUMBERS) or not looks_like_options(line):
        return None
    try:
        options = parse_options(line)
    except UnreadableFile:
        return None
    remarks = [
        (below, one)
        for below, lines in enumerate((head[1], head[3]))
        for part in lines.decode().split("\n")
        if (one := part.strip()[1:].strip())
    ]
    if options.parameter != "S" or options.reference_ohm is None:
        return None
    if any(BEGIN.fullmatch(f"!{one}") for _, one in remarks) or rows_among(remarks, NUMBERS, 0):
        return None
    if remark_finding(remarks, options.reference_ohm):
        return None
    comments = tuple(one for _, one in remarks)
    source = Source(name, hashlib.sha256(data).hexdigest(), touchstone.NAME, comments)
    return options, _File(place, source, body, text.endswith(b"\n"))


def _plain_bytes(name: str) -> bytes:
    """What a small regular file holds; nothing where it cannot be read."""
    try:
        state = os.stat(name)
        if not stat.S_ISREG(state.st_mode) or state.st_size > LARGEST_BYTES:
            return b""
        with open(name, "rb", buffering=0) as file:
            return file.read(LARGEST_BYTES + 1)
    except (OSError, ValueError):
        return b""


def _shape(body: bytes) -> tuple[int, ...]:
    """The same for files whose numbers may go through together: lines, and decimals of first ones that print alike."""
    first = body.split(b"\n", FIRST_LINES)[:FIRST_LINES]
    shapes = {tuple(len(word.partition(b".")[2]) for word in line.split()) for line in first}
    return _rows(body), *(shapes.pop() if len(shapes) == 1 else ())


def _rows(body: bytes) -> int:
    return body.count(b"\n") + 1


def _block(files: list[_File]) -> Block | None:
    """The numbers of files of one shape, where nothing else stands in any line."""
    block = read_block(b"\n".join(file.body for file in files).decode() + "\n", 1)
    if block is None or block.counts.size != len(files) * _rows(files[0].body):
        return None
    return block if (block.counts == NUMBERS).all() else None


def _plain_halves(files: list[_File]) -> list[tuple[list[_File], Block]]:
    """The same of parts of files that together are not plain, as long as one of two halves is."""
    middle = len(files) // 2
    halves = [(half, _block(half)) for half in (files[:middle], files[middle:]) if half]
    if all(block is None for _, block in halves):
        return []
    parts = (_plain_halves(half) if block is None else [(half, block)] for half, block in halves)
    return [part for some in parts for part in some]


def _sweeps(files: list[_File], block: Block, options: Options, measured_at: Place) -> list[Sweep | None]:
    """Of files whose numbers were read, those that are sound."""
    sweeps: list[Sweep | None] = [None] * len(files)
    rows = _rows(files[0].body)
    if rows < 2 * REACH:
        return sweeps
    values = block.values.reshape(len(files), rows, NUMBERS)
    f_hz = values[..., 0] * options.unit_hz
    pairs = np.ascontiguousarray(values[..., 1:])
    gamma = complex_numbers(pairs.reshape(-1, 2), options.number_format).reshape(f_hz.shape)
    sound = _has_sound_grid(f_hz) & _has_sound_sizes(pairs, options.number_format)
    sound &= _is_sound_curve(gamma)
    printed = (_even_steps if block.is_even else _uneven_steps)(files, block, values, sound)
    left = np.array(list(printed), dtype=np.intp)
    while left.size:
        same = (f_hz[left] == f_hz[left[0]]).all(axis=1)
        some, left = left[same], left[~same]
        made = sweeps_on_one_grid(
            f_hz[some[0]],
            gamma[some],
            [files[k].source for k in some],
            [_printed_step(printed[k], options) for k in some.tolist()],
            reference_ohm=options.reference_ohm,
            measured_at=measured_at,
        )
        for k, sweep in zip(some.tolist(), made, strict=True):
            sweeps[k] = sweep
    return sweeps


def _has_sound_grid(f_hz: FloatArray) -> NDArray[np.bool_]:
    """Of frequencies, shape (files, rows): rising, in steps that differ little, where an antenna is swept."""
    step = f_hz[:, 1:] - f_hz[:, :-1]
    low, high = step.min(axis=1), step.max(axis=1)
    even = (low > 0) & (high <= SURELY * (1 + OFF_GRID) * low)
    return np.asarray(
        even & (f_hz[:, 0] >= 0) & (f_hz[:, -1] >= LOWEST_BAND_HZ) & (f_hz[:, -1] <= FREQUENCY_RANGE_HZ[1])
    )


def _has_sound_sizes(pairs: FloatArray, number_format: str) -> NDArray[np.bool_]:
    """Of pairs as they are printed, shape (files, rows, 2): sizes and angles that the format has."""
    if number_format == "RI":
        return np.ones(len(pairs), dtype=bool)
    size, turned = pairs[..., 0], np.abs(pairs[..., 1]).max(axis=1) <= FULL_TURN_DEG
    if number_format == "MA":
        return np.asarray(turned & (size.min(axis=1) >= 0))
    return np.asarray(turned & (np.abs(size).max(axis=1) <= NO_DECIBELS) & (size.min(axis=1) <= 0))


def _is_sound_curve(gamma: ComplexArray) -> NDArray[np.bool_]:
    """Of reflections, shape (files, rows): none above 1 by anything worth saying, no bend, no jumping to and fro."""
    bends, near = _size(np.diff(gamma, 4, axis=1)), _size(np.diff(gamma, axis=1))
    sound = (_size(gamma).max(axis=1) <= SURELY * WORTH_SAYING) & (bends.max(axis=1) < SURELY * 6 * LEAST_OFF)
    wide = np.flatnonzero(near.max(axis=1) > SURELY * 3 * DUPLICATE_TOLERANCE)
    if wide.size:
        middle = near.shape[1] // 2
        apart = np.partition(near[wide], middle, axis=1)[:, middle, np.newaxis]
        unlike = near[wide] > SURELY * MIXED_RATIO * apart, SURELY * MIXED_RATIO * near[wide] < apart
        most = np.max([np.count_nonzero(each, axis=1) for each in unlike], axis=0)
        alike = most <= SURELY * LEAST_JUMPING * near.shape[1]
        sound[wide] &= alike & (apart[:, 0] <= SURELY * 3 * DUPLICATE_TOLERANCE)
    return np.asarray(sound)


def _size(values: ComplexArray) -> FloatArray:
    return np.asarray(np.sqrt(values.real**2 + values.imag**2))


def _shows_all_decimals(block: Block, values: FloatArray, column: int) -> NDArray[np.bool_]:
    """Whether a column of each file has a number whose last decimal is not 0, where decimals are counted."""
    decimals = int(block.decimals[column])
    if decimals <= 0 or block.leads[column] >= 0:
        return np.ones(len(values), dtype=bool)
    some = values[:, :: max(1, values.shape[1] // STEP_ROWS), column]
    return np.asarray(~ends_in_zero(some, decimals).all(axis=1))


def _even_steps(
    files: list[_File], block: Block, values: FloatArray, sound: NDArray[np.bool_]
) -> dict[int, tuple[Step, Step]]:
    """Printed steps of each sound file where all lines of all files print alike, and show all of their decimals."""
    shown = sound & _shows_all_decimals(block, values, 1) & _shows_all_decimals(block, values, 2)
    left = np.flatnonzero(shown).tolist()
    return dict.fromkeys(left, _steps_of_one(values[left[0]], block.decimals, block.leads)) if left else {}


def _uneven_steps(
    files: list[_File], block: Block, values: FloatArray, sound: NDArray[np.bool_]
) -> dict[int, tuple[Step, Step]]:
    """The same where lines print in many ways, and none of them is odd."""
    some = np.flatnonzero(sound)
    numbers, decimals, leads = (
        np.ascontiguousarray(each.reshape(values.shape)[some].transpose(2, 0, 1)).reshape(-1, values.shape[1])
        for each in (values, block.decimals, block.leads)
    )
    columns = Columns(numbers, decimals, leads)
    even = columns.alike.reshape(NUMBERS, -1).all(axis=0)
    ends = np.array([files[k].ends for k in some], dtype=bool)
    good = even | (ends & nothing_is_odd(columns).reshape(NUMBERS, -1).all(axis=0))
    found: dict[int, tuple[Step, Step]] = {}
    for at in np.flatnonzero(even):
        found[int(some[at])] = _steps_of_one(
            values[some[at]], decimals[at :: some.size, 0], leads[at :: some.size, 0]
        )
    others = np.flatnonzero(good & ~even)
    pairs = steps(columns[np.concatenate([others + some.size, others + 2 * some.size])])
    found |= zip(
        some[others].tolist(), zip(pairs[: others.size], pairs[others.size :], strict=True), strict=True
    )
    return found


def _steps_of_one(values: FloatArray, decimals: NDArray[Any], leads: NDArray[Any]) -> tuple[Step, Step]:
    """Printed steps of one file whose lines print alike."""
    lines = np.arange(len(values))
    one = Block(values.ravel(), np.full(lines.size, NUMBERS), lines, decimals, leads)
    return column_step(one, 1, NUMBERS, lines.size), column_step(one, 2, NUMBERS, lines.size)


def _printed_step(pair: tuple[Step, Step], options: Options) -> PrintedStep | None:
    assert options.reference_ohm is not None
    return network_step(options, options.reference_ohm, list(pair), absolute=False)
