"""How the answers of ``sweepkit review`` are handed over: all at once, or one by one as they come.

Of many files each is printed, its row kept, and forgotten, so that memory stays flat.
"""

from __future__ import annotations

import gc
import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, Protocol

from sweepkit.cli import reporting
from sweepkit.cli.delivery import deliver
from sweepkit.cli.exits import Exit, end_with
from sweepkit.saving import save_bytes

if TYPE_CHECKING:
    from sweepkit.cli.files import Loaded
    from sweepkit.cli.option_groups import Output
    from sweepkit.cli.review_options import Files
    from sweepkit.report.page import Page
    from sweepkit.report.tables import Table
    from sweepkit.reviews import Review

Answer = tuple["Loaded", "Review | None"]
Form = Literal["text", "card", "json", "nothing"]


class AsText(Protocol):
    """A review as it is printed."""

    def __call__(self, review: Review, *, is_last: bool) -> str:
        """Its text."""
        ...


@dataclass(frozen=True)
class Shown:
    """Where answers go; ``page`` makes the page of one, ``last`` what the last of them says of defaults."""

    output: Output
    written: Files
    inputs: Sequence[Path]
    page: Callable[..., Page]
    last: Any
    card: bool

    def deliver(
        self,
        made: Iterator[Answer],
        files: list[Path],
        *,
        joined: bool,
        strict: bool,
        named: list[str] | None,
    ) -> Exit:
        """Hand them over; the exit code tells what could not be read, and with ``strict`` what is not good."""
        from sweepkit.cli.files import is_one_file

        is_usable = partial(_is_usable, named=named)
        as_object = joined or is_one_file(files)
        if not (as_object or self.output.report):
            return self._stream(made, is_usable, strict=strict)
        return self._show_all(list(made), is_usable, as_object=as_object, strict=strict)

    def _text(self, review: Review, *, is_last: bool, is_one_of_several: bool) -> str:
        if self.card:
            return f"{_title(review)}\n{_card(review)}" if is_one_of_several else _card(review)
        page = partial(self.page, assumed_in_short=self.last) if is_last else self.page
        return reporting.text_of_page(page(review, pictures=False), explain=self.output.explain)

    def _save(self, path: Path, text: str) -> None:

        save_bytes(path, text.encode("utf-8"), force=self.output.force, inputs=tuple(self.inputs))

    def _stream(self, made: Iterator[Answer], is_usable: Callable[[Review], bool], *, strict: bool) -> Exit:
        """Each as it comes."""
        from sweepkit.report.tables import Table, band_rows, review_rows

        kept = [(self.written.table, Table(review_rows)), (self.written.band_table, Table(band_rows))]
        wanted = [(path, rows) for path, rows in kept if path is not None]
        silent = bool(wanted) and not self.output.explain
        brief: Form = "card" if self.card else "nothing" if silent else "text"
        done, failed, usable = stream_answers(
            made,
            shown="json" if self.output.as_json else brief,
            as_text=partial(self._text, is_one_of_several=True),
            tables=[rows for _, rows in wanted],
            is_usable=is_usable,
        )
        for path, rows in wanted:
            self._save(path, rows.text())
        if failed or not done:
            return Exit.CANNOT_RUN
        return Exit.NOT_GOOD if strict and not usable else Exit.DONE

    def _show_all(
        self, answers: list[Answer], is_usable: Callable[[Review], bool], *, as_object: bool, strict: bool
    ) -> Exit:
        """All at once, since they are one answer or one report."""
        reviews = [review for _, review in answers if review is not None]

        def show() -> None:
            if self.output.as_json:
                _print_json(answers, as_object=as_object)
            elif reviews:
                texts = reporting.made_of_each(
                    reviews,
                    lambda each, _: self._text(
                        each, is_last=each is reviews[-1], is_one_of_several=not as_object
                    ),
                )
                print(("\n\n" if self.card else "\n\n\n").join(texts))

        def write_table(path: Path) -> None:
            from sweepkit.report.tables import Table, band_rows, review_rows

            rows = Table(band_rows if path is self.written.band_table else review_rows)
            reporting.made_of_each(reviews, lambda each, _: rows.add(each))
            self._save(path, rows.text())

        inputs, force = self.inputs, self.output.force
        code = deliver(
            show,
            (self.written.plot, lambda path: reporting.plot_reviews(reviews, path, inputs, force=force)),
            (
                self.output.report,
                lambda path: reporting.report_reviews(reviews, path, inputs, page=self.page, force=force),
            ),
            (self.written.table, write_table),
            (self.written.band_table, write_table),
        )
        if len(reviews) < len(answers) or not answers:
            code = max(code, Exit.CANNOT_RUN)
        if code is Exit.DONE and strict and not all(map(is_usable, reviews)):
            return Exit.NOT_GOOD
        return code


def _print_json(answers: list[Answer], *, as_object: bool) -> None:
    documents = [_document(loaded, review, is_alone=len(answers) == 1) for loaded, review in answers]
    print(json.dumps(documents[0] if as_object else documents, indent=1, allow_nan=False))


def _document(loaded: Loaded, review: Review | None, *, is_alone: bool) -> dict[str, Any]:
    """The JSON of an answer, or the error in its place."""
    from sweepkit.cli.files import error_json, failed

    if review is not None:
        try:
            return review.to_json()
        except Exception as error:
            if is_alone:
                raise
            loaded = failed(loaded.path, error)
            end_with(loaded.code)
    return error_json(loaded)


def _card(review: Review) -> str:
    from sweepkit.report.card import render_card

    return render_card(review)


def _title(review: Review) -> str:
    """The file over its card; of a long name both ends, since files of one outing often differ in the last letters."""
    from sweepkit.report.card import COLUMNS
    from sweepkit.report.page import file_title

    name, left = file_title(review.sweep.source.path), COLUMNS // 2 - 1
    return name if len(name) <= COLUMNS else f"{name[:left]}..{name[left + 2 - COLUMNS :]}"


def _is_usable(review: Review, named: list[str] | None) -> bool:
    """Whether every band that was named is there and can be used; without a name, any part of any band."""
    from sweepkit.reviews.bands import verdicts_of

    good, bands = ("direct", "tuner"), verdicts_of(review.bands)
    if not named:
        return any(part.verdict in good for band in bands for part in band.segments)
    return len(bands) == len(named) and all(band.verdict in good for band in bands)


BETWEEN = {"json": ",\n ", "card": "\n", "text": "\n\n"}


def stream_answers(
    answers: Iterator[Answer],
    *,
    shown: Form,
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

    shown: Form
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
