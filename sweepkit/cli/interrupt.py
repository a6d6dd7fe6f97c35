"""Ctrl-C: one clean end wherever it comes, imports and clean-up code included. Loads nothing else of ours."""

from __future__ import annotations

import _thread
import signal
import sys
from types import FrameType

_came = False


def watch() -> None:
    """Notice Ctrl-C from now on; where it is ignored (a job in the background), it stays ignored."""
    if signal.getsignal(signal.SIGINT) is signal.default_int_handler:
        signal.signal(signal.SIGINT, _note)
        sys.unraisablehook = _unraisable


def has_come() -> bool:
    """Whether Ctrl-C was pressed; what goes wrong after it is no fault of ours."""
    return _came


def no_longer() -> None:
    """The work is done and its exit code stands: let the interpreter leave in peace."""
    if signal.getsignal(signal.SIGINT) is _note:
        signal.signal(signal.SIGINT, signal.SIG_IGN)


def _note(number: int, frame: FrameType | None) -> None:
    global _came  # one process, one Ctrl-C
    _came = True
    raise KeyboardInterrupt


def _unraisable(what: sys.UnraisableHookArgs) -> None:
    """Where Python itself would swallow it with a traceback, let it come once more."""
    if isinstance(what.exc_value, KeyboardInterrupt):
        _thread.interrupt_main()
    else:
        sys.__unraisablehook__(what)
