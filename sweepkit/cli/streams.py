"""stdout and stderr of a run: text made visible, and whatever becomes of them said in one line, never in the way.

A reader that goes away changes nothing. A stdout that is closed or full is said at the end; until then the run
goes on, so that files asked for are written all the same.
"""

from __future__ import annotations

import contextlib
import errno
import os
import sys
from collections.abc import Iterator
from typing import Any, TextIO, cast

from sweepkit.visible import visible_lines


class Gate:
    """A text stream, ``None`` for a closed one, behind which no text of strangers is dangerous and no write fails."""

    def __init__(self, stream: TextIO | None) -> None:
        self.stream = stream
        self.trouble: str | None = None
        self.has_begun = False  # something was printed
        self._is_gone = False

    def write(self, text: str) -> int:
        """Print, as far as there is still somebody."""
        shown = visible_lines(text)
        self.has_begun |= bool(text)
        if text and self.stream is None:
            self.trouble = "it is closed"
        elif self.stream is not None:
            self._try(self.stream.write, shown)
        return len(text)

    def flush(self) -> None:
        """Hand on what is buffered."""
        if self.stream is not None:
            self._try(self.stream.flush)

    def isatty(self) -> bool:
        """Whether a person looks on."""
        return self.stream is not None and not self.stream.closed and self.stream.isatty()

    def __getattr__(self, name: str) -> Any:
        return getattr(self.stream, name)

    def _try(self, act: Any, *words: str) -> None:
        """Do it unless the other end is lost; what loses it now is remembered."""
        if self._is_gone:
            return
        try:
            act(*words)
        except (OSError, ValueError) as error:  # ValueError: closed while we ran
            self._is_gone = True
            if not _went_away(error):
                self.trouble = getattr(error, "strerror", None) or str(error)
            self._let_go()

    def _let_go(self) -> None:
        """What is still in the buffer goes nowhere, so that leaving Python does not fail over it."""
        with contextlib.suppress(OSError, ValueError, AttributeError):
            nowhere = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nowhere, self.stream.fileno())  # type: ignore[union-attr]
            os.close(nowhere)


def _went_away(error: Exception) -> bool:
    """Whether the reader of a pipe has left; Windows calls it an invalid argument."""
    code = getattr(error, "errno", None)
    return code == errno.EPIPE or (os.name == "nt" and code == errno.EINVAL)


@contextlib.contextmanager
def gates() -> Iterator[Gate]:
    """All that is printed goes through gates until the end; gives that of stdout."""
    before = sys.stdout, sys.stderr
    _occupy_closed()
    for stream in before:
        with contextlib.suppress(AttributeError, OSError, ValueError):
            stream.reconfigure(errors="replace")  # type: ignore[union-attr]
    out, err = Gate(before[0]), Gate(before[1])
    sys.stdout, sys.stderr = cast(TextIO, out), cast(TextIO, err)
    try:
        yield out
    finally:
        out.flush()
        err.flush()
        sys.stdout, sys.stderr = before


def _occupy_closed() -> None:
    """A file opened later must never take the number of a stream that was closed."""
    if None in (sys.__stdin__, sys.__stdout__, sys.__stderr__):
        while (number := os.open(os.devnull, os.O_RDWR)) < 3:
            pass
        os.close(number)
