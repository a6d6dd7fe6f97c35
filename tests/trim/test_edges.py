"""A sound sweep is not refused for where its dip lies: inside, at an end, or as far as 1 % beyond it."""

from pathlib import Path

import numpy as np
import pytest

from tests.models import families, trial
from tests.trim.views import dips_at_feedpoint

SPECIMENS = families.load(Path(families.__file__).parents[1] / "data" / "models" / "specimens.npz")
DRAWS = 100


def dips(specimen, length_m, low_hz, high_hz, dice):
    """Dips of a sweep between two ends, read with 40 dB of directivity and noise."""
    f_hz = np.linspace(low_hz, high_hz, 101)
    z = specimen.z_ohm(f_hz, length_m)
    noise = 0.001 * dice.standard_normal((2, f_hz.size)) / np.sqrt(2)
    gamma = (z - 50) / (z + 50) + 0.01 * np.exp(2j * np.pi * dice.random()) + noise[0] + 1j * noise[1]
    return dips_at_feedpoint(f_hz, gamma, draws=DRAWS)


@pytest.fixture(scope="module")
def antennas():
    """Specimen, its length and its dip; the end-feds and the short whips are in other tests."""
    chosen = [s for s in SPECIMENS if s.spec.kind not in ("end-fed", "loaded-whip")][::2]
    lengths = [trial.right_length_m(specimen) for specimen in chosen]
    return [(s, m, trial.true_dip_hz(s, m)) for s, m in zip(chosen, lengths, strict=True) if m]


@pytest.mark.parametrize(
    "share", [0.3, 0.1, 0.03, 0.0, -0.03, -0.1], ids=lambda share: f"{share:+.0%} inside"
)
def test_a_dip_near_an_end_is_found_and_its_interval_holds(antennas, share):
    dice, found, held = np.random.default_rng(5), [], []
    for specimen, length_m, dip_hz in antennas:
        for at_low in (True, False):
            span_hz = 0.08 * dip_hz
            low_hz = dip_hz - share * span_hz if at_low else dip_hz - (1 - share) * span_hz
            near = dips(specimen, length_m, low_hz, low_hz + span_hz, dice)
            found.append(len(near) == 1)
            if near:
                low, high = np.nanquantile(near[0].f_hz[1:], [0.025, 0.975])
                beyond = 1.96 * 0.2 * near[0].extrapolated * dip_hz  # as the plan widens it
                held.append(low - beyond <= dip_hz <= high + beyond)
    assert all(found)
    assert np.mean(held) >= 0.8
