"""Touchstone files, version 1.0 and 1.1.

Touchstone File Format Specification, Rev 1.1 (EIA/IBIS Open Forum, 2002).
"""

from __future__ import annotations

from sweepkit.errors import UnreadableFile
from sweepkit.readers.blocks import BEGIN, END, one_block
from sweepkit.readers.hints import Hints
from sweepkit.readers.network_data import NUMBER_STARTS, Layout, Numbers, make_numbers, network_rows
from sweepkit.readers.number_block import Remarks, read_block
from sweepkit.readers.opening import Text
from sweepkit.readers.options import EXAMPLE, Options, looks_like_options, parse_options
from sweepkit.readers.order import Rows
from sweepkit.readers.records import Bodies, refuse_cut_number

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


def read(text: Text, hints: Hints) -> tuple[Rows, tuple[str, ...]]:
    """Rows and remarks of a Touchstone version 1 file."""
    text, hints = one_block(text, hints)
    numbers, layout = take_apart(text, hints)
    return network_rows(text, numbers, layout, hints), tuple(remark for _, remark in numbers.remarks)


def take_apart(text: Text, hints: Hints) -> tuple[Numbers, Layout]:
    """Numbers of a file, and what its head says about them."""
    options: Options | None = None
    options_line = 0
    remarks: Remarks = []
    bodies: Bodies = []
    at_once = None
    mark = ""
    for number, line, place in text.numbered():
        if options is not None and not (bodies or mark) and line.lstrip()[:1] in NUMBER_STARTS:
            beside: Remarks = []
            if (block := read_block(text.text, number, start=place, remarks=beside)) is not None:
                at_once = block, beside
                break
        body, _, remark = line.partition("!")
        body = body.strip()
        if remark.strip():
            refuse_cut_number(line, number)
            remarks.append((number, remark.strip()))
        if not body:
            continue
        if body.startswith("#"):
            options = _options(body, number, options, bool(bodies))
            options_line = options_line or number
        elif BEGIN.fullmatch(body) or (mark and END.fullmatch(body)):
            mark = _next_mark(mark, body, number)
        else:
            _refuse_stray(body, number, mark, options)
            bodies.append((number, body))
    assert options is not None  # recognise saw it
    layout = Layout(options, options_line, named_ports=text.named_ports, absolute=False)
    return make_numbers(text, at_once, bodies, remarks, options, hints), layout


def _options(body: str, number: int, earlier: Options | None, numbers_seen: bool) -> Options:
    if numbers_seen:
        raise UnreadableFile(
            f"option line after the first numbers; expected it before them, like {EXAMPLE}; "
            "move it up, or split a file of two sweeps",
            line=number,
        )
    options = parse_options(body, line=number)
    if earlier is not None and options != earlier:
        raise UnreadableFile(
            "a second option line says something else than the first; expected one; remove the wrong one",
            line=number,
        )
    return options


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
