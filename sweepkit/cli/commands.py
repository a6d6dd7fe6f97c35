"""The commands as typer knows them; only those asked for are imported."""

from __future__ import annotations

from importlib import import_module

import typer

from sweepkit.cli.once import OnceCommand

# Each is a module of this folder with a function of its name, or as the last one an app of several commands.
COMMANDS = ("review", "compare", "convert", "feedline", "plot", "trim", "diagnose", "log")


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
    app = typer.Typer(
        name="sweepkit",
        help="Field antenna sweeps turned into decisions.",
        add_completion=False,
        rich_markup_mode=None,
        pretty_exceptions_enable=False,
        no_args_is_help=True,
    )
    app.callback()(_root)
    for name in names or COMMANDS:
        module = import_module(f"sweepkit.cli.{name}")
        if hasattr(module, "app"):
            app.add_typer(module.app, name=name)
        else:
            app.command(name, cls=OnceCommand)(getattr(module, name))
    return app
