"""The command ``sweepkit``."""

from __future__ import annotations

import os
import sys
import warnings
from typing import Any

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # our arrays are small; threads only cost start-up time

import typer

from sweepkit.cli import interrupt
from sweepkit.cli.commands import COMMANDS, command_line, list_of_commands
from sweepkit.cli.exits import Exit, fail_whole, say_error
from sweepkit.cli.streams import Gate, gates
from sweepkit.errors import BadInput
from sweepkit.saving import watch_opened

COMPLETION = "_SWEEPKIT_COMPLETE"  # set by a shell that asks what a word could go on to, as typer names it
# What typer raises for wrong usage stands between this and its public BadParameter.
_WrongUsage: Any = next(kind for kind in typer.BadParameter.__mro__ if kind.__name__ == "ClickException")


def __getattr__(name: str) -> Any:
    """``app``: the whole command line, made when it is asked for (PEP 562)."""
    if name != "app":
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return command_line()


def main() -> None:
    """Run the command line."""
    os.environ["MPLBACKEND"] = "agg"  # nothing is shown in a window, whatever the user's setting says
    watch_opened()
    with gates() as out, warnings.catch_warnings():
        if not sys.warnoptions:
            warnings.simplefilter("ignore")  # of numpy and others: nothing the user could act on
        code = _settled(_run(), out)
        interrupt.no_longer()
    raise SystemExit(code)


def _run() -> int:
    """The command of ``sys.argv``, and its exit code."""
    try:
        return _wanted()(standalone_mode=False, prog_name="sweepkit") or Exit.DONE
    except SystemExit as end:  # each command ends so
        return end.code if isinstance(end.code, int) else Exit.DONE
    except (KeyboardInterrupt, typer.Abort):
        return Exit.INTERRUPTED
    except _WrongUsage as error:
        return _say_usage(error)
    except Exception as error:
        return fail_whole(error)


def _wanted() -> typer.Typer:
    """As little of the command line as answers ``sys.argv``."""
    first = sys.argv[1:2]
    if COMPLETION in os.environ:
        return command_line()
    if first in ([], ["--help"], ["-h"], ["--version"]):
        return list_of_commands()
    return command_line(*(word for word in first if word in COMMANDS))


def _say_usage(error: Exception) -> Exit:
    """Wrong usage in the form of all other errors; help as it is where nothing was asked."""
    if type(error).__name__ == "NoArgsIsHelpError":
        print(error.format_message(), file=sys.stderr)  # type: ignore[attr-defined]
        return Exit.CANNOT_RUN
    text = error.format_message().rstrip(".")  # type: ignore[attr-defined]
    context = getattr(error, "ctx", None)
    command = context.command_path if context else "sweepkit"
    return fail_whole(BadInput(f"{text[:1].lower()}{text[1:]}; see {command} --help"))


def _settled(code: int, out: Gate) -> int:
    """The exit code once stdout is out: 2 where it could not be written."""
    out.flush()
    if out.trouble is None:
        return code
    say_error(BadInput(f"the output cannot be written ({out.trouble}); files asked for are written"))
    return max(code, Exit.CANNOT_RUN)
