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
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.errors import UnreadableFile
from sweepkit.printed_step import PrintedStep
from sweepkit.readers import touchstone
from sweepkit.readers.assembly import LOWEST_BAND_HZ, NO_DECIBELS, WORTH_SAYING
from sweepkit.readers.network_data import remark_finding
from sweepkit.readers.number_block import Block, read_block
from sweepkit.readers.opening import BEGIN, named_ports
from sweepkit.readers.options import Options, looks_like_options, parse_options
from sweepkit.readers.order import DUPLICATE_TOLERANCE, LEAST_JUMPING, MIXED_RATIO
from sweepkit.readers.ports import complex_numbers, network_step
from sweepkit.readers.printing import STEP_ROWS, column_step, ends_in_zero
from sweepkit.readers.slips import LEAST_OFF, OFF_GRID, REACH
from sweepkit.sweep import FREQUENCY_RANGE_HZ, Place, Source, Sweep, sweeps_on_one_grid

LARGEST_BYTES = 1 << 17  # a larger file gains nothing from company; our own choice
NUMBERS = 3  # in a line: frequency and a pair
SURELY = 1 - 1e-9  # of a limit: what is nearer to it may be beyond it by rounding
FULL_TURN_DEG = 360.0

_HEAD = re.compile(rb"((?:[ \t]*(?:![\t\x20-\x7e]*)?\n)*)(#(?!\d)[\t\x20\x22-\x7e]*)\n")
_OF_NUMBERS = b"0123456789.+-eE \t\n"


class _File(NamedTuple):
    """A file whose text may be plain."""

    place: int  # among those asked for
    source: Source
    body: bytes  # its lines of numbers


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
        block = _even_block(alike)
        for files, numbers in [(alike, block)] if block is not None else _even_halves(alike):
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
    remarks = [(0, one) for part in head[1].decode().split("\n") if (one := part.strip()[1:].strip())]
    if options.parameter != "S" or options.reference_ohm is None:
        return None
    if any(BEGIN.fullmatch(f"!{one}") for _, one in remarks) or remark_finding(
        remarks, options.reference_ohm
    ):
        return None
    comments = tuple(one for _, one in remarks)
    return options, _File(
        place, Source(name, hashlib.sha256(data).hexdigest(), touchstone.NAME, comments), body
    )


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
    """The same for files whose numbers may go through together: lines, and decimals in the first."""
    words = body[: body.find(b"\n")].split()
    return _rows(body), *(len(word.partition(b".")[2]) for word in words)


def _rows(body: bytes) -> int:
    return body.count(b"\n") + 1


def _even_block(files: list[_File]) -> Block | None:
    """The numbers of files of one shape, where all lines print alike."""
    block = read_block(b"\n".join(file.body for file in files).decode() + "\n", 1)
    if block is None or not block.is_even or block.counts[0] != NUMBERS:
        return None
    return block if block.counts.size == len(files) * _rows(files[0].body) else None


def _even_halves(files: list[_File]) -> list[tuple[list[_File], Block]]:
    """The same of parts of files that together do not print alike, as long as one of two halves does."""
    middle = len(files) // 2
    halves = [(half, _even_block(half)) for half in (files[:middle], files[middle:]) if half]
    if all(block is None for _, block in halves):
        return []
    parts = (_even_halves(half) if block is None else [(half, block)] for half, block in halves)
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
    sound &= _shows_all_decimals(block, values, 1) & _shows_all_decimals(block, values, 2)
    left = np.flatnonzero(sound)
    printed = None if not left.size else _printed_step(block, values[left[0]], options)
    while left.size:
        same = (f_hz[left] == f_hz[left[0]]).all(axis=1)
        some, left = left[same], left[~same]
        made = sweeps_on_one_grid(
            f_hz[some[0]],
            gamma[some],
            [files[k].source for k in some],
            reference_ohm=options.reference_ohm,
            measured_at=measured_at,
            printed_step=printed,
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


def _printed_step(block: Block, values: FloatArray, options: Options) -> PrintedStep | None:
    """What files print that show all of their decimals; ``values`` are those of one."""
    one = Block(values.ravel(), block.counts, block.lines, block.decimals, block.leads)
    steps = [column_step(one, at, NUMBERS, len(values)) for at in (1, 2)]
    assert options.reference_ohm is not None
    return network_step(options, options.reference_ohm, steps, absolute=False)
