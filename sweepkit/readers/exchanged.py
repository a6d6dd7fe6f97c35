"""Numbers that changed places in a row or a run of rows: with their places changed back the curve goes on."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from sweepkit.conversions import FloatArray
from sweepkit.errors import UnreadableFile
from sweepkit.readers.order import PrintedRow, Rows

JUMP = 8.0  # times the usual step around it: the curve does not go on there; our own choice
LEAST_JUMP = 0.02  # of reflection; our own choice
HEALED = 3.0  # times that step: it goes on; our own choice
REACH = 8  # steps on each side that tell the usual one; our own choice
JUMPS = 4  # largest ones looked at; our own choice


@dataclass(frozen=True)
class Slip:
    """Damage, and how likely a sound file would look like it."""

    error: UnreadableFile
    chance: float


def exchanged(row: PrintedRow) -> tuple[list[tuple[int, int]], FloatArray]:
    """Pairs of numbers of a row beside its frequency, and the rows with each pair exchanged."""
    pairs = list(combinations(range(1, len(row.numbers)), 2))
    others = np.tile(row.values, (len(pairs), 1))
    for other, (one, two) in zip(others, pairs, strict=True):
        other[[one, two]] = other[[two, one]]
    return pairs, others


def exchanged_error(rows: Rows, at: int, one: str, two: str, *, more: int = 0) -> UnreadableFile:
    """Two numbers of a row, and perhaps of some more rows, that changed places."""
    run = f" in {more + 1} rows from here on" if more else ""
    return UnreadableFile(
        f"{one} and {two} are off a curve that is smooth on both sides, and on it with their places changed{run}; "
        "expected rows like their neighbours; the row looks damaged - correct it, or export the sweep again",
        line=int(rows.line_numbers[at]),
    )


def exchanged_run(rows: Rows) -> Slip | None:
    """A run of rows with two columns exchanged, between two jumps of the curve or one and an end."""
    step = np.abs(rows.values[1:] - rows.values[:-1])
    if rows.phase == "none" or not step.max() > max(
        LEAST_JUMP, JUMP * np.partition(step, step.size // 2)[step.size // 2]
    ):
        return None
    jumps = []
    for at in np.sort(np.argsort(step, kind="stable")[-JUMPS:]):
        usual = float(np.median(step[max(0, at - REACH) : at + REACH + 1]))
        if step[at] > max(LEAST_JUMP, JUMP * usual):
            jumps.append((int(at), max(usual, 1e-6)))
    for first, last in _runs(jumps, rows.f_hz.size):
        for slip in _healed(rows, dict(jumps), first, last):
            return slip
    return None


def _runs(jumps: list[tuple[int, float]], points: int) -> Iterator[tuple[int, int]]:
    """First and last rows between two jumps, of short runs first, and between one and an end."""
    places = [at for at, _ in jumps]
    inner = [(one + 1, two) for one, two in combinations(places, 2)]
    yield from sorted(inner, key=lambda run: run[1] - run[0])
    yield from ((at + 1, points - 1) for at in places)
    yield from ((0, at) for at in places)


def _healed(rows: Rows, usual: dict[int, float], first: int, last: int) -> Iterator[Slip]:
    """The exchange that lets the curve go on at both ends of a run."""
    sides = [(at, out) for at, out in ((first, first - 1), (last, last + 1)) if 0 <= out < rows.f_hz.size]
    found = [rows.printed_row(int(rows.line_numbers[at])) if rows.printed_row else None for at, _ in sides]
    printed = [row for row in found if row is not None]
    if len(printed) < len(sides) or not printed:
        return
    pairs, _ = exchanged(printed[0])
    points = np.array([row.reflection(exchanged(row)[1]) for row in printed])  # shape (sides, pairs)
    for k, (one, two) in enumerate(pairs):
        chance = 1.0
        for (at, out), point in zip(sides, points[:, k], strict=True):
            gap, limit = abs(point - rows.values[out]), HEALED * usual[min(at, out)]
            chance *= (limit / abs(rows.values[at] - rows.values[out])) ** 2 if gap <= limit else np.inf
        if chance < 1:
            texts = [printed[0].numbers[place].text for place in (one, two)]
            yield Slip(exchanged_error(rows, first, *texts, more=last - first), float(chance))
