"""By how much sweeps of an unchanged antenna differ, for each way of repeating.

Frequency, resistance and SWR are the repeatability table of the trade, proposed defaults without a published
source, taken as standard deviations of one repeat (the range of SWR as two). The rest is common practice, no
source. An operator's own repeats replace them: sweep A, B and A again.
"""

from __future__ import annotations

from dataclasses import dataclass

from sweepkit.antennas.rungs import Rung


@dataclass(frozen=True)
class Spread:
    """Standard deviations of one repeat."""

    f: float  # of the frequency, as a share
    r: float  # of the resistance, as a share
    q: float  # as a share
    offset: float  # of the reflection, the same at every frequency, each part
    loss_db: float  # of the line, one way, in the middle of the sweep
    delay_s: float  # of the line, one way
    shape: float  # of anything else: rms of the reflection


SPREADS: dict[tuple[Rung, bool], Spread] = {
    ("swept-again", False): Spread(0.0002, 0.01, 0.01, 0.003, 0.003, 0.02e-9, 0.003),
    ("joined-anew", False): Spread(0.001, 0.02, 0.02, 0.005, 0.02, 0.1e-9, 0.006),
    ("put-up-again", False): Spread(0.004, 0.08, 0.08, 0.02, 0.05, 0.3e-9, 0.03),
    ("another-site", False): Spread(0.013, 0.25, 0.25, 0.04, 0.05, 0.3e-9, 0.06),
    ("put-up-again", True): Spread(0.015, 0.12, 0.12, 0.04, 0.05, 0.3e-9, 0.06),
    ("another-site", True): Spread(0.02, 0.30, 0.30, 0.06, 0.05, 0.3e-9, 0.08),
}


def usual_spread(rung: Rung, *, is_whip: bool) -> Spread:
    """The spread of one repeat by what was done between; a loaded whip is sharper and differs more put up again."""
    return SPREADS.get((rung, is_whip), SPREADS["another-site" if rung == "other-ground" else rung, False])
