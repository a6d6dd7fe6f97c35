"""Exit codes, and the one place that turns what went wrong into one of them."""

from __future__ import annotations

import functools
import os
import sys
import traceback
from collections.abc import Callable
from enum import IntEnum
from typing import ParamSpec

from sweepkit.cli.progress import make_way
from sweepkit.errors import SweepkitError

P = ParamSpec("P")


class Exit(IntEnum):
    """What a script can rely on."""

    DONE = 0  # done
    NOT_GOOD = 1  # done, and the verdict asked for with --strict is not good
    CANNOT_RUN = 2  # cannot run, or some files could not be read; also wrong usage
    BUG = 3  # ours: traceback on stderr
    INTERRUPTED = 130  # Ctrl-C


def say_error(error: SweepkitError) -> None:
    """One line on stderr.

    Parameters
    ----------
    error : SweepkitError
        What the user can mend.
    """
    make_way()
    line = " ".join(str(error).split())
    print(f"sweepkit: {line}", file=sys.stderr)


_left_out: list[str] = []  # what the running command had to leave out of its answer


def say_left_out(error: SweepkitError) -> None:
    """Say what no answer of this command holds; it then ends with ``CANNOT_RUN`` though the rest is done."""
    say_error(error)
    _left_out.append(error.text)


def with_exit_code(command: Callable[P, Exit]) -> Callable[P, None]:
    """Make a command end the process with the code it returns, or with that of what went wrong.

    Parameters
    ----------
    command : callable
        Returns an :class:`Exit`.
    """

    @functools.wraps(command)
    def run(*args: P.args, **kwargs: P.kwargs) -> None:
        _left_out.clear()
        try:
            code = command(*args, **kwargs)
            code = Exit.CANNOT_RUN if _left_out and code in (Exit.DONE, Exit.NOT_GOOD) else code
            sys.stdout.flush()
        except SweepkitError as error:
            say_error(error)
            code = Exit.CANNOT_RUN
        except KeyboardInterrupt:
            code = Exit.INTERRUPTED
        except BrokenPipeError:  # the reader of our output went away; nothing is left to say
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            code = Exit.DONE
        except Exception:
            traceback.print_exc()
            print("sweepkit: this is a fault of sweepkit's; please report it", file=sys.stderr)
            code = Exit.BUG
        raise SystemExit(int(code))

    return run
