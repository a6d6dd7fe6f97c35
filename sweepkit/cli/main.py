"""The command ``sweepkit``."""

from __future__ import annotations

import os
import sys
import warnings
from typing import Any

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # our arrays are small; threads only cost start-up time

import typer

from sweepkit.cli import compare, convert, diagnose, feedline, interrupt, log, plot, review, trim
from sweepkit.cli.exits import Exit, say_error, say_failure
from sweepkit.cli.once import OnceCommand
from sweepkit.cli.streams import Gate, gates
from sweepkit.errors import BadInput
from sweepkit.saving import watch_opened

app = typer.Typer(
    name="sweepkit",
    help="Field antenna sweeps turned into decisions.",
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    no_args_is_help=True,
)


def _version(wanted: bool) -> None:
    if wanted:
        from sweepkit import __version__

        print(f"sweepkit {__version__}")
        raise typer.Exit


@app.callback()
def _root(
    version: bool = typer.Option(
        False, "--version", help="Show the version and leave.", callback=_version, is_eager=True
    ),
) -> None:
    """Field antenna sweeps turned into decisions. Everything works offline."""


for _name, _command in (
    ("review", review.review),
    ("compare", compare.compare),
    ("convert", convert.convert),
    ("feedline", feedline.feedline),
    ("plot", plot.plot),
    ("trim", trim.trim),
    ("diagnose", diagnose.diagnose),
):
    app.command(_name, cls=OnceCommand)(_command)
app.add_typer(log.app, name="log")

# What typer raises for wrong usage stands between this and its public BadParameter.
_WrongUsage: Any = next(kind for kind in typer.BadParameter.__mro__ if kind.__name__ == "ClickException")


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
        return app(standalone_mode=False) or Exit.DONE
    except SystemExit as end:  # each command ends so
        return end.code if isinstance(end.code, int) else Exit.DONE
    except (KeyboardInterrupt, typer.Abort):
        return Exit.INTERRUPTED
    except _WrongUsage as error:
        return _say_usage(error)
    except Exception as error:
        return say_failure(error)


def _say_usage(error: Exception) -> Exit:
    """Wrong usage in the form of all other errors; help as it is where nothing was asked."""
    if type(error).__name__ == "NoArgsIsHelpError":
        print(error.format_message(), file=sys.stderr)  # type: ignore[attr-defined]
        return Exit.CANNOT_RUN
    text = error.format_message().rstrip(".")  # type: ignore[attr-defined]
    context = getattr(error, "ctx", None)
    command = context.command_path if context else "sweepkit"
    say_error(BadInput(f"{text[:1].lower()}{text[1:]}; see {command} --help"))
    return Exit.CANNOT_RUN


def _settled(code: int, out: Gate) -> int:
    """The exit code once stdout is out: 2 where it could not be written."""
    out.flush()
    if out.trouble is None:
        return code
    say_error(BadInput(f"the output cannot be written ({out.trouble}); files asked for are written"))
    return max(code, Exit.CANNOT_RUN)
