"""Answers as plain types for JSON: a dataclass by its fields in order, unless it says itself how it is written."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import fields, is_dataclass
from typing import Any


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


def record(answer: Any, *, left_out: Collection[str] = (), absent: Collection[str] = ()) -> dict[str, Any]:
    """The fields of a dataclass by their names, less those that are for people or pictures.

    Of ``absent`` fields those that are ``None`` are not there; any other is ``null``.
    """
    named = ((field.name, getattr(answer, field.name)) for field in fields(answer))
    return {
        name: to_plain(value)
        for name, value in named
        if name not in left_out and not (value is None and name in absent)
    }
