"""``sweepkit trim --start``: the length to cut before going out."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from sweepkit.cli.exits import Exit

if TYPE_CHECKING:
    from sweepkit.antennas.kind import Kind
    from sweepkit.cli.trim_options import Told


def say_start(kind: Kind, target_hz: float, told: Told) -> Exit:
    """Print it, from the antenna's own sweeps in the logbook where there are any."""
    import json

    from sweepkit.trim.start import start_length

    own = list(_own_wavelengths(kind, told.antenna, told.log)) if told.antenna else []
    start = start_length(kind, target_hz, own_wavelengths=own)
    document = json.dumps(start.to_json(), indent=1, allow_nan=False)
    print(document if told.output.as_json else start.text(imperial=told.imperial))
    return Exit.DONE


def _own_wavelengths(kind: Kind, antenna: str, log: Path | None) -> Iterator[float]:
    """Length in wavelengths at the dip of each logged sweep of this antenna, of this kind."""
    from sweepkit.antennas.which import choose_dip
    from sweepkit.cli.log_place import meant, open_named
    from sweepkit.errors import BadInput
    from sweepkit.logbook import list_sweeps, summary_of
    from sweepkit.quantities import SPEED_OF_LIGHT_M_S

    if log is None and not meant(log).exists():
        return
    with open_named(log) as opened:
        for each in list_sweeps(opened, antenna=antenna):
            length_m, same_kind = each.facts.get("length_m"), each.setup.facts.get("kind") == kind.name
            if length_m is None or not same_kind or "set_aside" in each.facts:
                continue
            try:
                planes = summary_of(opened, each).planes
                dips = next(
                    (planes[name] for name in ("feedpoint", "radio", "unknown") if name in planes), ()
                )
                found = [dip.dip_hz.value for dip in dips if dip.dip_hz.value is not None]
                number = choose_dip(kind, length_m, found).number if found else None
            except BadInput:
                continue
            if number is not None:
                yield found[number] * length_m / SPEED_OF_LIGHT_M_S
