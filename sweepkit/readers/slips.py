"""One slip of a digit, mark or sign that leaves a valid number: found where it alone takes a row off a smooth curve.

A lone point off the curve may be honest: a resonance between two neighbours, or another station's signal. It is taken
for damage only where all of this holds: the curve is smooth on both sides; one slip in one printed number brings the
row back onto it; and the neighbours lie so near the curve that no resonance of an antenna can be between them.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from itertools import combinations
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweepkit.conversions import FloatArray
from sweepkit.errors import UnreadableFile
from sweepkit.findings import Finding
from sweepkit.readers.odd_rows import doubtful_row
from sweepkit.readers.order import PrintedNumber, PrintedRow, Rows

LEAST_OFF = 0.01  # of reflection: less does no harm; the limit of equal duplicates
STANDS_OUT = 15.0  # times the roughness of the curve around it; our own choice
SURE = 5e-4  # of lone points of another station may look like a slip and be refused; our own choice
EXCHANGED_OUT = 3.0  # where an exchange lets it go on: it is one of few, so chance says more; our own choice
SELDOM = 0.03  # of lone points look like an exchange: more would cry wolf; our own choice
SMOOTHER = 2.5  # times that roughness: as near must the row come to the curve; our own choice
HIGHEST_Q = 2000.0  # loaded, of what radiates: small loops stay below 1000; common practice, no source
LEAST_TAIL = 0.25  # of what a resonance of that Q adds to its neighbours: 0.56 of it shows in their residuals
HARDLY = 0.002  # of how far it is off: no lone point comes so near by chance; our own choice
REACH = 8  # points on each side that tell how smooth the curve is; our own choice
OFF_GRID = 0.2  # of the step: a frequency so far off an even grid; our own choice
ON_GRID = 0.02  # of the step, beside the printed step; our own choice
PIECE_ROWS = 1 << 14  # of a long sweep at a time: what is worked out beside it stays small; our own choice
CANDIDATES = 5  # rows off the curve that are looked at; our own choice

PRINT_ALONE = 4 / 3  # printed steps that rounding takes off: half of one times 1 + 4 + 6 + 4 + 1, over 6
HALF_STEP = 0.5  # printed: least usual step, so that a jump is 4 steps and what goes on 1.5; our own choice
JUMP = 8.0  # times the usual step around it: the curve does not go on there; our own choice
LEAST_JUMP = 0.02  # of reflection; our own choice
HEALED = 3.0  # times that step: it goes on; our own choice
JUMPS = 4  # largest ones looked at; our own choice


class Slip(NamedTuple):
    """Damage, and how likely a sound file would look like it."""

    error: UnreadableFile
    chance: float


def one_slip_away(text: str, decimal: str = ".") -> tuple[list[str], ...]:
    """Every number that one slip turns into this text: by its sign, by its mark, by a digit lost, added or changed."""
    bare = text.replace(decimal, "", 1)
    signs = [text[1:] if text[:1] in "+-" else "-" + text]
    marks = [bare[:at] + decimal + bare[at:] for at in range(len(bare) + 1)]
    digits = [text[:at] + digit + text[at:] for at in range(len(text) + 1) for digit in "0123456789"]
    for at in (at for at, sign in enumerate(text) if sign.isdigit()):
        digits.append(text[:at] + text[at + 1 :])
        digits += [text[:at] + digit + text[at + 1 :] for digit in "0123456789"]
        if text[at + 1 : at + 2].isdigit():
            digits.append(text[:at] + text[at + 1] + text[at] + text[at + 2 :])
    return signs, marks, digits


@np.errstate(all="ignore")  # what is no finite number is told elsewhere
def find_slips(rows: Rows) -> tuple[Finding, ...]:
    """Refuse a row that one slip takes off an even grid or off a smooth curve; rows stand as the file has them.

    Where chance alone may bring a lone point back, as always where the file has sizes alone, the row is only said.
    """
    if rows.printed_row is None or rows.f_hz.size < 2 * REACH:
        return ()
    if off_grid := _off_grid(rows):
        raise off_grid
    alone = rows.phase == "none"
    curve = rows.values**2 if alone else rows.values  # the square does not bend sharply at a good match
    bends = _sizes_of_bends(curve)
    if not (windows := _standing_out(bends)):
        return ()
    for window in windows:
        ends = {0: (1, 0), bends.size - 1: (bends.size + 2, bends.size + 3)}.get(window, ())
        slip = next(filter(None, (_off_curve(rows, curve, at) for at in (window + 2, *ends))), None)
        if slip and (alone or slip.chance > SURE):
            return (_doubt(slip.error),)
        if slip:
            raise slip.error
    run = _exchanged_run(rows)
    if run and run.chance <= SURE:
        raise run.error
    return (_doubt(run.error),) if run else ()


def _standing_out(bends: FloatArray) -> list[int]:
    """Windows of large bends, those first that stand out most from the next ones that do not hold the same point."""
    found = np.flatnonzero(bends >= 6 * LEAST_OFF) if bends.max() < np.inf else np.array([], dtype=np.int64)
    if not found.size:
        return []
    padded, near = np.pad(bends, REACH), np.zeros(found.size)
    for away in range(5, REACH + 1):
        for place in (found + REACH - away, found + REACH + away):
            np.maximum(near, padded[place], out=near)
    score, chosen = bends[found] / (near + 1e-12), list[int]()
    while len(chosen) < CANDIDATES and score.any():
        same_point = np.abs(found - found[score.argmax()]) <= 4
        chosen.append(int(found[same_point][bends[found[same_point]].argmax()]))  # in whose middle it is
        score[same_point | (np.abs(found - chosen[-1]) <= 4)] = 0
    return chosen


def _doubt(slip: UnreadableFile) -> Finding:
    return doubtful_row(f"line {slip.line}: {slip.text.partition(';')[0]}")


def _bends(curve: NDArray[Any]) -> NDArray[Any]:
    """Fourth differences: 6 times how far each point but two at each end is off the cubic through four around it."""
    second = curve[2:] - 2 * curve[1:-1] + curve[:-2]
    return np.asarray(second[2:] - 2 * second[1:-1] + second[:-2])


def _sizes_of_bends(curve: NDArray[Any]) -> FloatArray:
    starts = range(0, curve.size - 4, PIECE_ROWS)
    pieces = [np.abs(_bends(curve[start : start + PIECE_ROWS + 4])) for start in starts]
    return np.asarray(pieces[0] if len(pieces) == 1 else np.concatenate(pieces))


def _printed_step(rows: Rows, at: int) -> float:
    """Reflection between a row and one whose numbers all print one step further; 0 where no step is known."""
    step = rows.printed_step
    rounding = step.rounding(rows.values[at : at + 1], rows.reference_ohm)[0] if step else 0.0
    return float(np.sqrt(12) * rounding)


class _Around:
    """A point and the curve around it, whose bends are in reflection."""

    def __init__(self, rows: Rows, curve: NDArray[Any], at: int) -> None:
        first = max(0, at - REACH)
        bends = _bends(curve[first : at + REACH + 1]) / 6
        windows = np.arange(max(0, at - first - 4), min(bends.size, at - first + 1))  # that hold the point
        self.point = curve[at]
        self.weights = _WEIGHTS[at - first - windows]
        self.bends, self.others = bends[windows], np.abs(np.delete(bends, windows))
        held = int(np.abs(self.weights).argmax())
        self.gain = float(np.abs(self.weights[held]))  # 1, and less at the ends, where the point shows less
        self.off = float(np.abs(self.bends[held])) / self.gain
        beside = rows.f_hz[max(0, at - 1) : at + 2]
        step_hz = float(np.abs(beside[-1] - beside[0])) / (beside.size - 1)
        self.tail = LEAST_TAIL * self.off * rows.f_hz[at] / (2 * HIGHEST_Q * max(step_hz, 1e-9))
        self.step = _printed_step(rows, at)
        printed = self.step / np.sqrt(12)
        self.rough = max(float(self.others.max(initial=0.0)) / self.gain, printed, 1e-6)
        self.limit = max(SMOOTHER * self.rough, 2 * printed, HARDLY * self.off)  # so near it is on the curve

    def left(self, points: NDArray[Any]) -> FloatArray:
        """Largest bend that is left with the point moved."""
        moved = np.multiply.outer(points - self.point, self.weights)
        left = np.abs(self.bends + moved).max(axis=1, initial=0.0) / self.gain
        return np.asarray(np.nan_to_num(left, nan=np.inf))

    def chance(self, points: NDArray[Any], left: float) -> float:
        """Share of lone points as far off that one of these brings so near: the right distance and direction."""
        away, near = np.abs(points - self.point) / self.off, max(self.rough, left)
        as_far = max(1, int(np.count_nonzero((away > 0.5) & (away < 2.0))))
        return float(as_far * 2 / 1.5 / np.pi * (near / self.off) ** 2)


def _off_curve(rows: Rows, curve: NDArray[Any], at: int) -> Slip | None:
    around = _Around(rows, curve, at)
    least = max(EXCHANGED_OUT * around.rough, PRINT_ALONE * around.step)
    far = around.others.size >= REACH // 2 and around.off >= least
    row = rows.as_printed(at) if far else None
    if row is None:
        return None
    slipped = around.off >= STANDS_OUT * around.rough and _slipped_number(rows, at, row, around)
    return slipped or (_exchanged(rows, at, row, around) if rows.phase != "none" else None)


def _slipped_number(rows: Rows, at: int, row: PrintedRow, around: _Around) -> Slip | None:
    """One slip in one number; where a resonance may be there it is never sure."""
    what = f"{around.off:.2g} of reflection off a curve that is smooth"
    for place in range(1, row.used):
        for values in _otherwise(row, place):
            others = np.tile(row.values[: row.used], (len(values), 1))
            others[:, place] = list(values)
            points = row.reflection(others) ** (2 if rows.phase == "none" else 1)
            left = around.left(points)
            near = [text for text, far in zip(values.values(), left, strict=True) if far <= around.limit]
            if not near:
                continue
            chance = around.chance(points, float(left.min()))
            if around.tail < max(around.rough, float(left.min())):
                if chance > SELDOM:
                    continue
                chance = max(chance, 2 * SURE)
            return Slip(_slipped(rows, at, row.numbers[place], min(near, key=len), what), chance)
    return None


def _exchanged(rows: Rows, at: int, row: PrintedRow, around: _Around) -> Slip | None:
    """Two numbers that changed places."""
    pairs, others = _with_places_changed(row)
    if not pairs:
        return None
    points = row.reflection(others)
    left = around.left(points)
    best = int(left.argmin())
    chance = around.chance(points, float(left[best]))
    if chance > (SELDOM if left[best] <= around.limit else SURE):
        return None
    return Slip(_exchanged_error(rows, at, *(row.numbers[place].text for place in pairs[best])), chance)


_WEIGHTS = np.array([1, -4, 6, -4, 1]) / 6  # of a point in the bends of the five windows that hold it


def _otherwise(row: PrintedRow, place: int) -> Iterator[dict[float, str]]:
    """By kind of slip: numbers that it turns into the printed one."""
    for kind in one_slip_away(row.numbers[place].text, row.decimal):
        values: dict[float, str] = {}
        for text in kind:
            with contextlib.suppress(ValueError):
                values.setdefault(float(text.replace(row.decimal, ".")), text)
        values.pop(float(row.values[place]), None)
        yield values


def _off_grid(rows: Rows) -> UnreadableFile | None:
    """A frequency that leaves its place in a grid of even steps or even ratios empty."""
    f_hz = rows.f_hz
    step = f_hz[1:] - f_hz[:-1]
    low, high = float(step.min()), float(step.max())
    if 0 < high <= (1 + OFF_GRID) * low or 0 > low >= (1 + OFF_GRID) * high or not np.isfinite(high - low):
        return None
    usual = float(np.median(np.abs(step)))
    for grid, back in ((f_hz, np.asarray), (np.log(np.maximum(f_hz, 1.0)), np.exp)):
        farthest = int(np.argmax(np.abs(grid - _line(grid, np.array([], dtype=np.int64)))))
        for at in (farthest, 0, f_hz.size - 1):
            fit = back(_line(grid, at))
            others = float(np.delete(np.abs(f_hz - fit), at).max())
            twice = ((f_hz == f_hz[at]) & (rows.values == rows.values[at])).sum() > 1  # a row, not a slip
            if others <= OFF_GRID / 2 * usual and abs(f_hz[at] - fit[at]) >= OFF_GRID * usual and not twice:
                return _slipped_frequency(rows, at, float(fit[at]), usual, max(ON_GRID * usual, 1.5 * others))
    return None


def _line(values: FloatArray, without: int | NDArray[np.int64]) -> FloatArray:
    """The straight line through all values but one, at the places of all."""
    place = np.arange(values.size) - values.size / 2
    x, y = np.delete(place, without), np.delete(values, without)
    slope = np.dot(x - x.mean(), y - y.mean()) / np.dot(x - x.mean(), x - x.mean())
    return np.asarray(y.mean() + slope * (place - x.mean()))


def _slipped_frequency(
    rows: Rows, at: int, expected_hz: float, step_hz: float, limit_hz: float
) -> UnreadableFile | None:
    row = rows.as_printed(at)
    if row is None:
        return None
    for values in _otherwise(row, 0):
        left = np.abs(row.f_hz(np.array(list(values))) - expected_hz)
        if left.size and left.min() <= limit_hz:
            what = f"{abs(rows.f_hz[at] - expected_hz) / step_hz:.2g} steps off a grid that is even"
            return _slipped(rows, at, row.numbers[0], list(values.values())[int(np.argmin(left))], what)
    left = np.nan_to_num(np.abs(row.f_hz(row.values[1:]) - expected_hz), nan=np.inf)
    if left.min() <= limit_hz:
        return _exchanged_error(rows, at, row.numbers[0].text, row.numbers[1 + int(left.argmin())].text)
    return None


def _slipped(rows: Rows, at: int, number: PrintedNumber, other: str, what: str) -> UnreadableFile:
    column = f" in column {number.heading}" if number.heading else ""
    return UnreadableFile(
        f"{number.text}{column} is {what} on both sides, and {other}, one slip away, is on it; expected a row like its "
        "neighbours; the row looks damaged - correct it, or export the sweep again",
        line=rows.line(at),
    )


def _with_places_changed(row: PrintedRow) -> tuple[list[tuple[int, int]], FloatArray]:
    """Pairs of numbers of a row beside its frequency, and what gives the reflection with each pair exchanged."""
    pairs = [pair for pair in combinations(range(1, len(row.numbers)), 2) if pair[0] < row.used]
    others = np.tile(row.values, (len(pairs), 1))
    for other, (one, two) in zip(others, pairs, strict=True):
        other[[one, two]] = other[[two, one]]
    return pairs, others[:, : row.used]


def _exchanged_error(rows: Rows, at: int, one: str, two: str, *, more: int = 0) -> UnreadableFile:
    """Two numbers of a row, and perhaps of some more rows, that changed places."""
    run = f" in {more + 1} rows from here on" if more else ""
    return UnreadableFile(
        f"{one} and {two} are off a curve that is smooth on both sides, and on it with their places changed{run}; "
        "expected rows like their neighbours; the row looks damaged - correct it, or export the sweep again",
        line=rows.line(at),
    )


def _exchanged_run(rows: Rows) -> Slip | None:
    """A run of rows with two columns exchanged, between two jumps of the curve or one and an end."""
    step = np.abs(rows.values[1:] - rows.values[:-1])
    usual = np.partition(step, step.size // 2)[step.size // 2]
    if rows.phase == "none" or not step.max() > max(LEAST_JUMP, JUMP * usual):
        return None
    jumps = []
    for at in np.sort(np.argsort(step, kind="stable")[-JUMPS:]):
        usual = float(np.median(step[max(0, at - REACH) : at + REACH + 1]))
        usual = max(usual, HALF_STEP * max(_printed_step(rows, at), _printed_step(rows, at + 1)), 1e-6)
        if step[at] > max(LEAST_JUMP, JUMP * usual):
            jumps.append((int(at), usual))
    places, end = [at for at, _ in jumps], rows.f_hz.size - 1
    runs = sorted(((one + 1, two) for one, two in combinations(places, 2)), key=lambda run: run[1] - run[0])
    runs += [
        *((at + 1, end) for at in places),
        *((0, at) for at in places),
    ]  # and between one jump and an end
    healed = (slip for first, last in runs for slip in _healed(rows, dict(jumps), first, last))
    return next(healed, None)


def _healed(rows: Rows, usual: dict[int, float], first: int, last: int) -> Iterator[Slip]:
    """The exchange that lets the curve go on at both ends of a run."""
    sides = [(at, out) for at, out in ((first, first - 1), (last, last + 1)) if 0 <= out < rows.f_hz.size]
    printed = [row for at, _ in sides if (row := rows.as_printed(at))]
    if len(printed) < len(sides) or not printed:
        return
    points = np.array(
        [row.reflection(_with_places_changed(row)[1]) for row in printed]
    )  # shape (sides, pairs)
    for k, (one, two) in enumerate(_with_places_changed(printed[0])[0]):
        chance = 1.0
        for (at, out), point in zip(sides, points[:, k], strict=True):
            gap, limit = abs(point - rows.values[out]), HEALED * usual[min(at, out)]
            chance *= (limit / abs(rows.values[at] - rows.values[out])) ** 2 if gap <= limit else np.inf
        if chance < 1:
            texts = [printed[0].numbers[place].text for place in (one, two)]
            yield Slip(_exchanged_error(rows, first, *texts, more=last - first), float(chance))
