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
from sweepkit.cli.exits import Exit, failure_json
from sweepkit.cli.reporting import deliver
from sweepkit.errors import BadInput
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
    imperial: bool

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

        as_object = joined or is_one_file(files)
        tables = self._tables()
        is_together = as_object or self.output.report is not None  # one answer, or one report of all
        silent = bool(tables) and not is_together and not self.output.explain
        brief: Form = "card" if self.card else "nothing" if silent else "text"
        stream = Stream(
            shown="json" if self.output.as_json else brief,
            as_text=partial(self._text, is_one_of_several=not as_object),
            tables=[] if is_together else [rows for _, rows in tables],
            is_usable=partial(_is_usable, named=named),
            as_object=as_object,
        )
        code = Exit.DONE
        if is_together:
            answers = list(made)
            code = deliver(partial(stream.print_all, iter(answers)), *self._files(answers, tables))
        else:
            stream.print_all(made)
            for path, rows in tables:
                self._save(rows, path)
        if stream.failed or not stream.done:
            code = max(code, Exit.CANNOT_RUN)
        return Exit.NOT_GOOD if code is Exit.DONE and strict and not stream.usable else code

    def _text(self, review: Review, *, is_last: bool, is_one_of_several: bool) -> str:
        if self.card:
            shown = _card(review, imperial=self.imperial)
            return f"{_title(review)}\n{shown}" if is_one_of_several else shown
        page = partial(self.page, assumed_in_short=self.last) if is_last else self.page
        return reporting.text_of_page(page(review, pictures=False), explain=self.output.explain)

    def _tables(self) -> list[tuple[Path, Table[Review]]]:
        """Those that were asked for, and where they go."""
        if not self.written.tables:
            return []
        from sweepkit.report.tables import Table, band_rows, review_rows

        kept = [(self.written.table, Table(review_rows)), (self.written.band_table, Table(band_rows))]
        return [(path, rows) for path, rows in kept if path is not None]

    def _save(self, rows: Table[Review], path: Path) -> None:
        text = rows.text().encode("utf-8")
        save_bytes(path, text, force=self.output.force, inputs=tuple(self.inputs))

    def _files(
        self, answers: list[Answer], tables: list[tuple[Path, Table[Review]]]
    ) -> Iterator[tuple[Path | None, Callable[[Path], None]]]:
        """Where each file goes that is written before anything is shown, and what writes it."""
        reviews = [review for _, review in answers if review is not None]
        inputs, force = self.inputs, self.output.force
        yield self.written.plot, lambda path: reporting.plot_reviews(reviews, path, inputs, force=force)
        yield (
            self.output.report,
            lambda path: reporting.report_reviews(reviews, path, inputs, page=self.page, force=force),
        )
        for path, rows in tables:
            yield path, partial(self._save_all, reviews, rows)

    def _save_all(self, reviews: list[Review], rows: Table[Review], path: Path) -> None:
        reporting.made_of_each(reviews, lambda each, _: rows.add(each))
        self._save(rows, path)


def _card(review: Review, *, imperial: bool) -> str:
    from sweepkit.report.card import render_card

    return render_card(review, imperial=imperial)


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


@dataclass
class Stream:
    """Prints answers one by one in the order given, and counts what became of the files until now.

    ``as_object``: the first of them is all there is to JSON; else an array, as ``json.dumps(..., indent=1)`` writes it.
    """

    shown: Form
    as_text: AsText
    tables: Sequence[Table[Review]]
    is_usable: Callable[[Review], bool]
    as_object: bool
    done: int = 0
    failed: int = 0
    usable: bool = True
    has_printed: bool = False

    def print_all(self, answers: Iterator[Answer]) -> None:
        """To the last."""
        gc.freeze()  # to look for garbage in what is loaded until now, again and again, takes a twentieth of the time
        try:
            self._print_each(answers)
        finally:
            gc.unfreeze()

    def _print_each(self, answers: Iterator[Answer]) -> None:
        held: tuple[Loaded, Review] | None = None  # until it is known whether another follows
        for loaded, review in answers:
            loaded, review, document = self._kept(loaded, review)
            if self.shown == "json":
                self._print_json(document)
            elif review is not None and self.shown != "nothing":
                if held is not None:
                    self._print_text(*held, is_last=False)
                held = loaded, review
        if held is not None:
            self._print_text(*held, is_last=True)
        if self.shown == "json" and not self.as_object:
            print("\n]" if self.has_printed else "[]")
        elif self.shown == "json" and not self.has_printed:
            nothing = BadInput("there is no sweep among these files; name a folder with sweeps")
            self._print_json(_as_json(failure_json(nothing)))

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
            self._print((BETWEEN[self.shown] if self.has_printed else "") + text, end="\n")

    def _print_json(self, document: str) -> None:
        if not self.as_object:
            document = document.replace("\n", "\n ")
            self._print((BETWEEN["json"] if self.has_printed else "[\n ") + document, end="")
        elif not self.has_printed:
            self._print(document, end="\n")

    def _print(self, text: str, *, end: str) -> None:
        """At once, since a note may follow on the same screen."""
        print(text, end=end, flush=True)
        self.has_printed = True


def _as_json(document: dict[str, Any]) -> str:
    return json.dumps(document, indent=1, allow_nan=False)
