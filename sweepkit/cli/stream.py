"""Answers of many files as they come: each is printed, its row kept, and forgotten, so that memory stays flat."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Literal, Protocol

if TYPE_CHECKING:
    from sweepkit.cli.files import Loaded
    from sweepkit.report.review_csv import ReviewTable
    from sweepkit.reviews import Review


class AsText(Protocol):
    """A review as it is printed."""

    def __call__(self, review: Review, *, is_last: bool) -> str:
        """Its text."""
        ...


Answer = tuple["Loaded", "Review | None"]
Shown = Literal["text", "card", "json", "nothing"]


def stream_answers(
    answers: Iterator[Answer],
    *,
    shown: Shown,
    as_text: AsText,
    table: ReviewTable | None,
    is_usable: Callable[[Review], bool],
) -> tuple[int, int, bool]:
    """Print answers one by one in the order given.

    Parameters
    ----------
    answers : iterator of (Loaded, Review or None)
        Made as they are asked for.
    shown : {"text", "card", "json", "nothing"}
        What is printed of each.
    as_text : callable
        The text or the card of a review, and whether it is the last one.
    table : ReviewTable or None
        Takes the row of each.
    is_usable : callable
        Whether a review has what ``--strict`` asks for.

    Returns
    -------
    (int, int, bool)
        Files answered, files that could not be, and whether all answers are usable.
    """
    done = failed = 0
    usable = True
    printer = _Printer(shown)
    held: Review | None = None  # until it is known whether another follows
    for loaded, review in answers:
        if shown == "json":
            printer.take(_document(loaded, review))
        if review is None:
            failed += 1
            continue
        done += 1
        usable = usable and is_usable(review)
        if table is not None:
            table.add(review)
        if shown in ("text", "card"):
            if held is not None:
                printer.take(as_text(held, is_last=False))
            held = review
    if held is not None:
        printer.take(as_text(held, is_last=True))
    printer.end()
    return done, failed, usable


def _document(loaded: Loaded, review: Review | None) -> str:
    from sweepkit.cli.files import error_json

    document = error_json(loaded) if review is None else review.to_json()
    return json.dumps(document, indent=1, allow_nan=False).replace("\n", "\n ")


class _Printer:
    """Texts with what stands between them; a JSON array as ``json.dumps(..., indent=1)`` writes it."""

    def __init__(self, shown: Shown) -> None:
        self._is_json = shown == "json"
        self._between = {"json": ",\n ", "card": "\n\n", "text": "\n\n\n"}.get(shown, "")
        self._first = True

    def take(self, text: str) -> None:
        before = ("[\n " if self._is_json else "") if self._first else self._between
        print(before + text, end="", flush=True)
        self._first = False

    def end(self) -> None:
        if self._is_json:
            print("[]" if self._first else "\n]")
        elif not self._first:
            print()
