"""Few points inside a dip: what trim answers then is as wide as it must be; docs/trimming.md has the larger study."""

from __future__ import annotations

import numpy as np
import pytest

from sweepkit.reviews import review
from sweepkit.sweep import Sweep
from sweepkit.trim.from_sweep import plan_trim
from tests.coverage.antennas import find_truths, table

LENGTHS = {
    "whip_80m": ("loaded-whip", 2.6),
    "vee_80m": ("inverted-vee", 20.0),
    "dipole_40m": ("dipole", 10.2),
}


def swept(case, points, seed):
    """A sweep by an analyzer whose errors nobody told, on a grid that lies anyhow."""
    dice = np.random.default_rng([seed, points])
    low_hz, high_hz = np.array([case.low_hz, case.high_hz]) + (
        case.high_hz - case.low_hz
    ) * 0.1 * dice.random(2) * [1, -1]
    f_hz = np.linspace(low_hz, high_hz, points)
    gamma = (case.z_ohm(f_hz) - 50) / (case.z_ohm(f_hz) + 50)
    sizes = 10 ** (-dice.uniform((35, 30, 30), (46, 40, 40)) / 20)
    directivity, tracking, match = sizes * np.exp(2j * np.pi * dice.random(3))
    gamma = directivity + gamma * (1 + tracking) / (1 - match * gamma)
    noise = 0.0007 * (dice.normal(size=points) + 1j * dice.normal(size=points))
    return Sweep.from_gamma(f_hz, gamma + noise)


@pytest.mark.parametrize("name", LENGTHS)
def test_a_sweep_that_review_calls_too_coarse_gives_trim_an_interval_that_holds_the_dip(name):
    case, (kind, length_m) = table(name), LENGTHS[name]
    true_hz = find_truths(case, ())[0].f_hz
    told = {"measured_at": "feedpoint", "draws": 60}
    tried = held = 0
    for seed in range(4):
        for points in (11, 15):
            sweep = swept(case, points, seed)
            if "too-coarse" not in {finding.code for finding in review(sweep, **told).findings}:
                continue
            asked = {"kind": kind, "length_m": length_m, "target_hz": 1.01 * true_hz}
            now = plan_trim(sweep, **asked, **told).plan.now_hz
            if now.value is not None:  # else a sweep to take
                tried += 1
                held += now.low <= true_hz <= now.high
    assert tried >= 3
    assert held >= tried - 1
