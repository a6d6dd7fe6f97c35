"""A line that cannot be the one in front is found; one that can be is left in peace."""

import numpy as np
import pytest

from sweepkit.feedline.chain import LineChain, draw_chain
from sweepkit.feedline.misfit import find_misfit
from sweepkit.lines import LinePiece, catalogued_piece, parse_piece
from tests.feedline.modelled import antenna, measured

F_HZ, ANTENNA = antenna("dipole_40m_wide")


def judge(sweep, pieces, *, n=200, f_hz=F_HZ, noise=0.002):
    draws = draw_chain(LineChain(pieces), np.random.default_rng(0), n)
    return find_misfit(f_hz, sweep, draws, noise=noise, directivity=0.01)


def test_a_line_told_that_is_not_there_is_found():
    misfit = judge(measured(F_HZ, ANTENNA), [parse_piece("RG-58 30 m")])
    assert misfit is not None
    assert misfit.gamma_abs > 1.1
    assert misfit.most_loss_db < misfit.told_loss_db
    finding = misfit.finding()
    assert (finding.code, finding.level) == ("line-does-not-fit", "stop")
    assert "the sweep allows" in finding.text


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("spec", ["RG-58 15 m", "RG-213 30 m", "RG-174 10 m"])
def test_the_right_line_fits_within_its_tolerances(spec, seed):
    told = parse_piece(spec)
    dice = np.random.default_rng(seed)
    loss = np.exp(0.1 * dice.standard_normal())
    length_m = told.length_m + told.length_sigma_m * dice.standard_normal()
    true = LinePiece(
        "true",
        told.z0_ohm,
        told.velocity_factor * (1 + 0.01 * dice.standard_normal()),
        told.k1_db_per_100m * loss,
        told.k2_db_per_100m * loss,
        length_m,
    )
    assert judge(measured(F_HZ, ANTENNA, [true], seed=seed), [told]) is None


def test_noise_alone_is_no_misfit():
    """An open end reflects everything; noise then lifts half the points above 1."""
    piece = catalogued_piece("RG-58", 15.0, length_sigma_m=0.0, velocity_factor_sigma=0.0, loss_sigma=0.0)
    for seed in range(20):
        sweep = measured(F_HZ, np.ones(F_HZ.size), [piece], noise=0.01, seed=seed)
        assert judge(sweep, [piece], noise=0.01) is None


def test_six_decibels_cannot_show_a_swr_of_three():
    piece = LinePiece("long", 50.0, 0.66, 6 / 1e4, 0.0, 1e5)  # 6 dB at 100 MHz
    f_hz = np.linspace(99e6, 101e6, 101)
    misfit = judge(0.5 * np.exp(1j * f_hz / 1e6), [piece], f_hz=f_hz)
    assert misfit is not None
    assert misfit.told_loss_db == pytest.approx(6, abs=0.05)
    assert misfit.most_loss_db == pytest.approx(3.01, abs=0.01)


def test_one_wild_point_is_no_misfit():
    sweep = measured(F_HZ, ANTENNA, [parse_piece("RG-58 15 m")])
    sweep[300] = 1.0
    assert judge(sweep, [parse_piece("RG-58 15 m")]) is None


def test_without_draws_the_line_as_told_decides():
    assert judge(measured(F_HZ, ANTENNA), [parse_piece("RG-58 30 m")], n=0) is not None
    assert judge(measured(F_HZ, ANTENNA), [parse_piece("RG-58 1 m")], n=0) is None
