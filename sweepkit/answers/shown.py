"""What every answer can do besides: give its tables, and show itself in a notebook."""

from __future__ import annotations

import base64
import io
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import fields, replace
from html import escape
from typing import TYPE_CHECKING, Any, TypeVar, cast

from sweepkit.errors import BadInput
from sweepkit.figures import Figure as Value
from sweepkit.report.page import Page, Table
from sweepkit.report.page_markdown import escaped, table_lines

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from pandas import DataFrame

    from sweepkit.report.page import Page

Rows = Sequence[Mapping[str, Any]]
A = TypeVar("A")
PICTURE_DPI = 80
COLOURS = 16  # of a picture: enough for its lines and their soft edges, and a quarter of the bytes


class Shown:
    """An answer with tables and a short form; each kind of answer says which."""

    def _tables(self) -> Mapping[str, Rows]:
        """Tables by name, the one that stands for the answer first."""
        raise NotImplementedError

    def _page(self) -> Page:
        """The page of the answer, without pictures."""
        raise NotImplementedError

    def to_frame(self, table: str | None = None) -> DataFrame:
        """A table of the answer for pandas.

        Parameters
        ----------
        table : str, optional
            Which one; without it the table that stands for the whole answer. A wrong name lists those there are.

        Returns
        -------
        pandas.DataFrame
            Names and units are those of the JSON. A figure takes three columns, ``x``, ``x_low`` and ``x_high``, the
            ends of its 95 % interval; where it has no answer they are NaN, and ``x_reason`` says why.

        Raises
        ------
        BadInput
            No such table.
        """
        from pandas import DataFrame

        tables = self._tables()
        name = next(iter(tables)) if table is None else table
        if name not in tables:
            raise BadInput(f"there is no table {name!r}; there are {', '.join(tables)}")
        return DataFrame([dict(_cells(row)) for row in tables[name]])

    def _pictured(self) -> Figure | None:
        """The picture of the answer, where there is one."""
        return None

    def __repr__(self) -> str:
        """One paragraph."""

        return ". ".join(filter(None, (part.rstrip(".") for part in paragraph(_first_parts(self._page())))))

    def _repr_html_(self) -> str:
        """One paragraph, a small table and the picture, in a notebook."""

        return as_html(_first_parts(self._page()), self._pictured())

    def _repr_markdown_(self) -> str:
        """The same without picture where Markdown is shown."""

        return as_markdown(_first_parts(self._page()))


def same_as(kind: type[A], answer: Any, **more: Any) -> A:
    """The same answer as another dataclass: as one that shows itself, or as the plain one again."""
    kept = (field.name for field in fields(cast("Any", kind)) if field.name not in more)
    return kind(**{name: getattr(answer, name) for name in kept}, **more)


def _cells(row: Mapping[str, Any], prefix: str = "") -> Iterator[tuple[str, Any]]:
    """Cells of a row; figures and what else is nested take several."""
    for key, value in row.items():
        name, cell = f"{prefix}{key}", value.to_json() if isinstance(value, Value) else value
        if not isinstance(cell, Mapping):
            yield name, cell
        elif {"value", "low", "high"} <= cell.keys():
            yield name, _number(cell["value"])
            yield from ((f"{name}_{end}", _number(cell[end])) for end in ("low", "high"))
            yield from (((f"{name}_reason", cell["reason"]),) if "reason" in cell else ())
        else:
            yield from _cells(cell, f"{name}_")


def _number(value: float | None) -> float:
    """A number for a column of numbers."""
    return math.nan if value is None else float(value)


def _first_parts(page: Page) -> Page:
    """The page without what is *more*, without lists, and without what only a command line can use."""
    from sweepkit.report.page import Table

    tables = [table for table in page.tables if isinstance(table, Table) and not table.more]
    return replace(
        page,
        steps=() if page.steps_are_more else page.steps,
        command=None,
        tables=tuple(
            replace(table, rows=tuple(row for row in table.rows if not row.more)) for table in tables[:1]
        ),
        findings=tuple(finding for finding in page.findings if finding.level != "note"),
        more_findings=(),
        blocks=(),
        assumed_in_short="",
    )


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
