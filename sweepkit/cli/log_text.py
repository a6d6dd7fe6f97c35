"""Setups and sweeps of the logbook for people: safe on any terminal, whatever a file says."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from sweepkit.logbook.fields import BY_NAME, FIELDS
from sweepkit.logbook.values import value_text

if TYPE_CHECKING:
    from sweepkit.figures import Figure
    from sweepkit.logbook import Edit, LoggedSweep, Setup
    from sweepkit.reviews import Summary

NO_VALUE = "no answer"


def printable(text: str) -> str:
    """Text whose control and invisible characters are shown as escapes, so that they rule no terminal.

    Parameters
    ----------
    text : str
        Never trusted.
    """
    if text.isprintable():  # nearly always, and a list has many cells
        return text
    return "".join(
        letter if letter.isprintable() else letter.encode("unicode_escape").decode("ascii") for letter in text
    )


def fact_text(name: str, value: Any) -> str:
    """``line = RG-58 15 m``.

    Parameters
    ----------
    name : str
        Of ``fields.py``; another one is shown as it is.
    value : JSON value or None
        As kept in the logbook.
    """
    known = BY_NAME.get(name)
    return printable(f"{known.key if known else name} = {value_text(known, value) if known else value}")


def facts_text(facts: Mapping[str, Any]) -> str:
    """Several facts on one line, in the order of the fields."""
    order = [field.name for field in FIELDS]
    names = sorted(facts, key=lambda name: order.index(name) if name in order else len(order))
    return "; ".join(fact_text(name, facts[name]) for name in names)


def table_text(rows: Sequence[Sequence[str]]) -> str:
    """Columns side by side, each as wide as its widest cell.

    Parameters
    ----------
    rows : sequence of rows
        The heading first.
    """
    safe = [row if "".join(row).isprintable() else [printable(cell) for cell in row] for row in rows]
    widths = [max(map(len, column)) for column in zip(*safe, strict=True)]
    line = "  ".join(f"{{:<{width}}}" for width in widths)
    return "\n".join(line.format(*row).rstrip() for row in safe)


def sweep_table(sweeps: Iterable[LoggedSweep]) -> str:
    """A heading and a line for each sweep."""
    rows = [["sweep", "setup", "when", "antenna", "site", "at", "length", "file"]]
    for sweep in sweeps:
        shared, own = sweep.setup.facts, sweep.facts
        length = value_text(BY_NAME["length_m"], own["length_m"]) if "length_m" in own else "-"
        cells = (own.get("when"), shared.get("antenna"), shared.get("site"), own.get("measured_at"))
        mark = f"{sweep.name} (set aside)" if "set_aside" in own else sweep.name
        rows.append([str(sweep.id), sweep.setup.id, *(cell or "-" for cell in cells), length, mark])
    return table_text(rows)


def record_text(record: Setup | LoggedSweep) -> str:
    """Every fact on a line of its own; those nobody stated are marked."""
    order = [field for field in FIELDS if field.name in record.facts]
    lines = [
        f"  {fact_text(field.name, record.facts[field.name])}{_origin(record, field.name)}" for field in order
    ]
    lines += [f"  {fact_text(name, value)}" for name, value in record.facts.items() if name not in BY_NAME]
    return "\n".join(lines) or "  nothing is known"


def figure_lines(summary: Summary) -> list[str]:
    """A line for each dip at each plane: ``dip 7.100 (7.095 to 7.105) MHz at the radio, SWR 1.42 (1.40 to 1.45), ...``.

    Parameters
    ----------
    summary : Summary
        The figures of a sweep.
    """
    lines = []
    for plane, dips in summary.planes.items():
        where = "where nobody told" if plane == "unknown" else f"at the {plane}"
        for dip in dips:
            parts = [
                f"dip {_ranged(dip.dip_hz, 1e-6, 3)} MHz {where}",
                f"SWR {_ranged(dip.dip_swr, 1.0, 2)}",
                f"R {_ranged(dip.r_ohm, 1.0, 1)} ohm",
                f"Q {_ranged(dip.q, 1.0, 1)}",
                f"bandwidth {_ranged(dip.bandwidth_hz, 1e-3, 0)} kHz",
            ]
            lines.append(", ".join(part for part in parts if NO_VALUE not in part))
        if not dips:
            lines.append(f"no dip {where}")
    return lines


def _ranged(figure: Figure, scale: float, digits: int) -> str:
    if figure.value is None:
        return NO_VALUE
    text = f"{figure.value * scale:.{digits}f}"
    if figure.low is None or figure.high is None:
        return text
    return f"{text} ({figure.low * scale:.{digits}f} to {figure.high * scale:.{digits}f})"


def edit_text(edit: Edit) -> str:
    """``S4: ground: unknown -> wet``."""
    known = BY_NAME.get(edit.name)
    old, new = (value_text(known, value) if known else str(value) for value in (edit.old, edit.new))
    subject = edit.of if edit.of.startswith("S") else f"sweep {edit.of}"
    return printable(f"{subject}: {known.key if known else edit.name}: {old} -> {new}")


def _origin(record: Setup | LoggedSweep, name: str) -> str:
    """Said behind a fact nobody stated."""
    return "  (not stated: from the setup before, or the kit)" if name in record.taken_over else ""
