"""Hand over one answer: files first, stdout last; a file that cannot be written takes nothing else along."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from sweepkit.cli.exits import Exit, say_failure


def deliver(show: Callable[[], None], *files: tuple[Path | None, Callable[[Path], None]]) -> Exit:
    """Write every file that was asked for, then print.

    Parameters
    ----------
    show : callable
        Prints the answer.
    files : tuples of path and callable
        Where, and what writes it; ``None`` was not asked for.
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
