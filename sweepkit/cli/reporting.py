"""Answers on their way out: pages, pictures and tables to files first, then JSON, card or text to stdout."""

from __future__ import annotations

import json
import shlex
import sys
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from sweepkit.cli.exits import Exit, end_with, say_failure
from sweepkit.errors import BadInput
from sweepkit.saving import check_target, save_bytes

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from sweepkit.cli.option_groups import Output
    from sweepkit.feedline.measure import LineMeasurement
    from sweepkit.report.page import Page
    from sweepkit.report.provenance import Made
    from sweepkit.reviews import Review
    from sweepkit.sweep import Sweep

T = TypeVar("T")

KINDS = (".html", ".md")
MOST_PAGES = 12  # sweeps in one report; more is a table's work


def check_report(path: Path, inputs: Sequence[Path], *, force: bool) -> None:
    """Refuse a report that cannot be written, before the work is done."""
    if path.suffix.lower() not in KINDS:
        raise BadInput(f"a report ends in {' or '.join(KINDS)}; name it so", path=str(path))
    check_target(path, force=force, inputs=tuple(inputs))


def check_plot(path: Path, inputs: Sequence[Path], *, force: bool, one_answer: bool) -> None:
    """Refuse a picture that cannot be drawn or written, before the work is done."""
    from sweepkit.plots.saving import check_plot_path

    if not one_answer and (len(inputs) != 1 or inputs[0].is_dir()):
        raise BadInput("--plot draws one answer; name one file, or say --setup or --repeats")
    check_plot_path(path, force=force, inputs=tuple(map(str, inputs)))


def plot_reviews(reviews: Sequence[Review], path: Path, inputs: Sequence[Path], *, force: bool) -> None:
    """The picture of ``sweepkit review``: of one answer, or of none."""
    from sweepkit.plots.saving import save_figure

    for review in reviews:
        save_figure(_drawn(review), path, force=force, inputs=tuple(map(str, inputs)))


def plot_first(
    measured: LineMeasurement, sweeps: Sequence[Sweep], path: Path, inputs: Sequence[Path], *, force: bool
) -> None:
    """The picture of ``sweepkit feedline``: the reflections along the line in its first sweep."""
    from sweepkit.plots.along_line import plot_line
    from sweepkit.plots.saving import save_figure

    save_figure(plot_line(measured, sweeps[0]), path, force=force, inputs=tuple(map(str, inputs)))


def _drawn(review: Review) -> Figure:
    """The picture that shows what the answer rests on; only its module is loaded."""
    if review.repeatability is not None:
        from sweepkit.plots.repeats import plot_repeats

        return plot_repeats(review)
    if review.parts:
        from sweepkit.plots.setup import plot_setup

        return plot_setup(review)
    from sweepkit.plots.one_sweep import plot_swr

    return plot_swr(review)


def made_now(*, kit: Path | None, draws: int, seed: int) -> Made:
    """How this run came about."""
    from sweepkit.report.provenance import Made

    return Made(
        command=shlex.join(["sweepkit", *sys.argv[1:]]),
        kit="" if kit is None else str(kit),
        kit_bytes=b"" if kit is None else kit.read_bytes(),
        draws=draws,
        seed=seed,
        when=datetime.now(UTC).strftime("%Y-%m-%d %H:%M UTC"),
    )


def write_report(
    path: Path, inputs: Sequence[Path], pages: Callable[[bool], Sequence[Page]], *, force: bool
) -> None:
    """Write pages in the format that the ending asks for; ``pages`` is told whether pictures are wanted."""
    if path.suffix.lower() == ".md":
        from sweepkit.report.page_markdown import page_markdown

        text = page_markdown(pages(False))
    else:
        from sweepkit.report.page_html import page_html

        text = page_html(pages(True))
    save_bytes(path, text.encode("utf-8"), force=force, inputs=tuple(inputs))


def text_of_page(page: Page, *, explain: bool) -> str:
    """A page as text, as wide as the terminal."""
    import shutil

    from sweepkit.report.page_text import page_text

    width = shutil.get_terminal_size(fallback=(72, 24)).columns
    return page_text(page, width=width, explain=explain)


def report_reviews(
    reviews: Sequence[Review], path: Path, inputs: Sequence[Path], *, page: Callable[..., Page], force: bool
) -> None:
    """The report of ``sweepkit review``: a page for each answer, up to 12; none writes nothing."""
    if len(reviews) > MOST_PAGES:
        raise BadInput(
            f"{len(reviews)} sweeps; a report takes up to {MOST_PAGES}; name fewer, or use --csv for a table",
            path=str(path),
        )
    if reviews:
        write_report(
            path,
            inputs,
            lambda pictures: made_of_each(
                reviews, lambda review, number: page(review, pictures=pictures, number=number)
            ),
            force=force,
        )


def made_of_each(reviews: Sequence[Review], make: Callable[[Review, int], T]) -> list[T]:
    """What is made of each answer and its number; of several, one that fails here is left out by name."""
    from sweepkit.cli.files import failed

    made = []
    for number, review in enumerate(reviews, start=1):
        try:
            made.append(make(review, number))
        except Exception as error:
            if len(reviews) == 1:
                raise
            end_with(failed(review.sweep.source.path, error).code)
    return made


def deliver(show: Callable[[], None], *files: tuple[Path | None, Callable[[Path], None]]) -> Exit:
    """Write every file that was asked for, each with what writes it, then print."""
    code = Exit.DONE
    for path, write in files:
        if path is not None:
            try:
                write(path)
            except Exception as error:
                code = max(code, say_failure(error, path=str(path)))
    show()
    return code


def deliver_page(
    output: Output,
    page: Callable[..., Page],
    document: Callable[[], dict[str, Any]],
    inputs: Sequence[Path],
    *files: tuple[Path | None, Callable[[Path], None]],
    card: Callable[[], str] | None = None,
) -> Exit:
    """One answer that is a page: the files and the report that were asked for, then JSON, card or text."""

    def show() -> None:
        if output.as_json:
            print(json.dumps(document(), indent=1, allow_nan=False))
        elif card is not None:
            print(card())
        else:
            print(text_of_page(page(pictures=False), explain=output.explain))

    def write(path: Path) -> None:
        write_report(path, inputs, lambda pictures: [page(pictures=pictures)], force=output.force)

    return deliver(show, *files, (output.report, write))
