"""Losses by exact powers, against published values and against plain arithmetic."""

import numpy as np
import pytest

from sweepkit.conversions import gamma_from_z, swr_from_gamma_abs, z_from_gamma
from sweepkit.feedline.chain import LineChain, draw_chain
from sweepkit.feedline.losses import (
    matched_loss_db,
    share_through,
    share_to_antenna,
    swr_both_ends,
    swr_ceiling,
    total_loss_db,
    worst_volts_and_amps,
)
from sweepkit.feedline.plane import add_chain
from sweepkit.feedline.propagation import propagation
from sweepkit.lines import LinePiece, parse_piece

F_HZ = np.linspace(1e6, 30e6, 59)
THREE = LineChain([parse_piece("RG-58 10 m"), parse_piece("RG-59 3 m"), parse_piece("6.1 mm foam coax 12 m")])


def nearly_ideal(loss_db):
    """A line so long in wavelengths that its impedance is as good as real: total loss at 100 MHz."""
    return LinePiece("ideal", 50.0, 0.66, loss_db / 1e4, 0.0, 1e5)


# LINE-25 to 74: ARRL Antenna Book, chapter "Transmission Lines", total loss from matched loss and SWR,
# and SWR at the transmitter end. The formula supposes a real characteristic impedance; the line here has
# 10⁵ m so that its own impedance is real within 1e-4, and the load turns through all phases. The rows
# are rounded to 0.001.
@pytest.mark.derived
@pytest.mark.parametrize("row_number", range(25, 75, 2))
def test_total_loss_and_swr_at_the_transmitter(published_rows, expected, row_number):
    row = published_rows[f"LINE-{row_number}"]
    loss_db, swr = (float(part.split()[-2 if "dB" in part else -1]) for part in row["input"].split(","))
    draws = LineChain([nearly_ideal(loss_db)]).nominal
    gamma = (swr - 1) / (swr + 1) * np.exp(1j * np.linspace(0, 6, 24))
    f_hz = np.full(24, 100e6)
    total, tolerance = expected(f"LINE-{row_number}")
    np.testing.assert_allclose(total_loss_db(f_hz, gamma, draws), total.real, atol=tolerance + 1e-3)
    at_radio, at_feedpoint = swr_both_ends(f_hz, gamma, draws)
    transmitter, tolerance = expected(f"LINE-{row_number + 1}")
    np.testing.assert_allclose(at_radio, transmitter.real, atol=tolerance + 2e-3)
    np.testing.assert_allclose(at_feedpoint, swr)


# The shortcut formula is wrong on a short line: 1 m of RG-58 on a short current maximum or on a voltage
# maximum do not cost the same, where the formula knows only one number. Exact: I²R is all there is in
# 12.5 ohm at a short line.
@pytest.mark.identity
def test_the_shortcut_formula_fails_on_a_short_line():
    draws = LineChain([parse_piece("RG-58 1 m")]).nominal
    f_hz = np.array([3.6e6])
    low, high = (total_loss_db(f_hz, gamma_from_z([z], 50.0), draws)[0, 0] for z in (5.0, 500.0))
    matched = matched_loss_db(f_hz, draws)[0, 0]
    size = 9 / 11
    a = 10 ** (matched / 10)
    formula = 10 * np.log10((a**2 - size**2) / (a * (1 - size**2)))
    assert low > 1.7 * formula
    assert high < 0.3 * formula


@pytest.mark.identity
def test_powers_by_volts_and_amps():
    """Re(V·I*) at both ends from the hyperbolic line equations of one piece."""
    piece = parse_piece("RG-174 7 m")
    draws = LineChain([piece]).nominal
    gamma_per_m, zc_ohm = propagation(
        F_HZ,
        z0_ohm=draws.z0_ohm[0, 0],  # published at 200 MHz, a little lower in the limit
        velocity_factor=piece.velocity_factor,
        k1=piece.k1_db_per_100m,
        k2=piece.k2_db_per_100m,
    )
    z_load = 20 + 1j * np.linspace(-300, 300, F_HZ.size)
    x = gamma_per_m * 7
    volts = np.cosh(x) * z_load + zc_ohm * np.sinh(x)
    amps = np.cosh(x) + np.sinh(x) * z_load / zc_ohm
    share = z_load.real / (volts * np.conj(amps)).real
    np.testing.assert_allclose(share_through(F_HZ, gamma_from_z(z_load, 50.0), draws)[0], share, rtol=1e-9)


@pytest.mark.identity
def test_shares_multiply():
    draws = draw_chain(THREE, np.random.default_rng(0), 3)
    gamma = 0.4 * np.exp(1j * F_HZ / 1e6)
    at_radio = add_chain(F_HZ, gamma, draws)
    whole = share_to_antenna(F_HZ, gamma, draws)
    np.testing.assert_allclose(whole, (1 - abs(at_radio) ** 2) * share_through(F_HZ, gamma, draws))
    np.testing.assert_allclose(
        total_loss_db(F_HZ, gamma, draws), -10 * np.log10(share_through(F_HZ, gamma, draws))
    )


def test_no_power_reaches_a_short_and_none_is_invented_above_one():
    draws = THREE.nominal
    assert (total_loss_db(F_HZ, np.full(F_HZ.size, -1.0), draws) == np.inf).all()
    assert np.isnan(total_loss_db(F_HZ, np.full(F_HZ.size, 1.01), draws)).all()


# Ceilings of practice: 0.5 dB -> 17, 1 -> 8.7, 2 -> 4.4, 3 -> 3.0, 6 -> 1.7 (closed form, line matched
# to 50 ohm).
@pytest.mark.identity
@pytest.mark.parametrize(("loss_db", "ceiling"), [(0.5, 17.4), (1, 8.72), (2, 4.42), (3, 3.01), (6, 1.67)])
def test_ceiling_of_a_matched_line(loss_db, ceiling):
    draws = LineChain([nearly_ideal(loss_db)]).nominal
    assert swr_ceiling([100e6], draws)[0, 0] == pytest.approx(ceiling, abs=0.05)


@pytest.mark.identity
def test_no_passive_load_shows_more_than_the_ceiling_and_one_reaches_it():
    draws = draw_chain(THREE, np.random.default_rng(0), 3)
    ceiling = swr_ceiling(F_HZ, draws)
    highest = np.zeros_like(ceiling)
    for angle in np.linspace(0, 2 * np.pi, 721):
        at_radio = add_chain(F_HZ, np.full(F_HZ.size, np.exp(1j * angle)), draws)
        highest = np.maximum(highest, swr_from_gamma_abs(np.abs(at_radio)))
    assert (highest <= ceiling * (1 + 1e-9)).all()
    assert (highest >= ceiling * 0.995).all()


def test_a_line_without_loss_has_no_ceiling():
    ideal = LineChain([LinePiece("ideal", 50.0, 0.66, 0.0, 0.0, 3.0)]).nominal
    assert swr_ceiling([7e6], ideal)[0, 0] > 1e12


@pytest.mark.identity
def test_volts_and_amps_of_a_line_without_loss():
    """Half a wave of 50 ohm ended in 200 ohm: Vmax = sqrt(2·P·Z0·SWR), Imax = sqrt(P·SWR/Z0), P = 100 W."""
    wave_m = 0.66 * 299_792_458 / 7e6
    draws = LineChain([LinePiece("ideal", 50.0, 0.66, 0.0, 0.0, wave_m / 2)]).nominal
    volts, amps = worst_volts_and_amps([7e6], gamma_from_z([200.0], 50.0), draws, power_w=100.0)
    assert volts[0, 0] == pytest.approx(np.sqrt(2 * 100 * 50 * 4), rel=2e-3)
    assert amps[0, 0] == pytest.approx(np.sqrt(100 * 4 / 50), rel=2e-3)


@pytest.mark.identity
def test_volts_at_the_ends_carry_the_power():
    draws = THREE.nominal
    gamma = np.full(F_HZ.size, 0.0)
    volts, amps = worst_volts_and_amps(F_HZ, gamma, draws, power_w=50.0)
    z_radio = z_from_gamma(add_chain(F_HZ, gamma, draws), 50.0)
    amps_at_radio = np.sqrt(50 / z_radio.real)
    assert (amps >= amps_at_radio * (1 - 1e-9)).all()
    assert (volts >= np.sqrt(2) * amps_at_radio * np.abs(z_radio) * (1 - 1e-9)).all()


def test_no_pieces_no_loss():
    draws = LineChain().nominal
    assert (matched_loss_db(F_HZ, draws) == 0).all()
    assert share_through(F_HZ, np.full(F_HZ.size, 0.3), draws) == pytest.approx(1.0)
