"""An answer in a notebook: one paragraph, a small table, a picture; nothing in it is taken for markup."""

from __future__ import annotations

import base64
import io
from html import escape
from typing import TYPE_CHECKING

from sweepkit.report.page import Page, Table
from sweepkit.report.page_markdown import escaped, table_lines

if TYPE_CHECKING:
    from matplotlib.figure import Figure

PICTURE_DPI = 80
COLOURS = 16  # of a picture: enough for its lines and their soft edges, and a quarter of the bytes


def paragraph(page: Page) -> tuple[str, str]:
    """The first words, and the rest of what one paragraph says of the parts that come first."""
    (first, *verdicts) = page.verdicts
    rest = [*first.why]
    for verdict in verdicts:
        rest += [f"{f'{verdict.name} {verdict.word}'.strip()}.", *verdict.why]
    rest += page.steps
    rest += [f"{finding.text}: {finding.next_step}" for finding in page.findings]
    sentences = " ".join(text if text.endswith((".", "!")) else f"{text}." for text in filter(None, rest))
    return f"{first.name} {first.word}".strip(), f"{sentences} ({page.title}: {page.subtitle})".strip()


def as_html(page: Page, figure: Figure | None) -> str:
    """Paragraph, table, picture and the caution, of the parts that come first."""
    first, rest = map(escape, paragraph(page))
    parts = [f"<p><strong>{first}</strong> {rest}</p>", *(_table(table) for table in _tables(page))]
    if figure is not None:
        parts.append(f'<img alt="{first}" src="data:image/png;base64,{_png(figure)}">')
    return "\n".join([*parts, *(f"<p>{escape(text)}</p>" for text in _cautions(page))])


def as_markdown(page: Page) -> str:
    """Paragraph, table and the caution, of the parts that come first."""
    first, rest = map(escaped, paragraph(page))
    tables = ["\n".join(table_lines(table)) for table in _tables(page)]
    return "\n\n".join([f"**{first}** {rest}", *tables, *map(escaped, _cautions(page))])


def _tables(page: Page) -> list[Table]:
    return [table for table in page.tables if isinstance(table, Table) and table.rows]


def _cautions(page: Page) -> list[str]:
    short = page.cautions_in_short
    return [" ".join(page.cautions)] if short is None else [short] if short else []


def _table(table: Table) -> str:
    rows = "".join(
        f"<tr><th>{escape(row.name)}</th><td>{escape(row.value)}</td><td>{escape(row.interval)}</td></tr>"
        for row in table.rows
    )
    head = "<tr><th>figure</th><th>value</th><th>95 % interval</th></tr>"
    return f"<table><caption>{escape(table.title)}</caption>{head}{rows}</table>"


def _png(figure: Figure) -> str:
    """About 9 kB; a notebook keeps every answer it has shown."""
    from PIL import Image

    drawn, small = io.BytesIO(), io.BytesIO()
    figure.savefig(drawn, format="png", dpi=PICTURE_DPI)
    with Image.open(drawn) as picture:
        few = picture.convert("RGB").quantize(COLOURS, dither=Image.Dither.NONE)
    few.save(small, format="png", optimize=True)
    return base64.b64encode(small.getvalue()).decode("ascii")
