"""Touchstone files with keywords, version 2.0 and 2.1.

Touchstone File Format Specification, version 2.0 (IBIS Open Forum, 2009) and version 2.1 (2024).
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from functools import partial

from sweepkit.errors import UnreadableFile
from sweepkit.readers.hints import Hints
from sweepkit.readers.network_data import Layout, network_rows
from sweepkit.readers.numbers import POINTS, parse_number
from sweepkit.readers.opening import Text
from sweepkit.readers.options import EXAMPLE, parse_options
from sweepkit.readers.order import Rows
from sweepkit.readers.records import Parts, walk

NAME = "touchstone-keywords"
SUMMARY = "Touchstone 2.0 and 2.1: keywords in brackets, [Version] first"

_KEYWORD = re.compile(r"\[\s*([^\]]*?)\s*\]\s*(.*)")
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
class _File(Parts):
    keywords: dict[str, tuple[int, str]] = field(
        default_factory=dict
    )  # each with its line and what follows it
    section: str = "head"


def read(text: Text, hints: Hints) -> tuple[Rows, tuple[str, ...]]:
    """Rows and remarks of a Touchstone version 2 file."""
    parts, layout = take_apart(text, hints)
    return network_rows(text, parts, layout, hints), tuple(remark for _, remark in parts.remarks)


def take_apart(text: Text, hints: Hints) -> tuple[Parts, Layout]:
    """The lines of a file, and what its keywords say about its numbers."""
    file = _File()
    walk(text, file, hints, partial(_take, file), lambda: file.section == "network data")
    return file, _layout(file)


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
        file.refuse_late_options(number)
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
        if file.block is not None:
            raise UnreadableFile(
                "a keyword stands among the numbers; expected it above them; move it up", line=number
            )
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
        values = tuple(parse_number(word, POINTS) for word in words.split())
    except ValueError:
        values = ()
    if len(values) != ports or min(values) <= 0:
        raise UnreadableFile(
            f"[Reference] is {words!r}; expected {ports} resistances in ohm, each above 0; correct it",
            line=line,
        )
    return values
