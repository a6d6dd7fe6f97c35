"""What an answer says, whatever command made it; ``page_text``, ``page_html`` and ``page_markdown`` write it out.

A terminal shows what is *first*, and with ``--explain`` also what is marked *more*; a page shows all.
"""

from __future__ import annotations

import shlex
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

from sweepkit.figures import Figure
from sweepkit.findings import Finding
from sweepkit.quantities import feet_text, length_text
from sweepkit.reviews.next_sweep import NextSweep
from sweepkit.visible import visible

Tone = Literal["good", "fair", "bad", "unknown"]


@dataclass(frozen=True)
class Verdict:
    """One answer, in words large enough for the sun."""

    sign: str  # one character that says the same as the word
    name: str  # what it is about, such as "40 m"
    word: str  # the answer, such as "DIRECT"
    why: tuple[str, ...] = ()  # lines below it
    tone: Tone = "unknown"  # for the mark beside it, never the only sign


@dataclass(frozen=True)
class Row:
    """A quantity, its value, and its interval or why there is none."""

    name: str
    value: str
    interval: str
    more: bool = False


@dataclass(frozen=True)
class Table:
    """Figures under a heading."""

    title: str
    rows: tuple[Row, ...]
    more: bool = False


@dataclass(frozen=True)
class Grid:
    """A table of as many columns, each with its unit, as are needed, all text; the first cell names the row."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    more: bool = False

    def __post_init__(self) -> None:
        uneven = [len(row) for row in self.rows if len(row) != len(self.columns)]
        if uneven:
            raise ValueError(f"a row has {uneven[0]} cells; the table has {len(self.columns)} columns")


@dataclass(frozen=True)
class Block:
    """Lines to be copied as they stand, such as a part of a kit.toml."""

    title: str
    text: str


@dataclass(frozen=True)
class Command:
    """The command line to run next, ready to paste, after what it is for."""

    why: str
    words: tuple[str, ...]

    @property
    def quoted(self) -> list[str]:
        """The words as a shell takes them: in double quotes, which all shells know, where that is enough."""
        return [_quoted(visible(word)) for word in self.words]

    @property
    def line(self) -> str:
        """All of it on one line."""
        return " ".join(self.quoted)


def _quoted(word: str) -> str:
    plain = shlex.quote(word)
    return plain if plain == word or set(word) & set('"$`\\!%\n') else f'"{word}"'


@dataclass(frozen=True)
class Picture:
    """A picture with what it shows in words."""

    name: str  # letters, digits and hyphens
    title: str  # above it
    description: str  # for those who do not see it
    svg: str
    # of its first axes, in the units of the drawing: left, top, right, bottom, the limits x and y (at left and right,
    # at bottom and top), log for a logarithmic upward scale; "shows": the quantities of the readout that are drawn
    frame: Mapping[str, Any]
    readout: int | None = None  # which of the page's readouts follows the pointer on it
    note: str = ""  # below it, also on paper
    # states to choose from with a slider: "mhz", the number of the present one "now", and for each its "words" and
    # "swr": value, low and high end at each frequency, None where there is none
    moves: Mapping[str, Any] | None = None


@dataclass(frozen=True)
class Page:
    """One report; its title is text of a user."""

    title: str
    subtitle: str  # what it is, such as the span of the sweep and where it was measured
    verdicts: tuple[Verdict, ...]  # the answer first
    tables: tuple[Table | Grid, ...]
    steps: tuple[str, ...] = ()  # what to do next, in order; they stand below the answer
    steps_are_more: bool = False  # where the answer and its cautions say enough for a start
    command: Command | None = None  # the next one, where one is clear
    pictures: tuple[Picture, ...] = ()
    # at each point of a sweep, plain types only: "f_hz", and for each quantity value, low and high
    readouts: tuple[Mapping[str, Any], ...] = ()
    findings: tuple[Finding, ...] = ()
    more_findings: tuple[Finding, ...] = ()
    blocks: tuple[Block, ...] = ()  # text to be copied
    cautions: tuple[str, ...] = ()  # what must be said
    cautions_title: str = "Before you key"  # above them: when they hold
    # what a terminal shows in their place, empty for nothing; None: all of them are first
    cautions_in_short: str | None = None
    assumed: tuple[str, ...] = ()  # what stands in for what was not told
    assumed_in_short: str | None = None
    provenance: tuple[tuple[str, str], ...] = ()  # where it comes from; text of a user, always more


def figure_row(name: str, figure: Figure, unit: str, form: str, *, scale: float = 1.0) -> Row:
    """A figure as a row: its unit, empty for none, and the format of its number, such as ".2f"."""
    if figure.value is None:
        return Row(name, "no answer", figure.reason or "")
    shown = figure.scaled(scale)
    value = f"{_number(shown.value, form)} {unit}".strip()
    if shown.low is None or shown.high is None:
        return Row(name, value, "")
    return Row(name, value, f"{_number(shown.low, form)} to {_number(shown.high, form)}")


def length_row(name: str, figure: Figure, imperial: bool) -> Row:
    """A length as a row; with feet and inches beside where they are asked for."""
    if figure.value is None:
        return Row(name, "no answer", figure.reason or "")
    ends = [length_text(end, imperial=imperial) for end in (figure.low, figure.high) if end is not None]
    return Row(name, length_text(figure.value, imperial=imperial), " to ".join(ends))


def sweeps_text(wanted: Sequence[NextSweep]) -> list[str]:
    """A line for each sweep to take next."""
    return [
        f"Sweep {one.start_hz / 1e6:g} to {one.stop_hz / 1e6:g} MHz with {one.points} points."
        for one in wanted
    ]


def _number(value: float | None, form: str) -> str:
    """A number without the sign of a zero."""
    text = format(value, form)
    return text.lstrip("-") if not text.strip("-0.") else text


def file_title(path: str) -> str:
    """The name of a file, as it was read, without its folders, for a title."""
    name = visible(path.replace("\\", "/").rsplit("/", 1)[-1])
    return "stdin" if name == "-" else name or "sweep"


def with_feet(finding: Finding) -> Finding:
    """Its distance in feet and inches too."""
    at = finding.distance_m
    if at is None or at.value is None:
        return finding
    ends = [feet_text(end) for end in (at.low, at.high) if end is not None]
    between = f" ({' to '.join(ends)})" if len(ends) == 2 else ""
    return replace(finding, text=f"{finding.text}; in feet {feet_text(at.value)}{between}")


def stop_verdicts(findings: Sequence[Finding]) -> tuple[Verdict, ...]:
    """What forbids to act on anything else."""
    return tuple(
        Verdict("!!", "", "STOP", (finding.text, finding.next_step), "bad")
        for finding in findings
        if finding.level == "stop"
    )


def sentence(text: str) -> str:
    """A phrase without a full stop as a sentence."""
    return f"{text[:1].upper()}{text[1:]}."
