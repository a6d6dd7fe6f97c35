"""Touchstone files, version 1.0 and 1.1.

Touchstone File Format Specification, Rev 1.1 (EIA/IBIS Open Forum, 2002).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

from sweepkit.errors import UnreadableFile
from sweepkit.readers.hints import Hints
from sweepkit.readers.network_data import Layout, network_rows
from sweepkit.readers.opening import BEGIN, END, Text, one_block
from sweepkit.readers.options import EXAMPLE, Options, looks_like_options, parse_options
from sweepkit.readers.order import Rows
from sweepkit.readers.records import Parts, walk

NAME = "touchstone"
SUMMARY = "Touchstone 1.0 and 1.1: an option line such as # MHz S RI R 50, then numbers"


def recognise(head: str) -> bool:
    """Whether the beginning of a file is Touchstone version 1: every ``#`` line is an option line."""
    found = False
    for line in head.split("\n"):
        stripped = line.strip()
        if stripped.lower().startswith("[version]"):
            return False
        if stripped.startswith("#"):
            if not looks_like_options(stripped):
                return False
            found = True
        elif stripped[:1].isdigit():
            break
    return found


@dataclass
class _File(Parts):
    mark: str = ""  # begun or ended, where the numbers stand between marks of a block


def read(text: Text, hints: Hints) -> tuple[Rows, tuple[str, ...]]:
    """Rows and remarks of a Touchstone version 1 file."""
    text, hints = one_block(text, hints)
    parts, layout = take_apart(text, hints)
    return network_rows(text, parts, layout, hints), tuple(remark for _, remark in parts.remarks)


def take_apart(text: Text, hints: Hints) -> tuple[Parts, Layout]:
    """The lines of a file, and what its head says about its numbers."""
    file = _File()
    walk(text, file, hints, partial(_take, file), lambda: file.options is not None and not file.mark)
    assert file.options is not None  # recognise saw it
    return file, Layout(file.options, file.options_line, named_ports=text.named_ports, absolute=False)


def _take(file: _File, body: str, number: int) -> None:
    """Put one line where it belongs."""
    if body.startswith("#"):
        file.refuse_late_options(number)
        options = parse_options(body, line=number)
        if file.options not in (None, options):
            raise UnreadableFile(
                "a second option line says something else than the first; expected one; remove the wrong one",
                line=number,
            )
        file.options, file.options_line = options, file.options_line or number
    elif BEGIN.fullmatch(body) or (file.mark and END.fullmatch(body)):
        file.mark = _next_mark(file.mark, body, number)
    else:
        _refuse_stray(body, number, file.mark, file.options)
        file.bodies.append((number, body))


def _next_mark(mark: str, body: str, number: int) -> str:
    """Where between the marks of a block the line after this mark stands."""
    if END.fullmatch(body):
        return "ended"
    if mark:
        raise UnreadableFile(
            "a second block begins; expected one sweep in the file; put each into a file of its own",
            line=number,
        )
    return "begun"


def _refuse_stray(body: str, number: int, mark: str, options: Options | None) -> None:
    if options is None:
        raise UnreadableFile(
            f"{body[:40]!r} before the option line; expected a line like {EXAMPLE} first; "
            "remove the text, or put ! before it",
            line=number,
        )
    if mark == "ended":
        raise UnreadableFile("numbers after END; expected nothing there; remove the lines", line=number)
    if body.startswith("["):
        raise UnreadableFile(
            f"keyword {body.partition(']')[0]}] without [Version] before it; expected [Version] 2.0 as the "
            "first keyword of such a file; export the sweep again",
            line=number,
        )
