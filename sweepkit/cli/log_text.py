"""Setups and sweeps of the logbook for people: safe on any terminal, whatever a file says."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from sweepkit.logbook.fields import BY_NAME, FIELDS
from sweepkit.logbook.values import value_text
from sweepkit.quantities import frequency_text, length_text
from sweepkit.visible import visible

if TYPE_CHECKING:
    from sweepkit.logbook import Edit, Listed, LoggedSweep, Setup


def fact_text(name: str, value: Any) -> str:
    """``line = RG-58 15 m``.

    ``name``: of ``fields.py``; another one is shown as it is.
    """
    known = BY_NAME.get(name)
    return visible(f"{known.key if known else name} = {value_text(known, value) if known else value}")


def facts_text(facts: Mapping[str, Any]) -> str:
    """Several facts on one line, in the order of the fields."""
    order = [field.name for field in FIELDS]
    names = sorted(facts, key=lambda name: order.index(name) if name in order else len(order))
    return "; ".join(fact_text(name, facts[name]) for name in names)


def table_text(rows: Sequence[Sequence[str]]) -> str:
    """Columns side by side, each as wide as its widest cell."""
    safe = [row if "".join(row).isprintable() else [visible(cell) for cell in row] for row in rows]
    widths = [max(map(len, column)) for column in zip(*safe, strict=True)]
    line = "  ".join(f"{{:<{width}}}" for width in widths)
    return "\n".join(line.format(*row).rstrip() for row in safe)


def sweep_table(lines: Iterable[Listed]) -> str:
    """A heading and a line for each sweep."""
    rows = [["sweep", "setup", "when", "antenna", "site", "at", "length", "dip", "file"]]
    for line in lines:
        length = "-" if line.length_m is None else length_text(line.length_m)
        dip = "-" if line.dip_hz is None else frequency_text(line.dip_hz)
        cells = (line.when, line.antenna, line.site, line.measured_at)
        mark = f"{line.name} (set aside)" if line.is_set_aside else line.name
        rows.append([str(line.id), f"S{line.setup}", *(cell or "-" for cell in cells), length, dip, mark])
    return table_text(rows)


def record_text(record: Setup | LoggedSweep) -> str:
    """Every fact on a line of its own; those nobody stated are marked."""
    order = [field for field in FIELDS if field.name in record.facts]
    lines = [
        f"  {fact_text(field.name, record.facts[field.name])}{_origin(record, field.name)}" for field in order
    ]
    lines += [f"  {fact_text(name, value)}" for name, value in record.facts.items() if name not in BY_NAME]
    return "\n".join(lines) or "  nothing is known"


def edit_text(edit: Edit) -> str:
    """``S4: ground: unknown -> wet``."""
    known = BY_NAME.get(edit.name)
    old, new = (value_text(known, value) if known else str(value) for value in (edit.old, edit.new))
    subject = edit.of if edit.of.startswith("S") else f"sweep {edit.of}"
    return visible(f"{subject}: {known.key if known else edit.name}: {old} -> {new}")


def _origin(record: Setup | LoggedSweep, name: str) -> str:
    """Said behind a fact nobody stated."""
    return "  (not stated: from the setup before, or the kit)" if name in record.taken_over else ""
