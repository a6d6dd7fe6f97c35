"""Answers of many files as they come: each is printed, its row kept, and forgotten, so that memory stays flat."""

from __future__ import annotations

import contextlib
import gc
import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal, Protocol

if TYPE_CHECKING:
    from sweepkit.cli.files import Loaded
    from sweepkit.report.tables import Tables
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
    table: Tables | None,
    is_usable: Callable[[Review], bool],
) -> tuple[int, int, bool]:
    """Print answers one by one in the order given.

    Returns: files answered, files that could not be, and whether all answers are usable.
    """
    counted = _Counted()
    with _garbage_apart():
        _print_all(answers, counted, shown=shown, as_text=as_text, table=table, is_usable=is_usable)
    return counted.done, counted.failed, counted.usable


@contextlib.contextmanager
def _garbage_apart() -> Iterator[None]:
    """What is loaded until now stays: to look for garbage in it, again and again, takes a twentieth of the time."""
    gc.freeze()
    try:
        yield
    finally:
        gc.unfreeze()


def _print_all(
    answers: Iterator[Answer],
    counted: _Counted,
    *,
    shown: Shown,
    as_text: AsText,
    table: Tables | None,
    is_usable: Callable[[Review], bool],
) -> None:
    printer = _Printer(shown)
    held: tuple[Loaded, Review] | None = None  # until it is known whether another follows
    for loaded, review in answers:
        loaded, review, document = _made(
            loaded, review, counted, table=table, is_usable=is_usable, as_json=shown == "json"
        )
        if shown == "json":
            printer.take(document)
        if review is not None and shown in ("text", "card"):
            if held is not None:
                _print_text(printer, held, as_text, counted, is_last=False)
            held = loaded, review
    if held is not None:
        _print_text(printer, held, as_text, counted, is_last=True)
    printer.end()


@dataclass
class _Counted:
    """What became of the files until now."""

    done: int = 0
    failed: int = 0
    usable: bool = True


def _made(
    loaded: Loaded,
    review: Review | None,
    counted: _Counted,
    *,
    table: Tables | None,
    is_usable: Callable[[Review], bool],
    as_json: bool,
) -> tuple[Loaded, Review | None, str]:
    """An answer with its row kept, and its JSON; what fails here is the error of this file alone."""
    from sweepkit.cli.files import error_json, failed

    document = ""
    if review is not None:
        try:
            document = _as_json(review.to_json()) if as_json else ""
            usable = is_usable(review)
            if table is not None:
                table.add(review)
            counted.usable = counted.usable and usable
        except Exception as error:
            loaded, review = failed(loaded.path, error), None
    if review is None:
        counted.failed += 1
        return loaded, None, _as_json(error_json(loaded)) if as_json else ""
    counted.done += 1
    return loaded, review, document


def _print_text(
    printer: _Printer, held: tuple[Loaded, Review], as_text: AsText, counted: _Counted, *, is_last: bool
) -> None:
    """Print the text of an answer; one that cannot be made is the error of its file."""
    from sweepkit.cli.files import failed

    loaded, review = held
    try:
        text = as_text(review, is_last=is_last)
    except Exception as error:
        failed(loaded.path, error)
        counted.done, counted.failed = counted.done - 1, counted.failed + 1
    else:
        printer.take(text)


def _as_json(document: dict[str, Any]) -> str:
    return json.dumps(document, indent=1, allow_nan=False).replace("\n", "\n ")


class _Printer:
    """Texts with what stands between them; a JSON array as ``json.dumps(..., indent=1)`` writes it."""

    def __init__(self, shown: Shown) -> None:
        self._is_json = shown == "json"
        self._between = {"json": ",\n ", "card": "\n", "text": "\n\n"}.get(shown, "")
        self._first = True

    def take(self, text: str) -> None:
        before = ("[\n " if self._is_json else "") if self._first else self._between
        print(
            before + text, end="" if self._is_json else "\n", flush=True
        )  # a note may follow on the same screen
        self._first = False

    def end(self) -> None:
        if self._is_json:
            print("[]" if self._first else "\n]")
