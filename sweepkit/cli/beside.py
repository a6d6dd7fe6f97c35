"""``setup.toml`` beside the files of a review: its line and place hold where no option told them, which is said."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from sweepkit.facts import SETUP_FILE

if TYPE_CHECKING:
    from sweepkit.logbook.beside import Folders
    from sweepkit.sweep import Sweep


class Beside:
    """What is told of each sweep of one command."""

    def __init__(self) -> None:
        self._folders: Folders | None = None
        self._said: set[str] = set()

    def known_of(self, sweep: Sweep, known: dict[str, Any]) -> dict[str, Any]:
        """What a review of this sweep is told."""
        path = Path(sweep.source.path) if sweep.source.path else None
        if path is None or not (path.parent / SETUP_FILE).is_file():
            return known
        from sweepkit.logbook.beside import Folders, told_to_review

        self._folders = self._folders or Folders()
        facts = self._folders.facts_beside(sweep) or {}
        told = told_to_review(facts, known)
        self._say(
            path.parent / SETUP_FILE, [name for name in ("lines", "measured_at") if told[name] != known[name]]
        )
        return told

    def known_of_all(self, sweeps: list[Sweep], known: dict[str, Any]) -> dict[str, Any]:
        """What one review of all of them is told; files beside which other lines or places are told are refused."""
        told = [self.known_of(sweep, known) for sweep in sweeps]
        for sweep, one in zip(sweeps, told, strict=True):
            if any(one[name] != told[0][name] for name in ("lines", "measured_at")):
                from sweepkit.errors import BadInput

                raise BadInput(
                    "setup.toml tells another line or place of this sweep than of the first; one answer needs "
                    "all alike; review them one by one",
                    path=sweep.source.path or None,
                )
        return told[0]

    def _say(self, file: Path, taken: list[str]) -> None:
        """Once for each file, on stderr."""
        if not taken or str(file) in self._said:
            return
        from sweepkit.cli.log_place import say

        self._said.add(str(file))
        words = {"lines": "the line", "measured_at": "where it was measured"}
        say(f"not stated, so from {file}: {' and '.join(words[name] for name in taken)}")
