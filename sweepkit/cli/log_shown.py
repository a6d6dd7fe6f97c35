"""Setups and sweeps of the logbook for people, safe on any terminal, and as the ``sweepkit log`` commands' JSON."""

from __future__ import annotations

import json
import shutil
import textwrap
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from sweepkit.facts import BY_NAME, LOGGED
from sweepkit.logbook import Added, Edit, Imported, Listed, LoggedSweep, Outcome, Setup
from sweepkit.logbook.values import value_text
from sweepkit.plain_types import record, to_plain
from sweepkit.quantities import frequency_text, length_text
from sweepkit.visible import visible

UNBROKEN = 100_000  # columns; wider than any line


def fact_text(name: str, value: Any) -> str:
    """``line = RG-58 15 m``; a name that is no fact is shown as it is."""
    known = BY_NAME.get(name)
    return visible(f"{known.key if known else name} = {value_text(known, value) if known else value}")


def facts_text(facts: Mapping[str, Any]) -> str:
    """Several facts on one line, in the order of the facts."""
    order = [fact.name for fact in LOGGED]
    names = sorted(facts, key=lambda name: order.index(name) if name in order else len(order))
    return "; ".join(fact_text(name, facts[name]) for name in names)


def table_text(rows: Sequence[Sequence[str]]) -> str:
    """Columns side by side, each as wide as its widest cell; on too narrow a terminal row by row."""
    safe = [row if "".join(row).isprintable() else [visible(cell) for cell in row] for row in rows]
    widths = [max(map(len, column)) for column in zip(*safe, strict=True)]
    columns = terminal_columns()
    if sum(widths) + 2 * (len(widths) - 1) > columns:
        return "\n".join(line for row in safe[1:] for line in _record(safe[0], row, columns))
    line = "  ".join(f"{{:<{width}}}" for width in widths)
    return "\n".join(line.format(*row).rstrip() for row in safe)


def terminal_columns() -> int:
    """Width of the terminal; what goes to a file or another program is not broken."""
    return shutil.get_terminal_size(fallback=(UNBROKEN, 24)).columns


def _record(names: Sequence[str], row: Sequence[str], columns: int) -> list[str]:
    """A row by itself, each cell after its name."""
    cells = "; ".join(f"{name} {cell}" for name, cell in zip(names, row, strict=True) if cell != "-")
    return textwrap.wrap(
        cells, columns, subsequent_indent="  ", break_on_hyphens=False, break_long_words=False
    )


def wrapped(text: str) -> str:
    """Lines no wider than the terminal, each continued a little further in."""
    lines = []
    for line in text.split("\n"):
        indent = line[: len(line) - len(line.lstrip())] + "    "
        lines += textwrap.wrap(
            line, terminal_columns(), subsequent_indent=indent, break_on_hyphens=False, break_long_words=False
        ) or [""]
    return "\n".join(lines)


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
    order = [fact for fact in LOGGED if fact.name in record.facts]
    lines = [
        f"  {fact_text(fact.name, record.facts[fact.name])}{_origin(record, fact.name)}" for fact in order
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


def added_json(path: str, added: Added, outcome: Outcome) -> dict[str, Any]:
    """What became of one file."""
    return {
        "id": added.id,
        "setup": added.setup,
        "path": path,
        "new": added.new,
        "taken_over": dict(outcome.taken_over),
        "unknown": list(outcome.unknown),
    }


def imported_json(done: Imported) -> dict[str, Any]:
    """What an import did."""
    sweeps = [{"number_there": there, "id": here} for there, here in done.sweeps.items()]
    return record(done) | {"sweeps": sweeps}


def setup_json(setup: Setup) -> dict[str, Any]:
    """A setup with its facts."""
    return {
        "id": setup.id,
        "uid": setup.uid,
        "added": setup.added,
        "kit_sha256": setup.kit_sha256,
        "taken_over": list(setup.taken_over),
        **_all_facts(setup.facts, "setup"),
    }


def sweep_json(sweep: LoggedSweep) -> dict[str, Any]:
    """A sweep with its facts, and whose it is."""
    return {
        "id": sweep.id,
        "uid": sweep.uid,
        "setup": sweep.setup.id,
        "antenna": sweep.setup.facts.get("antenna"),
        "site": sweep.setup.facts.get("site"),
        "file": sweep.name,
        "sha256": sweep.sha256,
        "added": sweep.added,
        "hints": dict(sweep.hints),
        "taken_over": list(sweep.taken_over),
        **_all_facts(sweep.facts, "sweep"),
    }


def _all_facts(facts: Mapping[str, Any], level: str) -> dict[str, Any]:
    """Every fact of the level; unknown ones are null."""
    return {fact.name: None for fact in LOGGED if fact.level == level} | dict(facts)


def print_json(command: str, **content: Any) -> None:
    """One strict JSON document."""
    print(json.dumps(to_plain({"schema": f"sweepkit/{command}/1", **content}), indent=1, allow_nan=False))
