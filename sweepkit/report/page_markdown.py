"""Pages as Markdown for a notebook or a chat: words and tables, no pictures, nothing that could run."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from sweepkit.report.page import Grid, Page, Table
from sweepkit.visible import visible

SPECIAL = re.compile(r"([\\`*_{}\[\]<>()#+!|~$&-])")


def page_markdown(pages: Sequence[Page]) -> str:
    """One Markdown document."""
    return "\n\n---\n\n".join("\n".join(_lines(page)).strip() for page in pages) + "\n"


def _lines(page: Page) -> Iterator[str]:
    yield from (f"# {escaped(page.title)}", "", escaped(page.subtitle), "")
    for verdict in page.verdicts:
        yield f"- **{escaped(f'{verdict.name} {verdict.word}'.strip())}**"
        yield from (f"  {escaped(line)}  " for line in verdict.why)
    if page.steps:
        yield from ("", "## Next steps", "")
        yield from (f"{number}. {escaped(step)}" for number, step in enumerate(page.steps, start=1))
    if page.command is not None:
        yield from ("", escaped(page.command.why), "", f"    {page.command.line}")
    findings = (*page.findings, *page.more_findings)
    if findings:
        yield from ("", "## Findings and next steps", "")
        for finding in findings:
            yield f"- **{finding.level}** {escaped(finding.text)}  "
            if finding.next_step:
                yield f"  → {escaped(finding.next_step)}"
    yield from ("", "## Figures", "")
    for table in page.tables:
        yield from _grid(table) if isinstance(table, Grid) else table_lines(table)
    for block in page.blocks:
        yield from (f"## {escaped(block.title)}", "")
        yield from (f"    {visible(line)}".rstrip() for line in block.text.splitlines())
        yield ""
    if page.cautions:
        yield from (f"## {page.cautions_title}", "")
        yield from (f"- {escaped(caution)}" for caution in page.cautions)
    if page.assumed:
        yield from ("", "## Assumed", "")
        yield from (f"- {escaped(text)}" for text in page.assumed)
    yield from ("", "## Where this comes from", "")
    yield from (f"- {name}: {escaped(value)}" for name, value in page.provenance)


def table_lines(table: Table) -> Iterator[str]:
    """A table of figures under its title."""
    yield from (f"**{escaped(table.title)}**", "", "| figure | value | 95 % interval |", "|---|---|---|")
    for row in table.rows:
        yield f"| {escaped(row.name)} | {escaped(row.value)} | {escaped(row.interval)} |"
    yield ""


def _grid(grid: Grid) -> Iterator[str]:
    yield from (f"**{escaped(grid.title)}**", "")
    for row in (grid.columns, ("---",) * len(grid.columns), *grid.rows):
        yield f"| {' | '.join(cell if cell == '---' else escaped(cell) for cell in row)} |"
    yield ""


def escaped(text: str) -> str:
    """Text that Markdown takes for nothing but text; a hyphen or a point inside a word stays as it is."""
    return SPECIAL.sub(_escape, visible(text))


def _escape(found: re.Match[str]) -> str:
    character = found.group(1)
    named = {"<": "&lt;", ">": "&gt;", "&": "&amp;"}.get(character)
    if named:
        return named
    starts_a_list = found.start() == 0 and found.string[1:2] in ("", " ", "-", "+")
    if character in "-+()" and not starts_a_list:
        return character
    return f"\\{character}"
