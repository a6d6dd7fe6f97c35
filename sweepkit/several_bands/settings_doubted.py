"""Sweeps of a whip that cannot be of the settings they are said to be of."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sweepkit.findings import Finding
from sweepkit.quantities import frequency_text, length_text
from sweepkit.several_bands.seen import NEAR, SeenAll
from sweepkit.several_bands.whip_model import SeenSetting, WhipDraws

# Of ln f between a dip that was seen and that of the best fit: five times what the formula leaves.
CONTRADICTS = 0.01
MOST_SWR = 6.0  # of a dip that says where a whip is tuned; common practice, no source


def two_settings(seen: SeenAll) -> list[Finding]:
    """Two sweeps with a deep dip each, far apart: a short whip on one setting has one."""
    deep = [
        [dip.measured_hz for dip in file.seen.dips if not dip.extrapolated and dip.swr[0] < MOST_SWR]
        for file in seen.files
    ]
    shown = [dips[0] for dips in deep if len(dips) == 1]
    if len(shown) < 2 or np.log(max(shown) / min(shown)) < NEAR:
        return []
    where = " and ".join(map(frequency_text, sorted(shown)))
    text = f"a whip on one setting has one dip, and the sweeps dip at {where}: they are of two settings"
    step = "name the sweep as it stands now, and the other with --earlier 'tap 18, 3.52 m=FILE'"
    return [Finding("sweeps-differ", "stop", text, step)]


def contradiction(whip: WhipDraws, settings: Sequence[SeenSetting]) -> Finding | None:
    """Settings that no whip with this coil can have."""
    for each in settings:
        fitted_hz = float(whip.dip_hz(each.tap, each.whip_m, guess_hz=each.dip_hz)[0])
        if abs(np.log(fitted_hz / each.dip_hz)) > CONTRADICTS:
            tap = "" if each.tap is None else f"tap {each.tap:g}, "
            return Finding(
                "sweeps-differ",
                "stop",
                f"with {tap}a whip of {length_text(each.whip_m)} it dipped at {frequency_text(each.dip_hz)}, which no "
                "whip does that has this coil and dips as the other sweeps say",
                "check tap and whip of each sweep, the turns and the coil; or leave that sweep out",
            )
    return None
