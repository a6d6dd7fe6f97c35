"""What every answer can do besides: give its tables, and show itself in a notebook."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import fields, replace
from typing import TYPE_CHECKING, Any, TypeVar, cast

from sweepkit.errors import BadInput
from sweepkit.figures import Figure as Value

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from pandas import DataFrame

    from sweepkit.report.page import Page

Rows = Sequence[Mapping[str, Any]]
A = TypeVar("A")


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
        from sweepkit.answers.in_notebook import paragraph

        return ". ".join(filter(None, (part.rstrip(".") for part in paragraph(_first_parts(self._page())))))

    def _repr_html_(self) -> str:
        """One paragraph, a small table and the picture, in a notebook."""
        from sweepkit.answers.in_notebook import as_html

        return as_html(_first_parts(self._page()), self._pictured())

    def _repr_markdown_(self) -> str:
        """The same without picture where Markdown is shown."""
        from sweepkit.answers.in_notebook import as_markdown

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
