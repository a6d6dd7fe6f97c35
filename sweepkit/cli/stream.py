"""Answers of many files as they come: each is printed, its row kept, and forgotten, so that memory stays flat."""

from __future__ import annotations

import gc
import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal, Protocol

if TYPE_CHECKING:
    from sweepkit.cli.files import Loaded
    from sweepkit.report.tables import Table
    from sweepkit.reviews import Review


class AsText(Protocol):
    """A review as it is printed."""

    def __call__(self, review: Review, *, is_last: bool) -> str:
        """Its text."""
        ...


Answer = tuple["Loaded", "Review | None"]
Shown = Literal["text", "card", "json", "nothing"]
BETWEEN = {"json": ",\n ", "card": "\n", "text": "\n\n"}


def stream_answers(
    answers: Iterator[Answer],
    *,
    shown: Shown,
    as_text: AsText,
    tables: Sequence[Table[Review]],
    is_usable: Callable[[Review], bool],
) -> tuple[int, int, bool]:
    """Print answers one by one in the order given.

    Returns: files answered, files that could not be, and whether all answers are usable.
    """
    stream = _Stream(shown, as_text, tables, is_usable)
    gc.freeze()  # to look for garbage in what is loaded until now, again and again, takes a twentieth of the time
    try:
        stream.print_all(answers)
    finally:
        gc.unfreeze()
    return stream.done, stream.failed, stream.usable


@dataclass
class _Stream:
    """What became of the files until now; a JSON array is written as ``json.dumps(..., indent=1)`` writes it."""

    shown: Shown
    as_text: AsText
    tables: Sequence[Table[Review]]
    is_usable: Callable[[Review], bool]
    done: int = 0
    failed: int = 0
    usable: bool = True
    has_printed: bool = False

    def print_all(self, answers: Iterator[Answer]) -> None:
        held: tuple[Loaded, Review] | None = None  # until it is known whether another follows
        for loaded, review in answers:
            loaded, review, document = self._kept(loaded, review)
            if self.shown == "json":
                self._print(document)
            elif review is not None and self.shown != "nothing":
                if held is not None:
                    self._print_text(*held, is_last=False)
                held = loaded, review
        if held is not None:
            self._print_text(*held, is_last=True)
        if self.shown == "json":
            print("\n]" if self.has_printed else "[]")

    def _kept(self, loaded: Loaded, review: Review | None) -> tuple[Loaded, Review | None, str]:
        """An answer with its rows kept, and its JSON; what fails here is the error of this file alone."""
        from sweepkit.cli.files import error_json, failed

        if review is not None:
            try:
                document = _as_json(review.to_json()) if self.shown == "json" else ""
                usable = self.is_usable(review)
                for table in self.tables:
                    table.add(review)
            except Exception as error:
                loaded = failed(loaded.path, error)
            else:
                self.usable = self.usable and usable
                self.done += 1
                return loaded, review, document
        self.failed += 1
        return loaded, None, _as_json(error_json(loaded)) if self.shown == "json" else ""

    def _print_text(self, loaded: Loaded, review: Review, *, is_last: bool) -> None:
        """Print the text of an answer; one that cannot be made is the error of its file."""
        from sweepkit.cli.files import failed

        try:
            text = self.as_text(review, is_last=is_last)
        except Exception as error:
            failed(loaded.path, error)
            self.done, self.failed = self.done - 1, self.failed + 1
        else:
            self._print(text)

    def _print(self, text: str) -> None:
        """At once, since a note may follow on the same screen."""
        is_json = self.shown == "json"
        before = BETWEEN[self.shown] if self.has_printed else "[\n " if is_json else ""
        print(before + text, end="" if is_json else "\n", flush=True)
        self.has_printed = True


def _as_json(document: dict[str, Any]) -> str:
    return json.dumps(document, indent=1, allow_nan=False).replace("\n", "\n ")
