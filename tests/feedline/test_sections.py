"""The line as sections of delay and loss: the same physics as the chain, and a measured cable."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from sweepkit.feedline.chain import LineChain
from sweepkit.feedline.least_squares import solve
from sweepkit.feedline.losses import matched_loss_db
from sweepkit.feedline.plane import add_chain
from sweepkit.feedline.section_fit import SweptEnd, fit_sections
from sweepkit.feedline.sections import Sections
from sweepkit.lines import parse_piece
from sweepkit.quantities import SPEED_OF_LIGHT_M_S

F_HZ = np.linspace(1e6, 60e6, 201)
SEMI_RIGID = Path(__file__).parents[1] / "published" / "feedline" / "semi_rigid_s12s21.txt"


def sections_of(piece):
    return Sections(
        (piece.length_m / (SPEED_OF_LIGHT_M_S * piece.velocity_factor),),
        (piece.z0_ohm,),
        piece.k1_db_per_100m * piece.length_m / 100,
        piece.k2_db_per_100m * piece.length_m / 100,
    )


@pytest.mark.identity
@pytest.mark.parametrize("spec", ["RG-58 15 m", "RG-59 4 m", "300 ohm twin lead 10 m"])
@pytest.mark.parametrize("reflection", [1.0, -1.0])
def test_a_section_is_a_piece_of_the_chain(spec, reflection):
    piece = replace(
        parse_piece(spec), z0_at_hz=None
    )  # sections tell their impedance in the high-frequency limit
    draws = LineChain([piece]).nominal
    seen = sections_of(piece).gamma(F_HZ, reflection, reference_ohm=50.0)
    np.testing.assert_allclose(seen, add_chain(F_HZ, np.full(201, reflection), draws)[0], atol=1e-12)
    np.testing.assert_allclose(sections_of(piece).loss_db(F_HZ), matched_loss_db(F_HZ, draws)[0], rtol=1e-12)


@pytest.mark.identity
def test_a_line_cut_into_equal_sections_is_the_same_line():
    whole = sections_of(parse_piece("RG-58 12 m"))
    third = whole.delay_s[0] / 3
    cut = Sections((third,) * 3, whole.z0_ohm * 3, whole.k1_db, whole.k2_db)
    for reflection in (1.0, -1.0, 0.3):
        np.testing.assert_allclose(
            cut.gamma(F_HZ, reflection, reference_ohm=50.0),
            whole.gamma(F_HZ, reflection, reference_ohm=50.0),
            atol=1e-12,
        )


def test_a_clean_sweep_gives_its_line_back():
    line = sections_of(parse_piece("RG-174 9 m"))
    sweep = SweptEnd(F_HZ, line.gamma(F_HZ, 1.0, reference_ohm=50.0) + 0.01j, 1.0)
    fit = fit_sections([sweep], Sections((0.98 * line.delay_s[0],), (50.0,), 0.3, 0.003))
    assert fit.sections.delay_s[0] == pytest.approx(line.delay_s[0], rel=1e-8)
    assert fit.sections.z0_ohm[0] == pytest.approx(50.0, rel=1e-6)
    assert (fit.sections.k1_db, fit.sections.k2_db) == pytest.approx((line.k1_db, line.k2_db), rel=1e-5)
    assert fit.rms < 1e-9


def test_a_loss_constant_is_never_negative():
    line = sections_of(parse_piece("450 ohm window line 20 m"))  # k2 is 0: noise pushes it to both sides
    for seed in range(6):
        noise = np.random.default_rng(seed).standard_normal((2, 201)) * 0.002
        seen = line.gamma(F_HZ, 1.0, reference_ohm=50.0) + noise[0] + 1j * noise[1]
        fit = fit_sections([SweptEnd(F_HZ, seen, 1.0)], Sections(line.delay_s, (400.0,), 0.3, 0.003))
        assert fit.sections.k1_db >= 0
        assert fit.sections.k2_db >= 0


def test_draws_spread_as_refits_do():
    """One linear step per draw against full fits of as many noisy sweeps."""
    line = sections_of(parse_piece("RG-58 15 m"))
    clean = line.gamma(F_HZ, 1.0, reference_ohm=50.0)
    dice = np.random.default_rng(0)
    noise = (dice.standard_normal((60, 201)) + 1j * dice.standard_normal((60, 201))) * 0.003
    first = fit_sections([SweptEnd(F_HZ, clean, 1.0)], line)
    stepped = first.draws(first.solution.respond(noise))
    refitted = [fit_sections([SweptEnd(F_HZ, clean + n, 1.0)], line).sections for n in noise]
    delays = np.array([sections.total_delay_s for sections in refitted])
    np.testing.assert_allclose(stepped.total_delay_s[1:], delays, rtol=2e-6)
    impedances = np.array([sections.z0_ohm[0] for sections in refitted])
    np.testing.assert_allclose(stepped.z0_ohm[1:, 0], impedances, atol=0.01)


@pytest.mark.identity
def test_noise_moves_the_solution_as_disturbances_drawn_one_by_one_would():
    """Covariance of a linear answer to white noise: P·Pᵀ·σ²/2 with P the answers to unit disturbances."""
    line = sections_of(parse_piece("RG-58 15 m"))
    solution = fit_sections([SweptEnd(F_HZ, line.gamma(F_HZ, 1.0, reference_ohm=50.0), 1.0)], line).solution
    unit = np.eye(F_HZ.size)
    answers = np.concatenate([solution.respond(unit + 0j), solution.respond(1j * unit)])
    expected = answers.T @ answers * 0.003**2 / 2
    moves = solution.respond_to_noise(0.003, 20_000, np.random.default_rng(0))
    scale = np.sqrt(np.outer(np.diag(expected), np.diag(expected)))
    # One entry of a covariance over its scale scatters by up to sqrt(2/n), 0.01; five times that are allowed.
    np.testing.assert_allclose(np.cov(moves.T) / scale, expected / scale, atol=0.05)


# DATA-37 to 39: edges-cal 7.1.1, a semi-rigid cable of 8 cm measured from 1 to 250 MHz. S12·S21 is the
# square of the one-way transmission, exp(-2γl) for a cable matched to 50 ohm within 0.005. The delay of
# the rows is a mean phase slope; the slope of the fitted line must agree (the rows allow 0.0002 ns for
# their own method, the same again for ours). The loss is so small that the residual of the fit, 0.0008
# of the wave, is a tenth of it: the model, which ties loss to dispersion, comes within 0.003 dB.
@pytest.mark.derived
def test_the_model_describes_a_measured_cable(expected):
    f_mhz, real, imaginary = np.loadtxt(SEMI_RIGID).T
    f_hz, square = f_mhz * 1e6, real + 1j * imaginary
    assert f_hz.size == expected("DATA-36")[0].real

    def model(rows):
        return np.stack([Sections((ns * 1e-9,), (50.0,), k1, k2).turn(f_hz) for ns, k1, k2 in rows])

    fit = solve(model, square, np.array([0.4, 0.001, 0.0001]), np.array([0.4, 0.01, 0.001]))
    sections = Sections((fit.values[0] * 1e-9,), (50.0,), fit.values[1], fit.values[2])
    assert fit.rms < 1e-3
    slope_s = -np.polyfit(2 * np.pi * f_hz, np.unwrap(np.angle(sections.turn(f_hz))), 1)[0] / 2
    delay_ns, tolerance = expected("DATA-37")
    assert slope_s * 1e9 == pytest.approx(delay_ns.real, abs=2 * tolerance)
    for row_id, at_hz in (("DATA-38", 100e6), ("DATA-39", 200e6)):
        assert sections.loss_db(np.array([at_hz]))[0] == pytest.approx(expected(row_id)[0].real, abs=0.003)
