"""Touchstone files with keywords, version 2.0 and 2.1.

Touchstone File Format Specification, version 2.0 (IBIS Open Forum, 2009) and version 2.1 (2024).
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from sweepkit.errors import UnreadableFile
from sweepkit.readers.hints import Hints
from sweepkit.readers.network_data import NUMBER_STARTS, Layout, Numbers, make_numbers, network_rows
from sweepkit.readers.number_block import Remarks, read_block
from sweepkit.readers.numbers import Style, parse_number
from sweepkit.readers.opening import Text
from sweepkit.readers.options import EXAMPLE, Options, parse_options
from sweepkit.readers.order import Rows
from sweepkit.readers.records import Bodies, refuse_cut_number

NAME = "touchstone-keywords"
SUMMARY = "Touchstone 2.0 and 2.1: keywords in brackets, [Version] first"

_KEYWORD = re.compile(r"\[\s*([^\]]*?)\s*\]\s*(.*)")
_SECTION = re.compile(r"^[ \t]*\[", re.MULTILINE)
_KNOWN = (
    "version",
    "number of ports",
    "two-port data order",
    "number of frequencies",
    "number of noise frequencies",
    "reference",
    "matrix format",
    "mixed-mode order",
    "begin information",
    "end information",
    "network data",
    "noise data",
    "end",
)


def recognise(head: str) -> bool:
    """Whether a ``[Version]`` keyword stands in the beginning of a file."""
    return "[" in head and any(line.strip().lower().startswith("[version]") for line in head.split("\n"))


@dataclass
class _File:
    """A keyword file taken apart: each keyword with its line and what follows it."""

    options: Options | None = None
    options_line: int = 0
    keywords: dict[str, tuple[int, str]] = field(default_factory=dict)
    remarks: Remarks = field(default_factory=list)
    bodies: Bodies = field(default_factory=list)
    section: str = "head"


def read(text: Text, hints: Hints) -> tuple[Rows, tuple[str, ...]]:
    """Rows and remarks of a Touchstone version 2 file.

    Raises ``UnreadableFile``: anything that breaks the format, with the line.
    """
    numbers, layout = take_apart(text, hints)
    return network_rows(text, numbers, layout, hints), tuple(remark for _, remark in numbers.remarks)


def take_apart(text: Text, hints: Hints) -> tuple[Numbers, Layout]:
    """Numbers of a file, and what its head says about them."""
    file = _File()
    place, number, at_once = 0, 1, None
    while place <= len(text.text):
        number, line, start = next(text.numbered(place, number))
        place, number = start + len(line) + 1, number + 1
        if file.section == "network data" and not file.bodies and line.lstrip()[:1] in NUMBER_STARTS:
            end = _SECTION.search(text.text, start)
            stop = end.start() if end else len(text.text)
            beside: Remarks = []
            block = read_block(text.text, number - 1, start=start, stop=stop, remarks=beside)
            if block is not None:
                at_once = block, beside
                file.bodies.append((number - 1, line))
                number += text.text.count("\n", start, stop) - 1
                place = stop
                continue
        _take_line(file, line, number - 1)
    layout = _layout(file)
    return make_numbers(text, at_once, file.bodies, file.remarks, layout.options, hints), layout


def _take_line(file: _File, line: str, number: int) -> None:
    body, _, remark = line.partition("!")
    if remark.strip():
        refuse_cut_number(line, number)
        file.remarks.append((number, remark.strip()))
    if body.strip():
        _take(file, body.strip(), number)


def _layout(file: _File) -> Layout:
    """What the keywords say about the numbers, once the file has ended."""
    if file.section == "information":
        number = file.keywords["begin information"][0]
        raise UnreadableFile(
            "[Begin Information] has no end; expected [End Information]; add it", line=number
        )
    if file.options is None:
        raise UnreadableFile(f"no option line; expected one like {EXAMPLE} after [Version]; add it", line=1)
    ports = _count(file, "number of ports")
    if ports is None:
        raise UnreadableFile(
            "no [Number of Ports]; expected it after the option line; add it", line=file.options_line
        )
    references = _references(file, ports)
    return Layout(
        file.options,
        file.options_line,
        ports=ports,
        references_ohm=references,
        absolute=True,
        order=_word(file, "two-port data order", "21_12", ("21_12", "12_21")),
        triangle=_word(file, "matrix format", "full", ("full", "lower", "upper")),
        points=_count(file, "number of frequencies"),
        points_line=file.keywords.get("number of frequencies", (None, ""))[0],
    )


def _take(file: _File, body: str, number: int) -> None:
    """Put one line where it belongs."""
    match = _KEYWORD.fullmatch(body)
    if match:
        _take_keyword(file, re.sub(r"\s+", " ", match.group(1)).lower(), match.group(2), number)
    elif file.section == "information":
        file.remarks.append((number, body))
    elif file.section == "end":
        raise UnreadableFile("text after [End]; expected nothing there; remove the lines", line=number)
    elif body.startswith("#"):
        if file.bodies:
            raise UnreadableFile(
                f"option line after the first numbers; expected it before them, like {EXAMPLE}; "
                "move it up, or split a file of two sweeps",
                line=number,
            )
        if file.options is None:  # further ones are to be ignored (specification 2.0, "Option Line")
            file.options, file.options_line = parse_options(body, line=number), number
    elif not file.keywords:
        raise UnreadableFile("text before [Version]; expected it first; remove the lines", line=number)
    elif file.section == "reference":
        line, words = file.keywords["reference"]
        if _is_full(file):
            file.section = "head"
            _take(file, body, number)
        else:
            file.keywords["reference"] = (line, f"{words} {body}")
    elif file.section != "noise data":
        file.bodies.append((number, body))


def _take_keyword(file: _File, keyword: str, words: str, number: int) -> None:
    if file.section == "information" and keyword != "end information":
        return
    keyword = "two-port data order" if keyword == "two-port order" else keyword  # draft of version 2.0
    if keyword not in _KNOWN:
        raise UnreadableFile(
            f"unknown keyword [{keyword}]; expected one of Touchstone 2.1; remove the line, or export again",
            line=number,
        )
    if keyword == "version" and words.split()[:1] not in (["2.0"], ["2.1"]):
        raise UnreadableFile(f"[Version] {words}; expected 2.0 or 2.1; export the sweep again", line=number)
    if keyword in file.keywords:
        raise UnreadableFile(
            f"[{keyword}] stands here a second time; expected it once; remove one", line=number
        )
    if not file.keywords and keyword != "version":
        raise UnreadableFile(
            f"[{keyword}] before [Version]; expected [Version] first; move it up", line=number
        )
    if keyword == "mixed-mode order" and not re.fullmatch(r"(?:\s*s\d+)+\s*", words, re.IGNORECASE):
        raise UnreadableFile(
            "mixed-mode parameters; expected the reflection of one port; export single-ended parameters",
            line=number,
        )
    file.keywords[keyword] = (number, words)
    sections = {"begin information": "information", "end information": "head"}
    if keyword in ("reference", "network data", "noise data", "end") or keyword in sections:
        file.section = sections.get(keyword, keyword)


def _is_full(file: _File) -> bool:
    """Whether [Reference] has a number for every port, so that the next line is no part of it."""
    words = file.keywords["number of ports"][1] if "number of ports" in file.keywords else "1"
    return not words.strip().isdigit() or len(file.keywords["reference"][1].split()) >= int(words)


def _count(file: _File, keyword: str) -> int | None:
    if keyword not in file.keywords:
        return None
    line, words = file.keywords[keyword]
    if not re.fullmatch(r"[1-9]\d{0,8}", words.strip(), re.ASCII):
        raise UnreadableFile(
            f"[{keyword}] is {words!r}; expected a whole number above 0; correct it", line=line
        )
    return int(words)


def _word(file: _File, keyword: str, default: str, known: tuple[str, ...]) -> str:
    line, words = file.keywords.get(keyword, (0, default))
    word = words.strip().lower()
    if word not in known:
        raise UnreadableFile(
            f"[{keyword}] is {words!r}; expected {' or '.join(known)}; correct it", line=line
        )
    return word


def _references(file: _File, ports: int) -> tuple[float, ...] | None:
    """Reference of each port; none where the file has no [Reference]."""
    if "reference" not in file.keywords:
        return None
    line, words = file.keywords["reference"]
    try:
        values = tuple(parse_number(word, Style()) for word in words.split())
    except ValueError:
        values = ()
    if len(values) != ports or min(values) <= 0:
        raise UnreadableFile(
            f"[Reference] is {words!r}; expected {ports} resistances in ohm, each above 0; correct it",
            line=line,
        )
    return values
