"""Which logbook a command means, and opening it."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from sweepkit.logbook import Logbook

DEFAULT_NAME = "sweepkit.sqlite"

LogOption = Annotated[
    Path | None,
    typer.Option(
        "--log", envvar="SWEEPKIT_LOG", metavar="PATH", help=f"The logbook; without it {DEFAULT_NAME} here."
    ),
]


def open_named(log: Path | None, *, create: bool = False) -> Logbook:
    """Open the logbook a command means; one that is made is named on stderr.

    Parameters
    ----------
    log : Path or None
        From ``--log`` or the environment; ``None`` is the default name in the current folder.
    create : bool
        Make it where there is none.
    """
    from sweepkit.logbook import open_logbook

    path = log or Path(DEFAULT_NAME)
    is_new = create and not path.exists()
    opened = open_logbook(path, create=create)
    if is_new:
        print(f"sweepkit: made the logbook {path.absolute()}", file=sys.stderr)
    return opened
