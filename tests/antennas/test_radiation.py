"""What a sound antenna can show: published resistances, limits of the formulas, and how two stories are weighed."""

from __future__ import annotations

import numpy as np
import pytest

from sweepkit.antennas.kind import Known
from sweepkit.antennas.radiation import ShownDip, monopole_radiation_ohm, weigh

N = 1500


# Balanis, Antenna Theory, 4th ed. 2016, equation 4-106: 36.5 ohm for a quarter-wave monopole. The integral gives 36.56.
@pytest.mark.derived
def test_a_quarter_wave_over_a_mirror_has_36_and_a_half_ohm():
    assert monopole_radiation_ohm(np.pi / 2) == pytest.approx(36.5, abs=0.1)


# A short monopole with its triangular current: 40 pi² (h/lambda)², which is 10 (kh)² (Balanis 4-37, half of
# the dipole of length 2h). The sinusoidal current differs in the second order of kh.
@pytest.mark.identity
def test_a_short_monopole_goes_with_the_square_of_its_height():
    assert monopole_radiation_ohm(0.05) == pytest.approx(10 * 0.05**2, rel=2e-3)
    assert monopole_radiation_ohm(0.1) / monopole_radiation_ohm(0.05) == pytest.approx(4, rel=5e-3)
    heights = monopole_radiation_ohm(np.linspace(0.02, 1.5, 60))
    assert (np.diff(heights) > 0).all()


# The loaded short vertical of a textbook: 0.1 wavelengths high, 4 ohm (Balanis 4-37 halved: 40 pi² 0.01 = 3.95).
@pytest.mark.derived
def test_a_tenth_of_a_wavelength_has_about_four_ohm():
    assert monopole_radiation_ohm(0.2 * np.pi) == pytest.approx(3.95, rel=0.1)


def whip(r_ohm, length_m=2.3, f_hz=7.1e6, **known):
    swr = max(r_ohm / 50, 50 / r_ohm)
    shown = ShownDip(np.full(N, f_hz), np.full(N, float(r_ohm)), np.full(N, swr), np.full((1, N), 10.0))
    return weigh("loaded-whip", shown, length_m, Known(**known), np.random.default_rng(1))


def end_fed(q, swr=1.3, f_hz=7.1e6, **known):
    shown = ShownDip(np.full(N, f_hz), None, np.full(N, swr), np.full((1, N), q / (1 + swr)))
    return weigh("end-fed", shown, 20.0, Known(**known), np.random.default_rng(1))


def test_a_short_whip_that_reads_50_ohm_heats_and_a_long_one_of_15_does_not():
    short = whip(50, radials=1, coil_h=25.6e-6)
    assert short.flagged
    assert "50 ohm where" in short.shown
    ground_db = np.quantile(short.losses_db["ground"], [0.025, 0.5, 0.975])
    assert 13 < ground_db[0] < ground_db[1] < ground_db[2] < 18
    sound = whip(15, length_m=5.8, radials=6, coil_h=7.9e-6)
    assert not sound.flagged
    assert sound.chance == 0
    assert np.median(sound.losses_db["ground"]) < 3


def test_the_chance_rises_with_the_resistance_without_a_step():
    chances = [whip(r, radials=1).chance for r in range(12, 60, 2)]
    assert chances == sorted(chances)
    assert chances[0] < 0.1
    assert chances[-1] > 0.95
    assert 0.2 < sorted(chances, key=lambda chance: abs(chance - 0.5))[0] < 0.8  # weighed, not cut


def test_what_is_told_of_the_return_moves_the_chance():
    for r in (22, 28, 34):
        assert whip(r, radials=1).chance > whip(r).chance > whip(r, radials=8).chance
    for q in (4, 5, 6):
        short, untold, proper = end_fed(q, counterpoise_m=0.4), end_fed(q), end_fed(q, counterpoise_m=2.9)
        assert short.chance > untold.chance > proper.chance
        assert (
            end_fed(q, counterpoise_m=0.4, choke_at_m=5.0).chance == proper.chance
        )  # the coax before the choke does
        assert end_fed(q, counterpoise_m=0.4, choke_at_m=0.0).chance == short.chance


def test_an_end_fed_too_wide_to_be_sound_heats():
    assert end_fed(2.5, counterpoise_m=0.4).flagged
    assert not end_fed(9, counterpoise_m=0.4).flagged
    assert np.median(end_fed(2.5).box_db) > np.median(end_fed(9).box_db)
    assert (end_fed(30).box_db >= 0).all()


def test_less_than_a_loss_free_whip_shows_is_no_loss():
    heat = whip(0.3)
    assert (heat.losses_db["ground"] == 0).all()
    assert heat.chance == 0


@pytest.mark.parametrize(
    ("kind", "length_m"), [("dipole", 3.0), ("fan", 10.0), ("loaded-whip", 12.0), ("end-fed", 9.0)]
)
def test_nothing_is_said_of_other_kinds_and_sizes(kind, length_m):
    shown = ShownDip(np.full(N, 7.1e6), np.full(N, 50.0), np.full(N, 1.1), np.full((1, N), 3.0))
    assert weigh(kind, shown, length_m, Known(), np.random.default_rng(1)) is None


def test_an_end_fed_whose_width_was_not_swept_is_not_weighed():
    shown = ShownDip(np.full(N, 7.1e6), None, np.full(N, 1.1), np.full((1, N), np.nan))
    assert weigh("end-fed", shown, 20.0, Known(), np.random.default_rng(1)) is None
