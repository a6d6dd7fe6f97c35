"""``sweepkit trim``: how much wire, as text or JSON."""

from __future__ import annotations

from sweepkit.cli.exits import Exit
from sweepkit.cli.option_groups import command
from sweepkit.cli.trim_told import Told


@command
def trim(*, told: Told) -> Exit:
    """Say how much to trim: the first move, how sure it is, and what it leaves."""
    from sweepkit.cli.trim_bands import is_for_several, refuse_for_several, trim_bands
    from sweepkit.cli.trim_one import trim_one
    from sweepkit.kit import as_kit

    kit = as_kit(told.gear.kit)
    if is_for_several(told, kit):
        refuse_for_several(told)
        return trim_bands(told, kit)
    return trim_one(told, kit)
