"""``sweepkit kit try``: what another value in the kit would change in the answer for a sweep."""

from __future__ import annotations

import shutil
import textwrap
from pathlib import Path
from typing import Annotated

import typer

from sweepkit.cli import kit_values, options
from sweepkit.cli.exits import Exit, with_exit_code
from sweepkit.cli.option_groups import Gear, with_groups
from sweepkit.errors import BadInput


@with_exit_code
@with_groups
def attempt(
    *,
    file: Annotated[Path, typer.Argument(help="A sweep.", metavar="FILE")],
    gear: Gear,
    power: kit_values.Power = None,
    direct_swr: kit_values.DirectSwr = None,
    tuner_swr: kit_values.TunerSwr = None,
    region: options.Region = None,
) -> Exit:
    """Show what another radio, tuner or region would change for a sweep, band by band; the kit stays as it is."""
    from sweepkit.cli.gear import read_gear
    from sweepkit.cli.stdin import read_named
    from sweepkit.kit.changed import list_changes, with_changes
    from sweepkit.report.kit_change import changes_in_bands
    from sweepkit.reviews import review
    from sweepkit.visible import visible

    if power is None and direct_swr is None and tuner_swr is None and region is None:
        raise BadInput("nothing to try; tell at least one of --power, --direct-swr, --tuner-swr and --region")
    before = read_gear(gear.kit)
    after = with_changes(
        before,
        power_w=None if power is None else kit_values.watts(power),
        direct_swr=direct_swr,
        tuner_swr=tuner_swr,
        region=region,
    )
    sweep = read_named(file, if_needed=before.analyzer.hints)
    pieces, place = gear.line_and_place(before)
    answers = [review(sweep, kit=each, lines=pieces, measured_at=place) for each in (before, after)]
    lines = [
        *(list_changes(before, after) or ["nothing in the kit changes"]),
        "",
        *changes_in_bands(*answers),
    ]
    width = shutil.get_terminal_size(fallback=(72, 24)).columns
    for each in lines:
        print("\n".join(textwrap.wrap(visible(each), width, subsequent_indent="  ")))
    return Exit.DONE
