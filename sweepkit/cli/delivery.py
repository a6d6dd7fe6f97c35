"""An answer handed over: the files that were asked for, then JSON, card or text."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sweepkit.cli.exits import Exit, say_failure
from sweepkit.cli.reporting import text_of_page, write_report

if TYPE_CHECKING:
    from sweepkit.cli.option_groups import Output
    from sweepkit.report.page import Page


def deliver(show: Callable[[], None], *files: tuple[Path | None, Callable[[Path], None]]) -> Exit:
    """Write every file that was asked for, then print.

    ``files``: where, and what writes it; ``None`` was not asked for.
    """
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
    """One answer that is a page: the files and the report that were asked for, then JSON, card or text.

    ``page``: makes the page; told whether pictures are wanted.
    ``inputs``: files that are read, and so never written over.
    """

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
