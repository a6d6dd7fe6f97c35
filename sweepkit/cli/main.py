"""The command ``sweepkit``, and its commands as typer knows them; only those asked for are imported."""

from __future__ import annotations

import os
import shutil
import sys
import warnings
from importlib import import_module
from typing import Any

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # our arrays are small; threads only cost start-up time

import typer

from sweepkit.cli import interrupt
from sweepkit.cli.exits import Exit, fail_whole, say_error
from sweepkit.cli.help import GroupWithExamples, OnceCommand
from sweepkit.cli.streams import Gate, gates
from sweepkit.errors import BadInput
from sweepkit.saving import watch_opened

MOST_COLUMNS = 80  # of help; longer lines are hard to read

# Each is a module of this folder with a function of its name, or as the last two an app of several commands;
# and what the list of commands says of it.
COMMANDS = {
    "review": "Which bands you can use, where the antenna dips, how sure.",
    "trim": "How much wire to fold, cut or slide.",
    "diagnose": "What is wrong, and the one test that tells.",
    "feedline": "A piece of line: length, loss, faults.",
    "bench": "A transformer, choke or adapter: loss and impedance.",
    "compare": "Sites, setups, antennas: same, different, or cannot say.",
    "plot": "Pictures of sweeps.",
    "convert": "Sweeps in another format.",
    "kit": "Your gear in one file: begin one, check one, try it.",
    "log": "Sweeps with their setups in one file.",
}
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


def _version(wanted: bool) -> None:
    if wanted:
        from sweepkit import __version__

        print(f"sweepkit {__version__}")
        raise typer.Exit


def _root(
    version: bool = typer.Option(
        False, "--version", help="Show the version and leave.", callback=_version, is_eager=True
    ),
) -> None:
    """Field antenna sweeps turned into decisions. Everything works offline."""


def command_line(*names: str) -> typer.Typer:
    """The command line with these commands, or with all of them."""
    app = _new_app(completes=not names)
    for name in names or COMMANDS:
        module = import_module(f"sweepkit.cli.{name}")
        if hasattr(module, "app"):
            app.add_typer(module.app, name=name, short_help=COMMANDS[name])
        else:
            app.command(name, cls=OnceCommand, short_help=COMMANDS[name])(getattr(module, name))
    return app


def list_of_commands() -> typer.Typer:
    """The command line for its own help: every command by name, none of them imported."""
    app = _new_app(completes=True)
    for name, said in COMMANDS.items():
        app.command(name, short_help=said)(lambda: None)
    return app


def _new_app(*, completes: bool) -> typer.Typer:
    """``completes``: with the options that teach a shell to complete the words of a command."""
    app = typer.Typer(
        name="sweepkit",
        cls=GroupWithExamples,
        help="Field antenna sweeps turned into decisions.",
        add_completion=completes,
        rich_markup_mode=None,
        pretty_exceptions_enable=False,
        no_args_is_help=True,
        context_settings={
            "help_option_names": ["-h", "--help"],
            "terminal_width": min(shutil.get_terminal_size(fallback=(80, 24)).columns, MOST_COLUMNS),
        },
    )
    app.callback()(_root)
    return app
