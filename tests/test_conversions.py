"""Conversions at their limits, and as each other's inverse."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sweepkit.conversions import (
    gamma_abs_from_return_loss_db,
    gamma_abs_from_swr,
    gamma_from_z,
    mismatch_loss_db_from_gamma_abs,
    renormalise_gamma,
    return_loss_db_from_gamma_abs,
    swr_from_gamma_abs,
    z_from_gamma,
)

pytestmark = pytest.mark.identity


def test_short_open_and_match():
    np.testing.assert_array_equal(gamma_from_z([0.0, 50.0, np.inf], 50.0), [-1, 0, 1])
    z_ohm = z_from_gamma([-1.0, 0.0, 1.0], 50.0)
    np.testing.assert_array_equal(z_ohm[:2], [0, 50])
    assert np.isinf(z_ohm[2].real)
    assert gamma_from_z(50 + 50j, 50.0) == pytest.approx(0.2 + 0.4j, abs=1e-12)
    assert gamma_from_z(50j, 50.0) == pytest.approx(1j, abs=1e-12)


def test_a_reflection_of_one_or_more_has_no_finite_swr_and_never_a_negative_one():
    swr = swr_from_gamma_abs([0.0, 1.0, 1.05, np.nan])
    assert swr[0] == 1.0
    assert np.isposinf(swr[1:3]).all()
    assert np.isnan(swr[3])
    np.testing.assert_array_equal(gamma_abs_from_swr([1.0, np.inf]), [0.0, 1.0])
    assert np.isposinf(return_loss_db_from_gamma_abs(0.0))
    assert np.isposinf(mismatch_loss_db_from_gamma_abs(1.0))


@given(st.floats(0, 0.999))
def test_magnitude_swr_and_return_loss_lead_back(gamma_abs):
    assert gamma_abs_from_swr(swr_from_gamma_abs(gamma_abs)) == pytest.approx(gamma_abs, abs=1e-12)
    if gamma_abs > 1e-12:
        there = return_loss_db_from_gamma_abs(gamma_abs)
        assert gamma_abs_from_return_loss_db(there) == pytest.approx(gamma_abs, rel=1e-12)


@given(st.floats(0.01, 1e4), st.floats(-1e4, 1e4), st.floats(5, 500))
def test_impedance_leads_back(r_ohm, x_ohm, reference_ohm):
    z_ohm = complex(r_ohm, x_ohm)
    back = z_from_gamma(gamma_from_z(z_ohm, reference_ohm), reference_ohm)
    assert complex(back) == pytest.approx(z_ohm, rel=1e-7, abs=1e-7)


@given(st.floats(5, 500), st.floats(5, 500), st.complex_numbers(max_magnitude=0.95))
def test_reference_there_and_back(one_ohm, other_ohm, gamma):
    back = renormalise_gamma(renormalise_gamma(gamma, one_ohm, other_ohm), other_ohm, one_ohm)
    assert complex(back) == pytest.approx(gamma, abs=1e-9)


def test_shapes_are_kept():
    square = np.full((3, 2), 0.3)
    for convert in (swr_from_gamma_abs, return_loss_db_from_gamma_abs, mismatch_loss_db_from_gamma_abs):
        assert convert(square).shape == (3, 2)
        assert np.shape(convert(0.3)) == ()
