"""The facts that ``setup.toml`` beside a sweep tells of it, and what a review takes of them."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from sweepkit.facts import SETUP_FILE
from sweepkit.logbook.setup_file import SetupFile, read_setup_file
from sweepkit.sweep import Sweep


class Folders:
    """Each ``setup.toml`` read once."""

    def __init__(self) -> None:
        self._read: dict[Path, SetupFile | None] = {}

    def facts_beside(self, sweep: Sweep) -> dict[str, Any] | None:
        """What is told of a sweep, what is said to be unknown left out; ``None`` where there is no such file."""
        path = Path(sweep.source.path) if sweep.source.path else None
        if path is None:
            return None
        folder = path.parent
        if folder not in self._read:
            self._read[folder] = read_setup_file(folder) if (folder / SETUP_FILE).is_file() else None
        file = self._read[folder]
        if file is None:
            return None
        facts = {**file.facts, **file.of_file.get(path.name, {})}
        return {name: value for name, value in facts.items() if value is not None}


def told_to_review(facts: Mapping[str, Any], known: Mapping[str, Any]) -> dict[str, Any]:
    """What a review is told: what was asked for first, then line and place beside the file.

    ``known``: arguments of :func:`sweepkit.reviews.review`.
    """
    told = dict(known)
    if told.get("lines") is None and "line" in facts:
        told["lines"] = list(facts["line"])
    if told.get("measured_at", "unknown") == "unknown":
        told["measured_at"] = facts.get("measured_at", "unknown")
    return told
