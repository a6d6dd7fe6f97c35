"""``sweepkit trim``: how much wire, as text or JSON."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from sweepkit.cli import log_place, options
from sweepkit.cli.exits import Exit, with_exit_code
from sweepkit.cli.option_groups import Checks, Drawn, Gear, Output, Reading, with_groups
from sweepkit.cli.trim_options import Beside, Tapped, Told, Wanted, Wire


@with_exit_code
@with_groups
def trim(
    *,
    files: Annotated[
        list[Path] | None,
        typer.Argument(help="The sweep of the antenna as it is now, or several.", metavar="FILE..."),
    ] = None,
    wanted: Wanted,
    wire: Wire,
    start: Annotated[
        bool, typer.Option("--start", help="No sweep yet: the length to cut before going out.")
    ] = False,
    antenna: Annotated[
        str | None,
        typer.Option("--antenna", help="Kind, length and line from your kit or logbook.", metavar="NAME"),
    ] = None,
    log: log_place.Log = None,
    beside: Beside,
    tapped: Tapped,
    gear: Gear,
    region: options.Region = None,
    checks: Checks,
    drawn: Drawn,
    output: Output,
    card: Annotated[bool, typer.Option("--card", help="The move in 8 lines of 40 columns.")] = False,
    units: options.Imperial = "metric",
    reading: Reading,
) -> Exit:
    """Say how much to trim: the first move, how sure it is, and what it leaves."""
    from sweepkit.cli.option_groups import read_gear
    from sweepkit.cli.trim_bands import is_for_several, refuse_for_several, trim_bands
    from sweepkit.cli.trim_one import trim_one
    from sweepkit.errors import BadInput

    if units not in ("metric", "imperial"):
        raise BadInput(f"--units is {units!r}; it is metric or imperial")
    told = Told(
        files=files or [],
        antenna=antenna,
        log=log,
        wire=wire,
        wanted=wanted,
        beside=beside,
        tapped=tapped,
        gear=gear,
        region=region,
        checks=checks,
        drawn=drawn,
        output=output,
        card=card,
        imperial=units == "imperial",
        reading=reading,
    )
    kit = read_gear(gear.kit)
    if is_for_several(told, kit, start=start):
        refuse_for_several(start=start, must_work=wanted.must_work, checks=bool(checks.inputs))
        return trim_bands(told, kit)
    return trim_one(told, kit, start=start)
