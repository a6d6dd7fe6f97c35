"""How far many files are, on stderr where it is a terminal."""

from __future__ import annotations

import sys
import time
from types import TracebackType
from typing import TextIO

from sweepkit.visible import visible

LEAST_FILES = 5  # fewer are done before anybody looks
PAUSE_S = 0.1  # between two lines, so that drawing them costs nothing

_current: list[Progress] = []  # what stands on the terminal now, innermost last


class Progress:
    """A line that is drawn over itself, on stderr unless told, and gone when the work is done."""

    def __init__(self, total: int, *, stream: TextIO | None = None) -> None:
        self.total, self.done = total, 0
        self.stream = getattr(sys.stderr, "stream", sys.stderr) if stream is None else stream
        self.is_shown = total >= LEAST_FILES and self.stream is not None and self.stream.isatty()
        self._next_s = 0.0
        self._width = 0

    def __enter__(self) -> Progress:
        _current.append(self)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.clear()
        _current.remove(self)

    def step(self, name: str) -> None:
        """One more is begun."""
        self.done += 1
        if not self.is_shown or time.monotonic() < self._next_s:
            return
        self._next_s = time.monotonic() + PAUSE_S
        line = f"{self.done} of {self.total}  {visible(name)[-48:]}"
        self.stream.write("\r" + line.ljust(self._width))
        self.stream.flush()
        self._width = len(line)

    def clear(self) -> None:
        """Take the line away, so that something else can be said."""
        if self._width:
            self.stream.write("\r" + " " * self._width + "\r")
            self.stream.flush()
            self._width = 0


def make_way() -> None:
    """Take away whatever line stands there, before something else is said on stderr."""
    for progress in _current:
        progress.clear()
