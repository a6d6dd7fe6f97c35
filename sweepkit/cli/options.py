"""Options that several commands share, worded once."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from sweepkit.facts import FACTS
from sweepkit.limits import refuse_outside


def within(limit: str, option: str) -> Any:
    """Checks an option against its row of the table of limits, before anything else is done."""

    def check(value: Any) -> Any:
        refuse_outside(limit, value, called=option)
        return value

    return check


# What stands for the value in help.
METAVARS = {"count": "N", "number": "N", "length": "LEN", "inductance": "L", "ratio": "N:1"}


def of_fact(key: str, metavar: str = "") -> Any:
    """The option of a fact: its word, what it means, its limits before anything else is done."""
    fact = next(fact for fact in FACTS if fact.key == key)
    name = f"--{key.replace('_', '-')}"
    return typer.Option(
        name,
        help=f"{fact.meaning[0].upper()}{fact.meaning[1:]}.",
        metavar=metavar or METAVARS[fact.kit_kind],
        callback=within(fact.kit_limit, name) if fact.kit_kind in ("count", "number") else None,
    )


Kit = Annotated[Path | None, typer.Option("--kit", help="Your gear: a kit.toml.", metavar="FILE")]
Lines = Annotated[
    list[str] | None,
    typer.Option(
        "--line",
        help='Line from the radio on: "RG-58 15 m", a name in the kit, or none. Repeat for each piece.',
        metavar="SPEC",
    ),
]
MeasuredAt = Annotated[
    str | None,
    typer.Option(
        "--measured-at", help="Where the analyzer was: radio or feedpoint.", metavar="radio|feedpoint"
    ),
]
Region = Annotated[
    int | None,
    typer.Option(
        "--region",
        help="ITU region for the band edges.",
        metavar="1|2|3",
        callback=within("region", "--region"),
    ),
]
Draws = Annotated[
    int,
    typer.Option(
        "--draws",
        help="Believable sweeps drawn for the intervals; 0: nominal values only.",
        metavar="N",
        callback=within("draws", "--draws"),
    ),
]
Seed = Annotated[
    int,
    typer.Option("--seed", help="Same seed, same answer.", metavar="N", callback=within("seed", "--seed")),
]
Test = Annotated[
    str | None,
    typer.Option(
        "--test", help="Code of the test that was made next, as an answer named it.", metavar="CODE"
    ),
]
TestSweep = Annotated[
    Path | None, typer.Option("--test-sweep", help="The sweep of that test.", metavar="FILE")
]
Json = Annotated[bool, typer.Option("--json", help="One JSON document on stdout.")]
Explain = Annotated[bool, typer.Option("--explain", help="Say all: every figure, and where it comes from.")]
Force = Annotated[bool, typer.Option("--force", help="Overwrite an output file that is there.")]
Imperial = Annotated[
    str,
    typer.Option(
        "--units", help="metric, or imperial for feet and inches beside.", metavar="metric|imperial"
    ),
]
Columns = Annotated[
    str | None, typer.Option("--columns", help="What each column holds, such as f,r,x.", metavar="ROLES")
]
Unit = Annotated[
    str | None, typer.Option("--unit", help="Unit of the frequencies.", metavar="Hz|kHz|MHz|GHz")
]
Decimal = Annotated[
    str | None, typer.Option("--decimal", help="Decimal mark in the file.", metavar="comma|point")
]
ReferenceOhm = Annotated[
    float | None,
    typer.Option(
        "--reference-ohm",
        help="Reference resistance, where the file states none.",
        metavar="OHM",
        callback=within("reference_ohm", "--reference-ohm"),
    ),
]
Trace = Annotated[
    str | None,
    typer.Option(
        "--trace", help="Which of several reflections: s22, or words of its column.", metavar="WORDS"
    ),
]
RecoverSign = Annotated[
    bool,
    typer.Option("--recover-sign", help="Find the sign of the reactance where the sweep itself tells it."),
]
Kept = Annotated[bool, typer.Option("--kept", help="Nothing was taken down or apart between the sweeps.")]
Rejoined = Annotated[
    bool, typer.Option("--rejoined", help="It kept standing; pieces were taken apart and joined anew.")
]
PutUpAgain = Annotated[
    bool, typer.Option("--put-up-again", help="It was taken down and put up again at the same site.")
]
SameSite = Annotated[
    bool, typer.Option("--same-site", help="All are from one site; it may have been put up again.")
]
