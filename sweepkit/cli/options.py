"""Options that several commands share, worded once, and how an option is written."""

from __future__ import annotations

from dataclasses import MISSING, field
from pathlib import Path
from typing import Annotated, Any

import typer

from sweepkit.errors import BadInput
from sweepkit.facts import FACTS
from sweepkit.limits import refuse_outside

# What stands for the value in help.
METAVARS = {"count": "N", "number": "N", "length": "LEN", "inductance": "L", "ratio": "N:1"}


def option(
    names: str, help: str, metavar: str | None = None, *, default: Any = None, limit: str | None = None
) -> Any:
    """An option of a group or of one command, as the default of its field or parameter; ``...`` must be told.

    ``names``: ``"-o --output"``; ``limit``: its row of the table of limits, held before anything else is done.
    """
    return _told(default, shared(names, help, metavar, limit=limit))


def flag(name: str, help: str) -> Any:
    """An option without a value."""
    return option(name, help, default=False)


def argument(metavar: str, help: str, *, default: Any = ...) -> Any:
    """What stands without a name."""
    return _told(default, typer.Argument(metavar=metavar, help=help))


def of_fact(key: str, metavar: str = "") -> Any:
    """The option of a fact: its word, what it means, its limits before anything else is done."""
    fact = next(fact for fact in FACTS if fact.key == key)
    return option(
        f"--{key.replace('_', '-')}",
        f"{fact.meaning[0].upper()}{fact.meaning[1:]}.",
        metavar or METAVARS[fact.kit_kind],
        limit=fact.kit_limit if fact.kit_kind in ("count", "number") else None,
    )


def _told(default: Any, info: Any) -> Any:
    return field(default=MISSING if default is ... else default, metadata={"typer": info})


def shared(
    names: str, help: str, metavar: str | None = None, *, limit: str | None = None, envvar: str | None = None
) -> Any:
    """An option of several commands, as a part of its type."""
    words = names.split()

    def check(value: Any) -> Any:
        refuse_outside(str(limit), value, called=words[-1])
        return value

    return typer.Option(
        *words, help=help, metavar=metavar, envvar=envvar, callback=check if limit is not None else None
    )


def _known_units(units: str) -> str:
    if units not in ("metric", "imperial"):
        raise BadInput(f"--units is {units!r}; it is metric or imperial")
    return units


Files = Annotated[list[Path], typer.Argument(help="Sweep files, or folders of them.", metavar="FILE...")]
Kit = Annotated[Path | None, shared("--kit", "Your gear: a kit.toml.", "FILE")]
Lines = Annotated[
    list[str] | None,
    shared(
        "--line",
        'Line from the radio on: "RG-58 15 m", a name in the kit, or none. Repeat for each piece.',
        "SPEC",
    ),
]
Region = Annotated[int | None, shared("--region", "ITU region for the band edges.", "1|2|3", limit="region")]
Json = Annotated[bool, shared("--json", "One JSON document on stdout.")]
Force = Annotated[bool, shared("--force", "Overwrite an output file that is there.")]
Units = Annotated[
    str,
    typer.Option(
        "--units",
        help="metric, or imperial for feet and inches beside.",
        metavar="metric|imperial",
        callback=_known_units,
    ),
]
