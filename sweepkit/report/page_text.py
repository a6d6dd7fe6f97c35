"""Pages as text for a terminal: what is *first*, or all. Made to be read on 40 columns in the sun."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import replace

from sweepkit.findings import Finding
from sweepkit.report.page import Command, Grid, Page, Row, Table
from sweepkit.visible import visible

LEAST_WIDTH, MOST_WIDTH = 40, 72
MARKS = {"stop": "!!", "warning": "! ", "note": "- "}
LONGEST_NAME = 30  # columns of names of figures that stand below one another
FEW = 3  # verdicts with which the short form fits a small screen
MOST_LINES = 15  # of it at its widest; further findings are left to --explain
LEAST_ROWS = 2  # of figures that it keeps; our own choice
MORE = "More: --explain."


def page_text(page: Page, *, width: int = MOST_WIDTH, explain: bool = False) -> str:
    """A page without its pictures for a terminal of 40 to 72 columns; no newline at the end."""
    width = min(max(width, LEAST_WIDTH), MOST_WIDTH)
    for findings in (
        page.findings,
        page.findings[:1],
        [replace(one, next_step="") for one in page.findings[:1]],
    ):
        widest = _text(page, MOST_WIDTH, explain, findings)  # what is said does not hang on the terminal
        if explain or not _is_small(page) or widest.count("\n") < MOST_LINES:
            break
    else:
        page = _shortened(page, findings)
    return _text(page, width, explain, findings)


def _text(page: Page, width: int, explain: bool, findings: Sequence[Finding]) -> str:
    """With these of the *first* findings; the others are counted."""
    held_back = len(page.findings) - len(findings)
    brief = [table for table in page.tables if not explain and not table.more and _is_abridged(table)]
    full = [table for table in page.tables if table not in brief and (explain or not table.more)]
    numbered = (f"{number}. {step}" for number, step in enumerate(page.steps, start=1))
    steps = numbered if explain or not page.steps_are_more else ()
    blocks = [
        [*_verdicts(page, width), *_wrapped(f"{page.title}: {page.subtitle}", width, hang="  ")],
        [line for step in steps for line in _wrapped(step, width, hang="   ")],
        [*_command(page.command, width), *(line for table in brief for line in _sentence(table, width))],
        [*_findings(findings, width), *([f"   and {held_back} more"] if held_back else [])],
        *(list(_figures(table, width)) for table in full),
        list(_findings(page.more_findings, width)) if explain else [],
        *([f"{block.title}:", *map(visible, block.text.splitlines())] for block in page.blocks),
        *_closing(page, width, explain),
        list(_provenance(page, width)) if explain else [],
    ]
    if brief and _is_small(page):
        blocks = [blocks[0], [line for block in blocks[1:] for line in block]]
    return "\n\n".join("\n".join(block) for block in blocks if block)


def _shortened(page: Page, findings: Sequence[Finding]) -> Page:
    """Cautions in one paragraph; where that is too long still, the last figures are left to --explain."""
    if page.cautions_in_short is None:
        page = replace(page, cautions_in_short=f"{page.cautions_title}: {' '.join(page.cautions)}")
    while _text(page, MOST_WIDTH, False, findings).count("\n") >= MOST_LINES:
        fewer = tuple(map(_without_last_row, page.tables))
        if fewer == page.tables:
            break
        page = replace(page, tables=fewer)
    return page


def _without_last_row(table: Table | Grid) -> Table | Grid:
    """An abridged table with one *first* row less, as long as enough are left."""
    if not isinstance(table, Table) or not _is_abridged(table):
        return table
    first = [k for k, row in enumerate(table.rows) if not row.more]
    if len(first) <= LEAST_ROWS:
        return table
    return replace(
        table, rows=tuple(replace(row, more=row.more or k == first[-1]) for k, row in enumerate(table.rows))
    )


def _is_small(page: Page) -> bool:
    """Whether what is *first* is to fit a small screen: few answers, and a table that holds rows back."""
    return len(page.verdicts) <= FEW and any(map(_is_abridged, page.tables))


def _is_abridged(table: Table | Grid) -> bool:
    return isinstance(table, Table) and any(row.more for row in table.rows)


def _has_more(page: Page) -> bool:
    """Whether something is held back that is worth asking for; where it comes from alone is not."""
    held = page.more_findings or (page.steps and page.steps_are_more)
    return bool(held) or any(table.more or _is_abridged(table) for table in page.tables)


def _verdicts(page: Page, width: int) -> Iterator[str]:
    for verdict in page.verdicts:
        yield from _wrapped(f"{verdict.name} {verdict.word}".strip(), width, hang="  ")
        for line in verdict.why:
            yield from _wrapped(line, width, indent="  ")


def _command(command: Command | None, width: int) -> Iterator[str]:
    """A shell takes the lines as one: each but the last ends in a backslash."""
    if command is None:
        return
    yield from _wrapped(command.why, width)
    line = " "
    for words in _with_values(command.quoted):
        if len(f"{line} {words}") > width - 2 and line.strip():
            yield f"{line} \\"
            line = "    "
        line = f"{line} {words}"
    yield line


def _with_values(words: Sequence[str]) -> Iterator[str]:
    """Words of a command line; an option stays with its value."""
    held = ""
    for word in words:
        if word.startswith("--"):
            yield from filter(None, [held])
            held = word
        else:
            yield f"{held} {word}".strip()
            held = ""
    yield from filter(None, [held])


def _findings(findings: Sequence[Finding], width: int) -> Iterator[str]:
    for finding in findings:
        yield from _wrapped(f"{MARKS[finding.level]} {finding.text}", width, hang="   ")
        if finding.next_step:
            yield from _wrapped(f"-> {finding.next_step}", width, indent="   ", hang="      ")


def _sentence(table: Table | Grid, width: int) -> list[str]:
    """What is *first* of an abridged table, in a line or two."""
    rows = [row for row in table.rows if isinstance(row, Row) and not row.more]
    said = "; ".join(f"{row.name} {_value(row)}" for row in rows)
    return _wrapped(f"{table.title}: {said}", width, hang="  ") if rows else []


def _figures(table: Table | Grid, width: int) -> Iterator[str]:
    if isinstance(table, Grid):
        yield from _grid(table, width)
        return
    yield from _wrapped(table.title, width)
    column = min(max((len(row.name) for row in table.rows), default=0), LONGEST_NAME)
    for row in table.rows:
        yield from _wrapped(_row(row, column, width), width, indent="  ", hang="    ")


def _value(row: Row) -> str:
    return f"{row.value} ({row.interval})" if row.interval else row.value


def _row(row: Row, column: int, width: int) -> str:
    line = f"{row.name:<{column}}  {_value(row)}"
    return line if len(line) + 2 <= width else f"{row.name}: {_value(row)}"


def _grid(grid: Grid, width: int) -> Iterator[str]:
    """Below one another where the columns fit, else each row as a sentence."""
    yield from _wrapped(grid.title, width)
    lines = [grid.columns, *grid.rows]
    columns = [max(len(visible(line[k])) for line in lines) for k in range(len(grid.columns))]
    if len(columns) > 1 and sum(columns) + 2 * len(columns) <= width:
        for line in lines:
            cells = (f"{visible(cell):<{room}}" for cell, room in zip(line, columns, strict=True))
            yield f"  {'  '.join(cells)}".rstrip()
        return
    for row in grid.rows:
        named = zip(grid.columns[1:], row[1:], strict=True)
        rest = "; ".join(
            f"{name}: {cell}" if len(row) > 2 else cell for name, cell in named if cell not in ("", "-")
        )
        yield from _wrapped(f"{row[0]}: {rest}" if rest else row[0], width, indent="  ", hang="    ")


def _closing(page: Page, width: int, explain: bool) -> Iterator[list[str]]:
    """Cautions, what was assumed and that there is more: in short as one block."""
    short = [] if explain else [*_wrapped(page.cautions_in_short or "", width, hang="  ")]
    if explain or page.cautions_in_short is None:
        yield list(_cautions(page, width))
    last = MORE if not explain and _has_more(page) else ""
    if explain or page.assumed_in_short is None:
        yield _assumed(page, width)
    else:
        last = f"{page.assumed_in_short} {last}"
    yield [*short, *_wrapped(last.strip(), width, hang="  ")]


def _cautions(page: Page, width: int) -> Iterator[str]:
    if page.cautions:
        yield f"{page.cautions_title}:"
    for caution in page.cautions:
        yield from _wrapped(f"* {caution}", width, hang="  ")


def _assumed(page: Page, width: int) -> list[str]:
    text = f"Assumed: {'; '.join(page.assumed)}. Tell yours with --kit." if page.assumed else ""
    return _wrapped(text, width, hang="  ")


def _provenance(page: Page, width: int) -> Iterator[str]:
    yield "Where this comes from"
    for name, value in page.provenance:
        yield from _wrapped(f"{name}: {value}", width, indent="  ", hang="    ")


def _wrapped(text: str, width: int, *, indent: str = "", hang: str | None = None) -> list[str]:
    later = indent if hang is None else hang
    return textwrap.wrap(
        visible(text),
        width,
        initial_indent=indent,
        subsequent_indent=later,
        break_on_hyphens=False,
        break_long_words=False,
    )
