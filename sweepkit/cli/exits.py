"""Exit codes, and the one place that turns what went wrong into one of them."""

from __future__ import annotations

import functools
import json
import sys
import traceback
from collections.abc import Callable
from enum import IntEnum
from typing import Any, ParamSpec

from sweepkit.cli import interrupt
from sweepkit.cli.kept_memory import keep_memory
from sweepkit.cli.progress import make_way
from sweepkit.errors import BadInput, SweepkitError
from sweepkit.visible import visible

P = ParamSpec("P")
ERROR_SCHEMA = "sweepkit/error/1"


class Exit(IntEnum):
    """What a script can rely on."""

    DONE = 0  # done
    NOT_GOOD = 1  # done, and the verdict asked for with --strict is not good
    CANNOT_RUN = 2  # cannot run, or some files could not be read; also wrong usage
    BUG = 3  # ours: traceback on stderr
    INTERRUPTED = 130  # Ctrl-C


def say_error(error: SweepkitError) -> None:
    """One line on stderr."""
    make_way()
    print(f"sweepkit: {visible(str(error))}", file=sys.stderr)


def as_error(error: Exception, *, path: str | None = None) -> SweepkitError | None:
    """What the system refused, in our words; nothing for what is a fault of ours."""
    if isinstance(error, SweepkitError):
        return error
    if isinstance(error, MemoryError):
        return BadInput("needs more memory than there is; try fewer --draws or fewer points", path=path)
    if isinstance(error, OSError):
        where = error.filename if isinstance(error.filename, str) else path
        return BadInput(f"{error.strerror or error}; check name, rights and room on the disk", path=where)
    return None


def say_failure(error: Exception, *, path: str | None = None) -> Exit:
    """Say what went wrong, and with which code it ends."""
    if interrupt.has_come():
        return Exit.INTERRUPTED
    known = as_error(error, path=path)
    if known is not None:
        say_error(known)
        return Exit.CANNOT_RUN
    _left_out.append(Exit.BUG)  # one file of many may fail so, and the others be answered
    make_way()
    traceback.print_exception(error)
    print("sweepkit: this is a fault of sweepkit's; please report it", file=sys.stderr)
    return Exit.BUG


def failure_json(error: SweepkitError) -> dict[str, Any]:
    """What stands in the place of an answer that there is not."""
    return {"schema": ERROR_SCHEMA, "path": error.path, "line": error.line, "text": error.text}


def fail_whole(error: Exception) -> Exit:
    """Say why there is no answer at all; with ``--json`` the one document says it too, unless one was begun."""
    code = say_failure(error)
    known = as_error(error)
    if code is Exit.CANNOT_RUN and known is not None and "--json" in sys.argv and not _has_begun(sys.stdout):
        print(json.dumps(failure_json(known), indent=1, allow_nan=False))
    return code


def _has_begun(out: Any) -> bool:
    return getattr(out, "has_begun", True)


_left_out: list[Exit] = []  # codes of what the running command had to leave out of its answer


def say_left_out(error: SweepkitError) -> None:
    """Say what no answer of this command holds; it then ends with ``CANNOT_RUN`` though the rest is done."""
    say_error(error)
    _left_out.append(Exit.CANNOT_RUN)


def end_with(code: Exit) -> None:
    """The running command ends with this code at least, whatever else it still does."""
    _left_out.append(code)


def with_exit_code(command: Callable[P, Exit]) -> Callable[P, None]:
    """Make a command end the process with the code it returns, or with that of what went wrong."""

    @functools.wraps(command)
    def run(*args: P.args, **kwargs: P.kwargs) -> None:
        _left_out.clear()
        keep_memory()
        try:
            code = command(*args, **kwargs)
            code = max([code, *_left_out])
        except KeyboardInterrupt:
            code = Exit.INTERRUPTED
        except Exception as error:
            code = fail_whole(error)
        raise SystemExit(int(code))

    return run
