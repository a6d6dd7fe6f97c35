"""Numbers of a Touchstone file, and how its lines make up frequency points."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sweepkit.errors import UnreadableFile
from sweepkit.readers.number_block import CUT_NUMBER, Block
from sweepkit.readers.numbers import Style, decide_style, parse_number, refuse_odd_exponents
from sweepkit.readers.printing import Printed

Bodies = list[tuple[int, str]]  # line number and what stands in the line beside remarks
NOISE_NUMBERS = 5  # a noise row of a two-port file: frequency and four numbers (Touchstone 1.1, "Noise Data")


def read_by_line(
    bodies: Bodies, decimal: str | None, *, minus_infinity_at: int | None = None
) -> tuple[Block, Style]:
    """All numbers of the lines, one by one: any writing of a number, and errors that name the line.

    ``minus_infinity_at``: place in each line where ``-inf`` is a number (the dB of a perfect match).
    """
    style = Style()
    if decimal == "," or any("," in body for _, body in bodies):
        style = decide_style(((line, token) for line, body in bodies for token in body.split()), decimal)
        style = Style(style.decimal)  # in this format a mark between thousands is always a mistake
    refuse_odd_exponents(bodies)
    values: list[float] = []
    words: list[str] = []
    counts = []
    for line, body in bodies:
        row = body.split()
        values += [
            _number(word, style, line, minus_infinity=at == minus_infinity_at) for at, word in enumerate(row)
        ]
        words += row
        counts.append(len(row))
    numbers = np.array(values)
    printed = Printed.of_texts(words, numbers, style)
    lines = np.array([line for line, _ in bodies])
    return Block(numbers, np.array(counts), lines, printed.decimals, printed.leads), style


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


def refuse_cut_number(line: str, number: int) -> None:
    """Refuse a remark that begins inside a number: it would cut digits off.

    Raises ``UnreadableFile``: a digit on both sides of the mark.
    """
    if CUT_NUMBER.search(line[: line.find("!") + 2]):
        raise UnreadableFile(
            "a remark begins inside a number; expected a blank before !; the line looks damaged - correct it",
            line=number,
        )


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
