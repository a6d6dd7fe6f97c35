"""Pages as Markdown for a notebook or a chat: words and tables, no pictures, nothing that could run."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from sweepkit.report.page import Page, Table, printable

SPECIAL = re.compile(r"([\\`*_{}\[\]<>()#+!|~$&-])")


def page_markdown(pages: Sequence[Page]) -> str:
    """One Markdown document.

    Parameters
    ----------
    pages : sequence of Page
        One or more.
    """
    return "\n\n---\n\n".join("\n".join(_lines(page)).strip() for page in pages) + "\n"


def _lines(page: Page) -> Iterator[str]:
    yield from (f"# {_escaped(page.title)}", "", _escaped(page.subtitle), "")
    for verdict in page.verdicts:
        yield f"- **{_escaped(f'{verdict.name} {verdict.word}'.strip())}**"
        yield from (f"  {_escaped(line)}  " for line in verdict.why)
    if page.findings:
        yield from ("", "## Findings and next steps", "")
        for finding in page.findings:
            yield f"- **{finding.level}** {_escaped(finding.text)}  "
            yield f"  → {_escaped(finding.next_step)}"
    yield from ("", "## Figures", "")
    for table in page.tables:
        yield from _table(table)
    if page.cautions:
        yield from ("## Before you key", "")
        yield from (f"- {_escaped(caution)}" for caution in page.cautions)
    if page.assumed:
        yield from ("", "## Assumed", "")
        yield from (f"- {_escaped(text)}" for text in page.assumed)
    yield from ("", "## Where this comes from", "")
    yield from (f"- {name}: {_escaped(value)}" for name, value in page.provenance)


def _table(table: Table) -> Iterator[str]:
    yield from (f"**{_escaped(table.title)}**", "", "| figure | value | 95 % interval |", "|---|---|---|")
    for row in table.rows:
        yield f"| {_escaped(row.name)} | {_escaped(row.value)} | {_escaped(row.interval)} |"
    yield ""


def _escaped(text: str) -> str:
    """Text that Markdown takes for nothing but text; a hyphen or a point inside a word stays as it is."""
    return SPECIAL.sub(_escape, printable(text))


def _escape(found: re.Match[str]) -> str:
    character = found.group(1)
    named = {"<": "&lt;", ">": "&gt;", "&": "&amp;"}.get(character)
    if named:
        return named
    starts_a_list = found.start() == 0 and found.string[1:2] in ("", " ", "-", "+")
    if character in "-+()" and not starts_a_list:
        return character
    return f"\\{character}"
