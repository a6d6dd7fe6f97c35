"""Ensembles of chains: tolerances, order, and what is refused."""

import numpy as np
import pytest

from sweepkit.errors import BadInput
from sweepkit.feedline.chain import LineChain, draw_chain
from sweepkit.feedline.plane import piece_propagation
from sweepkit.lines import LinePiece, catalogued_piece, parse_piece


def test_the_nominal_chain_comes_first():
    chain = LineChain([parse_piece("RG-58 15 m"), parse_piece("RG-8X 7.5 m")])
    draws = draw_chain(chain, np.random.default_rng(0), 10)
    assert draws.size == 11
    np.testing.assert_array_equal(draws.length_m[0], [15.0, 7.5])
    np.testing.assert_array_equal(draws.velocity_factor[0], [0.66, 0.82])
    np.testing.assert_array_equal(draws.loss_factor[0], [1.0, 1.0])
    assert draw_chain(chain, np.random.default_rng(0), 0).size == 1
    assert chain.length_m == 22.5


def test_draws_spread_as_told():
    piece = catalogued_piece("RG-58", 15.0, length_sigma_m=0.2, velocity_factor_sigma=0.01, loss_sigma=0.1)
    draws = draw_chain(LineChain([piece]), np.random.default_rng(0), 20_000)
    assert draws.length_m[1:].std() == pytest.approx(0.2, rel=0.03)
    assert draws.z0_ohm[1:].std() == pytest.approx(0.7, rel=0.03)  # 1.4 % of 50 ohm, MIL-DTL-17
    assert draws.velocity_factor[1:].std() == pytest.approx(0.0066, rel=0.03)
    assert draws.loss_factor[1:].std() == pytest.approx(0.1, rel=0.05)
    assert np.median(draws.loss_factor[1:]) == pytest.approx(1.0, abs=0.005)


def test_wide_tolerances_never_give_an_impossible_line():
    piece = LinePiece(
        "guess", 50.0, 0.66, 1.4, 0.01, 0.2, length_sigma_m=1.0, velocity_factor_sigma=0.5, loss_sigma=2.0
    )
    draws = draw_chain(LineChain([piece]), np.random.default_rng(0), 5000)
    assert (draws.length_m >= 0).all()
    assert (draws.velocity_factor > 0).all()
    assert (draws.loss_factor > 0).all()


def test_the_same_seed_gives_the_same_chains():
    chain = LineChain([parse_piece("RG-58 15 m")])
    first, second = (draw_chain(chain, np.random.default_rng(7), 5) for _ in range(2))
    np.testing.assert_array_equal(first.length_m, second.length_m)


def test_draws_cannot_be_changed():
    draws = draw_chain(LineChain([parse_piece("RG-58 15 m")]), np.random.default_rng(7), 5)
    with pytest.raises(ValueError, match="read-only"):
        draws.length_m[0] = 3.0


def test_a_velocity_factor_measured_in_place_is_turned_into_the_limit():
    piece = catalogued_piece("RG-58", 15.0, velocity_factor=0.648, velocity_factor_at_hz=7e6)
    assert LineChain([piece]).nominal.velocity_factor[0, 0] == pytest.approx(0.660, abs=0.0005)


# Internal inductance raises the impedance: against the limit by about 0.9 ohm at 10 MHz in RG-58.
def test_an_impedance_holds_at_the_frequency_it_was_published_for():
    piece = catalogued_piece("RG-58", 15.0, z0_ohm=50.0, z0_at_hz=10e6)
    nominal = LineChain([piece]).nominal
    assert 48.9 < nominal.z0_ohm[0, 0] < 49.3
    _, zc_ohm = piece_propagation(np.array([10e6]), nominal, 0)
    assert zc_ohm[0, 0].real == pytest.approx(50.0, abs=1e-9)
    as_limit = LineChain([catalogued_piece("RG-58", 15.0, z0_at_hz=None)]).nominal
    assert as_limit.z0_ohm[0, 0] == 50.0


def test_joints_are_drawn_and_the_told_chain_has_none():
    chain = LineChain([parse_piece("RG-58 15 m"), parse_piece("RG-8X 7.5 m")])
    draws = draw_chain(chain, np.random.default_rng(0), 4000)
    assert draws.joint_ohm.shape == (4001, 3)
    assert not draws.joint_ohm[0].any()
    assert 0.02 <= draws.joint_ohm[1:].min() < draws.joint_ohm[1:].max() <= 1.0
    assert np.median(draws.joint_ohm[1:]) == pytest.approx(np.sqrt(0.02), rel=0.05)
    assert not draw_chain(LineChain(), np.random.default_rng(0), 3).joint_ohm.any()


def test_a_velocity_factor_that_would_pass_light_is_refused():
    piece = LinePiece("odd", 50.0, 1.0, 5.0, 0.0, 15.0, velocity_factor_at_hz=1.8e6)
    with pytest.raises(BadInput, match=r"line 'odd': velocity factor 1 measured at 1.8 MHz means 1.246"):
        LineChain([piece])


def test_pieces_outside_their_fit_are_named():
    chain = LineChain([parse_piece("RG-58 15 m"), parse_piece("6.1 mm foam coax 5 m")])
    assert chain.outside_fit(1e6, 30e6) == ("RG-58 15 m",)
    assert chain.outside_fit(10e6, 30e6) == ()
    assert chain.outside_fit(14e6, 8e9) == ("RG-58 15 m", "6.1 mm foam coax 5 m")
