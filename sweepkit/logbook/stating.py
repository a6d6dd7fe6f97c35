"""What a person states on the command line: ``key=value`` texts, a time in one word, a place kept coarse."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

from sweepkit.errors import BadInput
from sweepkit.facts import fact_of
from sweepkit.logbook.values import COARSE_LOCATOR, parse_value

RELATIVE_TIMES = ("now", "file")  # words for a time: this moment, or when the file was written
Facts = dict[str, Any]


def parse_facts(settings: Sequence[str]) -> Facts:
    """Facts from ``key=value`` texts, as after ``--set``, by name of ``facts.py``; a list grows with each one.
    ``when`` may still be a word of ``RELATIVE_TIMES``.
    """
    facts: Facts = {}
    for setting in settings:
        key, equals, written = setting.partition("=")
        if not equals:
            raise BadInput(
                f"--set {setting!r} has no '='; a word and its value were expected; write ground=wet"
            )
        known = fact_of(key)
        if known.kind == "when" and written in RELATIVE_TIMES:
            facts[known.name] = written
            continue
        value = parse_value(known, written)
        more = known.kind in ("texts", "words") and value is not None and facts.get(known.name)
        facts[known.name] = [*facts[known.name], *value] if more else value
    return facts


def with_time(facts: Mapping[str, Any], path: Path) -> Facts:
    """``now`` and ``file`` as times with zone."""
    word = facts.get("when")
    if word not in RELATIVE_TIMES:
        return dict(facts)
    if word == "file" and not path.is_file():
        raise BadInput(
            "when=file takes the time at which a file was written, and this is none; tell when=now"
        )
    moment = datetime.now() if word == "now" else datetime.fromtimestamp(path.stat().st_mtime)
    return {**facts, "when": moment.astimezone().isoformat(timespec="seconds")}


def refuse_exact_place(facts: Mapping[str, Any]) -> None:
    """Refuse a place that tells more than its square."""
    grid = facts.get("grid")
    if grid and len(grid) > COARSE_LOCATOR:
        raise BadInput(
            f"grid: {grid!r} tells the place more exactly than its square; "
            f"write {grid[:COARSE_LOCATOR]}, or add --exact-place to keep it"
        )
