"""Lines of a Touchstone file: remarks, numbers, and how these make up frequency points."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from sweepkit.errors import UnreadableFile
from sweepkit.readers.hints import Hints
from sweepkit.readers.number_block import CUT_NUMBER, Block, Remarks, read_block
from sweepkit.readers.numbers import POINTS, Style, decide_style, parse_number, refuse_odd_exponents
from sweepkit.readers.opening import Text
from sweepkit.readers.options import EXAMPLE, Options
from sweepkit.readers.printing import Printed

Bodies = list[tuple[int, str]]  # line number and what stands in the line beside remarks
NUMBER_STARTS = tuple("0123456789+-.")
_KEYWORD = re.compile(r"^[ \t]*\[", re.MULTILINE)
NOISE_NUMBERS = 5  # a noise row of a two-port file: frequency and four numbers (Touchstone 1.1, "Noise Data")


@dataclass
class Parts:
    """A Touchstone file taken apart, as far as it was walked through."""

    options: Options | None = None
    options_line: int = 0
    remarks: Remarks = field(default_factory=list)
    bodies: Bodies = field(default_factory=list)  # lines of numbers where not all are read at once
    block: Block | None = None  # all numbers, and how they print
    style: Style = POINTS

    def refuse_late_options(self, number: int) -> None:
        """An option line below numbers."""
        if self.bodies or self.block is not None:
            raise UnreadableFile(
                f"option line after the first numbers; expected it before them, like {EXAMPLE}; "
                "move it up, or split a file of two sweeps",
                line=number,
            )


def walk(
    text: Text, parts: Parts, hints: Hints, take: Callable[[str, int], None], ready: Callable[[], bool]
) -> None:
    """Each line beside its remark to *take*; once numbers are awaited, all plain ones up to a keyword at once."""
    whole, place, number = text.text, 0, 1
    while place <= len(whole):
        end = whole.find("\n", place) % (len(whole) + 1)
        line = whole[place:end]
        awaited = parts.block is None and not parts.bodies and hints.decimal != "," and ready()
        if awaited and line.lstrip()[:1] in NUMBER_STARTS:
            keyword = _KEYWORD.search(whole, place) if "[" in whole else None
            stop, beside = keyword.start() if keyword else len(whole), Remarks()
            parts.block = read_block(whole, number, start=place, stop=stop, remarks=beside)
            if parts.block is not None:
                parts.remarks += beside
                place, number = stop, number + whole.count("\n", place, stop)
                continue
        body, _, remark = line.partition("!")
        if remark.strip():
            if CUT_NUMBER.search(line[: line.find("!") + 2]):
                raise UnreadableFile(
                    "a remark begins inside a number; expected a blank before !; the line looks damaged - correct it",
                    line=number,
                )
            parts.remarks.append((number, remark.strip()))
        if body.strip():
            take(body.strip(), number)
        place, number = end + 1, number + 1


def numbers_of(text: Text, parts: Parts, hints: Hints) -> Block:
    """Numbers as they were read at once, or one by one: any writing of a number, and errors that name the line."""
    if parts.block is not None:
        return parts.block
    if not parts.bodies:
        raise UnreadableFile(
            "no measured points; expected lines of numbers; export the sweep again", line=len(text.lines)
        )
    bodies = parts.bodies
    if hints.decimal == "," or any("," in body for _, body in bodies):
        style = decide_style(
            ((line, token) for line, body in bodies for token in body.split()), hints.decimal
        )
        parts.style = Style(style.decimal)  # in this format a mark between thousands is always a mistake
    refuse_odd_exponents(bodies)
    rows = [(line, body.split()) for line, body in bodies]
    may_be_infinite = parts.options is not None and parts.options.number_format == "DB"  # of a perfect match
    values = np.array(
        [
            _number(word, parts.style, line, minus_infinity=may_be_infinite and at == 1)
            for line, row in rows
            for at, word in enumerate(row)
        ]
    )
    printed = Printed.of_texts([word for _, row in rows for word in row], values, parts.style)
    counts, lines = np.array([len(row) for _, row in rows]), np.array([line for line, _ in rows])
    parts.block = Block(values, counts, lines, printed.decimals, printed.leads)
    return parts.block


def _number(word: str, style: Style, line: int, *, minus_infinity: bool) -> float:
    try:
        return parse_number(word, style)
    except ValueError as error:
        if minus_infinity and word.lower() in ("-inf", "-infinity"):
            return float("-inf")
        raise UnreadableFile(
            f"{word[:40]!r} is no number; expected numbers only; correct the line or export the sweep again",
            line=line,
        ) from error


def numbers_per_point(ports: int, *, triangular: bool = False) -> int:
    """How many numbers a frequency point has, the frequency included."""
    return 1 + (ports * (ports + 1) if triangular else 2 * ports * ports)


_PORTS_OF_SIZE = {numbers_per_point(n): n for n in range(1, 100)}


def infer_ports(block: Block, named: int | None) -> int:
    """Ports of a version 1 file, from the numbers of its first frequency point; its name may not say another.

    A line with an odd count begins a point (frequency and pairs), one with an even count goes on with it.
    """
    counts = block.counts
    first = int(counts[0])
    lines = counts.size
    if first % 2 and counts.size > 1 and counts[1] == first:  # most files: a line is a point
        lines = 1
    elif (odd := counts[1:] % 2 == 1).any():
        lines = 1 + int(np.argmax(odd))
    ports = (
        _PORTS_OF_SIZE.get(int(counts[:lines].sum())) or _PORTS_OF_SIZE.get(first) or named
    )  # a damaged one is found later
    wanted = numbers_per_point(named or ports or 1)
    if ports is None or (named is not None and ports != named):
        because = f" (the file's name says {named} ports)" if named is not None and named > 1 else ""
        raise UnreadableFile(
            f"line has {first} numbers, {wanted} expected{because}; correct the file, or its name",
            line=int(block.lines[0]),
        )
    return ports


def point_lines(block: Block, size: int, *, noise_may_follow: bool) -> NDArray[np.int64]:
    """Which lines begin a frequency point; too few or too many numbers are refused.

    ``noise_may_follow``: rows of five numbers whose frequency steps back end the network data (two-port version 1
    files).
    """
    if (block.counts == size).all():
        return np.arange(block.counts.size)
    end = _first_noise(block) if noise_may_follow else block.counts.size
    counts, starts = block.counts[:end], block.starts[:end]
    begins = starts % size == 0
    room = size - starts % size  # a point begins with its frequency and goes on in pairs
    wrong = ((counts % 2 == 1) != begins) | (counts > room)
    if wrong.any() or (starts[-1] + counts[-1]) % size:
        raise _wrong_count(block, _guilty(wrong, begins, counts), size)
    return np.flatnonzero(begins)


def _guilty(wrong: NDArray[np.bool_], begins: NDArray[np.bool_], counts: NDArray[np.int64]) -> int:
    """The line to name: where the next point begins too early, it is the one before that is too short."""
    if not wrong.any():
        return counts.size - 1
    at = int(np.argmax(wrong))
    return at - 1 if not begins[at] and counts[at] % 2 else at


def _first_noise(block: Block) -> int:
    """The line where noise data begin: five numbers, and the frequency does not go on."""
    few = np.flatnonzero(block.counts[1:] == NOISE_NUMBERS) + 1
    f = block.values[block.starts[:-1]]
    for at in few:
        if f[at] <= f[:at][block.counts[:at] % 2 == 1][-1]:
            other = np.flatnonzero(block.counts[at:] != NOISE_NUMBERS)
            if other.size:
                found = int(block.counts[at + other[0]])
                raise UnreadableFile(
                    f"line has {found} numbers, {NOISE_NUMBERS} expected in a noise row; correct the line",
                    line=int(block.lines[at + other[0]]),
                )
            return int(at)
    return block.counts.size


def _wrong_count(block: Block, at: int, size: int) -> UnreadableFile:
    count = int(block.counts[at])
    last = at > 0 and at == block.counts.size - 1 and count < size
    cure = "the file looks cut short - export the sweep again" if last else "correct the line"
    expected = f"{size} expected" if size <= 9 else f"{size} expected for one frequency"
    numbers = "1 number" if count == 1 else f"{count} numbers"
    return UnreadableFile(f"line has {numbers}, {expected}; {cure}", line=int(block.lines[at]))
