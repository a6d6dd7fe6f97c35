"""Values of a kit as options: worded and read once."""

from __future__ import annotations

from typing import Annotated

import typer

from sweepkit.errors import BadInput

Power = Annotated[
    str | None, typer.Option("--power", help='Full power of the radio, such as "10 W".', metavar="POWER")
]
DirectSwr = Annotated[
    float | None, typer.Option("--direct-swr", help="SWR up to which no tuner is needed.", metavar="X")
]
TunerSwr = Annotated[
    float | None, typer.Option("--tuner-swr", help="SWR that the tuner matches; 1: no tuner.", metavar="X")
]


def number(text: str) -> float | None:
    """A number; nothing for an empty answer."""
    if not text:
        return None
    try:
        return float(text)
    except ValueError:
        raise BadInput(f"{text!r} is no number; write one like 2.0") from None


def watts(text: str) -> float:
    """A power with its unit. [W]"""
    digits, _, unit = text.strip().partition(" ")
    if not unit and digits[-1:].upper() == "W":
        digits, unit = digits[:-1], "W"
    value = number(digits) if unit.strip().upper() == "W" else None
    if value is None:
        raise BadInput(f'--power is {text!r}; a power with its unit was expected; write it like "10 W"')
    return value
