"""Numbers of a Touchstone file line by line, and how the lines make up frequency points."""

from __future__ import annotations

import re
import statistics
from array import array
from dataclasses import dataclass

from sweepkit.errors import UnreadableFile
from sweepkit.readers.numbers import UNSIGNED_EXPONENT, Style, decide_style, parse_number

Bodies = list[tuple[int, str]]  # line number and what stands in the line beside remarks

_CUT_NUMBER = re.compile(r"^[^!]*[0-9.+-]![0-9.eE+-]")
NOISE_NUMBERS = 5  # a noise row of a two-port file: frequency and four numbers (Touchstone 1.1, "Noise Data")


@dataclass(frozen=True)
class Records:
    """Numbers of lines, all in one array.

    Parameters
    ----------
    numbers : array of float
        All numbers in order.
    starts : array of int
        Where each line's numbers begin, and where the last line's end.
    lines : array of int
        Line number of each line.
    style : Style
        How they were printed.
    """

    numbers: array[float]
    starts: array[int]
    lines: array[int]
    style: Style

    def count(self, at: int) -> int:
        """How many numbers line ``at`` has."""
        return self.starts[at + 1] - self.starts[at]

    def frequency(self, at: int) -> float:
        """First number of line ``at``, in the file's unit."""
        return self.numbers[self.starts[at]]


def read_numbers(bodies: Bodies, decimal: str | None, *, minus_infinity_at: int | None = None) -> Records:
    """All numbers of the lines.

    Parameters
    ----------
    bodies : list of (line, text)
        Lines that hold numbers.
    decimal : {".", ","} or None
        Decimal mark the user named.
    minus_infinity_at : int, optional
        Place in each line where ``-inf`` is a number (the dB of a perfect match).

    Raises
    ------
    UnreadableFile
        A word, ``nan`` or any other text where a number belongs, with its line.
    """
    style = Style()
    if decimal == "," or any("," in body for _, body in bodies):
        tokens = ((line, token) for line, body in bodies for token in body.split())
        style = decide_style(tokens, decimal)
        if style.thousands:  # in this format a mark between thousands is always a mistake
            style = Style(style.decimal)
    _refuse_odd_exponent(bodies)
    numbers, starts, lines = array("d"), array("q", [0]), array("q")
    for line, body in bodies:
        for place, token in enumerate(body.split()):
            try:
                numbers.append(parse_number(token, style))
            except ValueError as error:
                if place != minus_infinity_at or token.lower() not in ("-inf", "-infinity"):
                    raise UnreadableFile(
                        f"{token[:40]!r} is no number; expected numbers only; "
                        "correct the line or export the sweep again",
                        line=line,
                    ) from error
                numbers.append(float("-inf"))
        starts.append(len(numbers))
        lines.append(line)
    return Records(numbers, starts, lines, style)


def refuse_cut_number(line: str, number: int) -> None:
    """Refuse a remark that begins inside a number: it would cut digits off.

    Raises
    ------
    UnreadableFile
        A digit on both sides of the mark.
    """
    if _CUT_NUMBER.search(line):
        raise UnreadableFile(
            "a remark begins inside a number; expected a blank before !; the line looks damaged - correct it",
            line=number,
        )


def _refuse_odd_exponent(bodies: Bodies) -> None:
    """A few exponents without a sign among numbers that have none are damage, not large numbers."""
    found = [(line, len(UNSIGNED_EXPONENT.findall(body))) for line, body in bodies if "e" in body.lower()]
    if not any(count for _, count in found):
        return
    common = statistics.mode([count for _, count in found] + [0] * (len(bodies) - len(found)))
    for line, count in found:
        if count > common:
            raise UnreadableFile(
                "a number has an exponent that those of other lines do not have; expected one way of writing; "
                "the line looks damaged - correct it, or export the sweep again",
                line=line,
            )


def numbers_per_point(ports: int, *, triangular: bool = False) -> int:
    """How many numbers a frequency point has, the frequency included."""
    return 1 + (ports * (ports + 1) if triangular else 2 * ports * ports)


def infer_ports(records: Records, named: int | None) -> int:
    """Ports of a version 1 file, from the numbers of its first frequency point.

    A line with an odd count begins a point (frequency and pairs), one with an even count goes on with it.

    Raises
    ------
    UnreadableFile
        No number of ports has so many numbers, or the file's name says another.
    """
    first = records.count(0)
    size = first
    for at in range(1, len(records.lines)):
        if records.count(at) % 2:
            break
        size += records.count(at)
    sizes = {numbers_per_point(n): n for n in range(1, 100)}
    ports = sizes.get(size) or sizes.get(first) or named  # a damaged first point is found while grouping
    wanted = numbers_per_point(named or ports or 1)
    if ports is None or (named is not None and ports != named):
        because = f" (the file's name says {named} ports)" if named is not None and named > 1 else ""
        raise UnreadableFile(
            f"line has {first} numbers, {wanted} expected{because}; correct the file, or its name",
            line=records.lines[0],
        )
    return ports


def group(records: Records, size: int, *, noise_may_follow: bool) -> list[int]:
    """Which lines begin a frequency point.

    Parameters
    ----------
    records : Records
        Lines of numbers.
    size : int
        Numbers of one point, the frequency included.
    noise_may_follow : bool
        Rows of five numbers whose frequency steps back end the network data (two-port version 1 files).

    Returns
    -------
    list of int
        Index of each point's first line, and of the line after the last point.

    Raises
    ------
    UnreadableFile
        The first line that has too few or too many numbers.
    """
    firsts: list[int] = []
    filled = size
    for at in range(len(records.lines)):
        count = records.count(at)
        if filled == size:
            noise = noise_may_follow and count == NOISE_NUMBERS and firsts
            if noise and records.frequency(at) <= records.frequency(firsts[-1]):
                _check_noise(records, at)
                return [*firsts, at]
            if count % 2 == 0:  # a point begins with its frequency and goes on in pairs
                raise _wrong_count(records, at, size)
            firsts.append(at)
            filled = 0
        elif count % 2:  # the next point begins before this one is complete
            raise _wrong_count(records, at - 1, size)
        filled += count
        if filled > size:
            raise _wrong_count(records, at, size)
    if filled < size:
        raise _wrong_count(records, len(records.lines) - 1, size)
    return [*firsts, len(records.lines)]


def _check_noise(records: Records, start: int) -> None:
    for at in range(start, len(records.lines)):
        if records.count(at) != NOISE_NUMBERS:
            raise UnreadableFile(
                f"line has {records.count(at)} numbers, {NOISE_NUMBERS} expected in a noise row; "
                "correct the line",
                line=records.lines[at],
            )


def _wrong_count(records: Records, at: int, size: int) -> UnreadableFile:
    count = records.count(at)
    last = at > 0 and at == len(records.lines) - 1 and count < size
    cure = "the file looks cut short - export the sweep again" if last else "correct the line"
    expected = f"{size} expected" if size <= 9 else f"{size} expected for one frequency"
    numbers = "1 number" if count == 1 else f"{count} numbers"
    return UnreadableFile(f"line has {numbers}, {expected}; {cure}", line=records.lines[at])
