"""The commands as typer knows them; only those asked for are imported."""

from __future__ import annotations

import shutil
from importlib import import_module

import typer

from sweepkit.cli.help import GroupWithExamples, OnceCommand

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
