"""``sweepkit trim --start``: the length to cut before going out."""

from __future__ import annotations

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

    own = _own_wavelengths(kind, told.antenna, told.log) if told.antenna else []
    start = start_length(kind, target_hz, own_wavelengths=own)
    document = json.dumps(start.to_json(), indent=1, allow_nan=False)
    print(document if told.output.as_json else start.text(imperial=told.imperial))
    return Exit.DONE


def _own_wavelengths(kind: Kind, antenna: str, log: Path | None) -> list[float]:
    """Of the antenna's sweeps in the logbook, where there is one."""
    from sweepkit.cli.log_place import is_there, open_named
    from sweepkit.records.past import own_wavelengths

    if not is_there(log):
        return []
    with open_named(log) as opened:
        return list(own_wavelengths(opened, kind, antenna))
