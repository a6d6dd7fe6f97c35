"""The command ``sweepkit``."""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # our arrays are small; threads only cost start-up time

import typer

from sweepkit.cli import compare, convert, diagnose, feedline, log, plot, review, trim

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


app.command("review")(review.review)
app.command("compare")(compare.compare)
app.command("convert")(convert.convert)
app.command("feedline")(feedline.feedline)
app.command("plot")(plot.plot)
app.command("trim")(trim.trim)
app.command("diagnose")(diagnose.diagnose)
app.add_typer(log.app, name="log")


def main() -> None:
    """Run the command line."""
    app()
