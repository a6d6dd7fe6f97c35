"""What a slide leaves out: its interval holds what boxes do that nobody tells of, and points the right way."""

import numpy as np
import pytest

from sweepkit.several_bands.reshaping import anyhow, end_fed_dip, plain_dip, turned_anyhow
from tests.models.nec import through_transformer

DRAWS = 2000


def _deepest(f_hz: float, ohm: float, box: dict[str, float]) -> complex:
    """Reflection at the dip of a wire that is a parallel resonance of so many ohms at the 50 ohm side of a box."""
    siemens = 1 / ohm + 1j * np.linspace(-0.3, 0.12, 4001)
    z = through_transformer(box["ratio"] / siemens, np.full(siemens.size, f_hz), **box)
    gamma = (z - 50) / (z + 50)
    return complex(gamma[np.argmin(np.abs(gamma))])


@pytest.mark.parametrize("f_hz", [14.1e6, 21.2e6, 28.5e6])
def test_boxes_stay_within_the_interval(f_hz: float) -> None:
    dice = np.random.default_rng(8)
    left_out = end_fed_dip(2, f_hz, np.zeros(DRAWS), 4, choke_m=0.0)
    low, high = np.quantile(left_out.real[1:], (0.025, 0.975))
    changes = []
    for _ in range(60):
        box = {
            "ratio": 49.0,
            "magnetising_h": dice.uniform(4e-6, 12e-6),
            "core_loss": dice.uniform(0.05, 0.5),
            "core_loss_ohm": dice.uniform(900, 3000),
            "leakage_h": dice.uniform(0.04e-6, 0.15e-6),
            "capacitor_f": dice.uniform(50e-12, 120e-12),
            "winding_f": dice.uniform(3e-12, 12e-12),
        }
        ohm = dice.uniform(35, 70)
        size = [abs(_deepest(f, ohm, box)) for f in (f_hz, f_hz * np.exp(0.03))]
        sign = np.sign(_deepest(f_hz, ohm, box).real)
        changes.append(sign * (size[1] - size[0]) / 0.03)
    assert np.mean([(low <= each) & (each <= high) for each in changes]) >= 0.9


def test_a_higher_half_wave_has_less_resistance() -> None:
    lowest = end_fed_dip(1, 7.1e6, np.zeros(DRAWS), 4, choke_m=None)
    assert -0.25 < lowest[0].real < -0.05
    assert np.mean(lowest.real < 0) > 0.7
    short, long = (end_fed_dip(1, 7.1e6, np.zeros(DRAWS), 4, choke_m=m)[0].real for m in (3.0, 12.0))
    assert short < lowest[0].real < long


def test_what_the_other_half_takes_shows_in_the_resistance() -> None:
    calm = end_fed_dip(3, 21.2e6, np.zeros(DRAWS), 4, choke_m=0.0)
    taken = end_fed_dip(3, 21.2e6, np.full(DRAWS, 0.2), 4, choke_m=0.0)
    assert taken[0].real < calm[0].real - 0.4
    ahead = end_fed_dip(3, 21.2e6, np.full(DRAWS, -0.1), 4, choke_m=0.0)
    np.testing.assert_allclose(ahead, calm)


def test_the_measured_draw_stands_in_the_middle() -> None:
    left_out = end_fed_dip(2, 14.1e6, np.zeros(DRAWS), 4, choke_m=None)
    assert left_out[0].real == pytest.approx(np.median(left_out[1:].real), abs=0.01)
    assert end_fed_dip(2, 14.1e6, np.zeros(1), 4, choke_m=None).shape == (1,)
    assert anyhow(1, 3)[0] == 0


def test_turned_anyhow_keeps_its_size_towards_the_match() -> None:
    left_out = plain_dip(2, DRAWS, 5)
    turned = turned_anyhow(left_out, 5)
    assert turned[0] == 0
    assert np.std(turned[1:].real) == pytest.approx(np.sqrt(np.mean(np.abs(left_out) ** 2)), rel=0.1)
