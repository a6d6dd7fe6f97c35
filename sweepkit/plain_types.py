"""Answers as plain types for JSON: a dataclass by its fields in order; what differs stands beside the field."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields, is_dataclass
from functools import cache
from typing import Any, ClassVar

HIDDEN = {"json": "never"}  # metadata of a field that is for people or pictures
IF_KNOWN = {"json": "if known"}  # of one that is left out where it is None; any other is null then


class Plain:
    """A dataclass that JSON shows by its fields.

    ``schema`` stands first, where it is a document of its own. ``in_json`` names attributes by their names in JSON: in
    place of a field of that name, else last.
    """

    schema: ClassVar[str] = ""
    in_json: ClassVar[Mapping[str, str]] = {}

    def to_json(self) -> dict[str, Any]:
        """Plain types only, as the documentation of JSON promises."""
        return record(self)


def to_plain(value: Any) -> Any:
    """What ``json.dumps`` takes: ``to_json`` where there is one, dataclasses and mappings as dicts, lists else."""
    if hasattr(value, "to_json"):
        return value.to_json()
    if is_dataclass(value):
        return record(value)
    if isinstance(value, Mapping):
        return {name: to_plain(part) for name, part in value.items()}
    if isinstance(value, Sequence) and not isinstance(value, str):
        return [to_plain(part) for part in value]
    return value


def record(answer: Any) -> dict[str, Any]:
    """A dataclass by the names of its fields."""
    schema = getattr(answer, "schema", "")
    written = {"schema": schema} if schema else {}
    kind: Any = type(answer)
    for name, attribute, if_known in _names(kind):
        value = getattr(answer, attribute)
        if not (value is None and if_known):
            written[name] = to_plain(value)
    return written


@cache
def _names(kind: type) -> tuple[tuple[str, str, bool], ...]:
    """Of each part that is shown: its name in JSON, the attribute, and whether it is left out where it is None."""
    shown = {
        field.name: field.metadata.get("json") == "if known"
        for field in fields(kind)
        if field.metadata.get("json") != "never"
    }
    named: Mapping[str, str] = getattr(kind, "in_json", {})
    shown |= {name: shown.get(name, False) for name in named}
    return tuple((name, named.get(name, name), if_known) for name, if_known in shown.items())
