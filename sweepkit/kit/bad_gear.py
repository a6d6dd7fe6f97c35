"""A value that gear cannot have, with the key that holds it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from sweepkit.errors import BadInput
from sweepkit.facts import Fact
from sweepkit.limits import LIMITS, complaint


class BadGear(BadInput):
    """A value that gear cannot have, at this key of its table of kit.toml."""

    def __init__(self, text: str, *, key: str) -> None:
        super().__init__(text)
        self.key = key


def refuse_unless(holds: bool, key: str, value: Any, rule: str, example: str) -> None:
    """Raise where the rule does not hold; the text shows value, rule and what to write."""
    if not holds:
        found = (
            f"{value:g}"
            if isinstance(value, float)
            else str(list(value) if isinstance(value, tuple) else value)
        )
        raise BadGear(f"{key} is {found}; it must be {rule}; write {example}", key=key)


def refuse_outside(limit: str, key: str, value: Any, example: str, *, remark: str = "") -> None:
    """Raise for a told value outside its row in ``limits``; ``None`` is nothing told."""
    wrong = None if value is None else complaint(limit, value)
    if wrong:
        raise BadGear(f"{key} {wrong}{f' ({remark})' if remark else ''}; write {example}", key=key)


def refuse_untrue(gear: Any, facts: Iterable[Fact]) -> None:
    """Raise at the first value of gear that its fact does not allow."""
    for fact in facts:
        if not (fact.words or fact.kit_limit):
            continue
        value, example = getattr(gear, fact.name), f"{fact.key} = {fact.in_kit}"
        if value is None:
            continue
        if fact.words:
            refuse_unless(value in fact.words, fact.key, value, f"one of {', '.join(fact.words)}", example)
        if not fact.kit_limit:
            continue
        if isinstance(value, tuple):
            limit = LIMITS[fact.kit_limit]
            held = bool(value) and all(map(limit.holds, value))
            refuse_unless(held, fact.key, value, f"a list, each of them {limit.rule}", example)
        else:
            refuse_outside(fact.kit_limit, fact.key, value, example, remark=fact.remark)
