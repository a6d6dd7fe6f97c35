"""A value that gear cannot have, with the key that holds it."""

from __future__ import annotations

from typing import Any

from sweepkit.errors import BadInput
from sweepkit.limits import complaint


class BadGear(BadInput):
    """A value that gear cannot have, at this key of its table of kit.toml."""

    def __init__(self, text: str, *, key: str) -> None:
        super().__init__(text)
        self.key = key


def refuse_unless(holds: bool, key: str, value: Any, rule: str, example: str) -> None:
    """Raise where the rule does not hold; the text shows value, rule and what to write."""
    if not holds:
        found = f"{value:g}" if isinstance(value, float) else str(value)
        raise BadGear(f"{key} is {found}; it must be {rule}; write {example}", key=key)


def refuse_outside(limit: str, key: str, value: Any, example: str, *, remark: str = "") -> None:
    """Raise for a told value outside its row in ``limits``; ``None`` is nothing told."""
    wrong = None if value is None else complaint(limit, value)
    if wrong:
        raise BadGear(f"{key} {wrong}{f' ({remark})' if remark else ''}; write {example}", key=key)
