"""The lines of a Touchstone file, one by one: option line, remarks, numbers and where each stands."""

from __future__ import annotations

import re
from array import array
from dataclasses import dataclass, field

from sweepkit.errors import UnreadableFile
from sweepkit.readers.numbers import Style, decide_style, parse_number
from sweepkit.readers.opening import Text
from sweepkit.readers.options import EXAMPLE, Options, looks_like_options, parse_options, without_block_count

_BEGIN = re.compile(r"BEGIN\b.*", re.IGNORECASE)
_END = re.compile(r"END\b.*", re.IGNORECASE)


@dataclass
class Listing:
    """A Touchstone file taken apart.

    Parameters
    ----------
    options : Options or None
        What the option line says; ``None`` without one.
    remarks : list of str
        Comments in order.
    bodies : list of (line, text)
        Lines that hold numbers.
    keywords : dict
        Version 2 keywords in lower case, each with its line and what follows it.
    """

    options: Options | None = None
    remarks: list[str] = field(default_factory=list)
    bodies: list[tuple[int, str]] = field(default_factory=list)


def list_version_1(text: Text) -> Listing:
    """Take a version 1 file apart.

    Raises
    ------
    UnreadableFile
        A line that does not belong in such a file.
    """
    listing = Listing()
    begun = ended = False
    for number, line in enumerate(text.lines, 1):
        body, _, remark = (without_block_count(line) if number == 1 else line).partition("!")
        body = body.strip()
        if remark.strip():
            listing.remarks.append(remark.strip())
        if not body:
            continue
        if body.startswith("#"):
            _take_options(listing, body, number)
        elif body.startswith("["):
            raise UnreadableFile(
                f"keyword {body.partition(']')[0]}] without [Version] before it; expected [Version] 2.0 "
                "as the first keyword of such a file; export the sweep again",
                line=number,
            )
        elif _BEGIN.fullmatch(body):
            if begun:
                raise UnreadableFile(
                    "a second block begins; expected one sweep in the file; put each into a file of its own",
                    line=number,
                )
            begun = True
        elif begun and _END.fullmatch(body):
            ended = True
        else:
            if ended:
                raise UnreadableFile(
                    "numbers after END; expected nothing there; remove the lines", line=number
                )
            listing.bodies.append((number, body))
    return listing


def _take_options(listing: Listing, body: str, number: int) -> None:
    if listing.bodies:
        raise UnreadableFile(
            f"option line after the first numbers; expected it before them, like {EXAMPLE}; move it up",
            line=number,
        )
    try:
        options = parse_options(body)
    except UnreadableFile as error:
        error.line = number
        raise
    if listing.options is not None and options != listing.options:
        raise UnreadableFile(
            "a second option line says something else than the first; expected one; remove the wrong one",
            line=number,
        )
    listing.options = options


@dataclass(frozen=True)
class Records:
    """Numbers line by line, all in one array.

    Parameters
    ----------
    numbers : array of float
        All numbers in order.
    starts : array of int
        Where each line's numbers begin.
    lines : array of int
        Line of each.
    style : Style
        How they were printed.
    """

    numbers: array[float]
    starts: array[int]
    lines: array[int]
    style: Style

    def count(self, at: int) -> int:
        """How many numbers line ``at`` has."""
        end = self.starts[at + 1] if at + 1 < len(self.starts) else len(self.numbers)
        return end - self.starts[at]


def read_numbers(bodies: list[tuple[int, str]], decimal: str | None) -> Records:
    """All numbers of a Touchstone file.

    Raises
    ------
    UnreadableFile
        A word, ``nan`` or any other text where a number belongs, with its line.
    """
    style = Style()
    if decimal == "," or any("," in body for _, body in bodies):
        tokens = ((line, token) for line, body in bodies for token in body.split())
        style = decide_style(tokens, decimal)
    numbers, starts, lines = array("d"), array("q"), array("q")
    for line, body in bodies:
        starts.append(len(numbers))
        lines.append(line)
        for token in body.split():
            try:
                numbers.append(parse_number(token, style))
            except ValueError as error:
                raise UnreadableFile(
                    f"{token[:40]!r} is no number; expected numbers only; correct the line or export again",
                    line=line,
                ) from error
    return Records(numbers, starts, lines, style)


def has_option_line(head: str) -> bool:
    """Whether a Touchstone option line stands before the first number; every ``#`` line must be one."""
    found = False
    for number, line in enumerate(head.split("\n")):
        stripped = (without_block_count(line) if number == 0 else line).strip()
        if stripped.startswith("#"):
            if not looks_like_options(stripped):
                return False
            found = True
        elif stripped[:1].isdigit():
            break
    return found
