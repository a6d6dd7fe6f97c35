"""Setups: one answer from several sweeps, each band and dip from the sweep that shows it best."""

from __future__ import annotations

import numpy as np
import pytest

from sweepkit.errors import BadInput
from sweepkit.reviews import review, review_setup
from sweepkit.sweep import Sweep
from tests.coverage.antennas import series, side_by_side, table

CASE = table("dipole_40m")
BAND_HZ = (6.6e6, 7.6e6)


def reflection(f_hz):
    z_ohm = CASE.z_ohm(f_hz)
    return (z_ohm - 50) / (z_ohm + 50)


def sweep(dice, *, span_hz=BAND_HZ, points=201, noise=0.002, shift=0.0):
    f_hz = np.linspace(*span_hz, points)
    scatter = noise / np.sqrt(2) * (dice.standard_normal(points) + 1j * dice.standard_normal(points))
    moved = shift * (dice.standard_normal() + 1j * dice.standard_normal())
    return Sweep.from_gamma(f_hz, reflection(f_hz) + scatter + moved)


def test_a_setup_takes_each_band_from_its_own_sweep():
    dice = np.random.default_rng(24)
    coarse = sweep(dice, span_hz=(6.1e6, 8.3e6), points=41)
    fine = sweep(dice, span_hz=(6.8e6, 7.4e6), points=201)
    answer = review_setup([coarse, fine], measured_at="feedpoint")
    assert len(answer.feedpoint.dips) == 1, "one antenna has one dip, however often it was swept"
    assert [width.dip for width in answer.feedpoint.swr_bandwidths] == [0, 0, 0]
    alone = review(fine, measured_at="feedpoint")
    assert answer.feedpoint.dips[0] == alone.feedpoint.dips[0]
    assert [band.name for band in answer.bands] == ["40 m"]
    assert len(answer.to_json()["files"]) == 2


def test_a_setup_is_good_enough_only_where_every_sweep_is():
    dice = np.random.default_rng(25)
    cut, elsewhere = sweep(dice, span_hz=(7.3e6, 8.0e6)), sweep(dice, span_hz=(6.1e6, 6.7e6))
    answer = review_setup([cut, elsewhere], measured_at="feedpoint")
    assert not answer.adequate
    assert answer.next_sweeps
    assert review_setup([sweep(dice)], measured_at="feedpoint").adequate


def test_a_sweep_that_was_taken_already_is_not_asked_for_again():
    dice = np.random.default_rng(33)
    cut, good = sweep(dice, span_hz=(7.3e6, 8.0e6)), sweep(dice)
    alone = review(cut, measured_at="feedpoint")
    assert not alone.adequate
    answer = review_setup([cut, good], measured_at="feedpoint")
    assert answer.adequate
    assert answer.next_sweeps == ()
    assert "dip-at-edge" in {finding.code for finding in alone.findings}
    assert "dip-at-edge" not in {finding.code for finding in answer.findings}
    assert [file["adequate"] for file in answer.to_json()["files"]] == [False, True]


def test_two_dips_of_one_sweep_stay_two():
    dice = np.random.default_rng(34)
    f_hz = np.linspace(3.55e6, 3.75e6, 801)
    z_ohm = side_by_side(series(45.0, 900.0, 3.640e6), series(45.0, 900.0, 3.655e6))(f_hz)
    noise = 0.001 * (dice.standard_normal(801) + 1j * dice.standard_normal(801))
    close = Sweep.from_gamma(f_hz, (z_ohm - 50) / (z_ohm + 50) + noise)
    assert len(review(close, measured_at="feedpoint").feedpoint.dips) == 2
    assert len(review_setup([close, sweep(dice)], measured_at="feedpoint").feedpoint.dips) == 3


@pytest.mark.parametrize("trial", range(12))
def test_a_coarse_look_adds_no_second_dip(trial):
    dice = np.random.default_rng([35, trial])
    points, low_hz = int(dice.integers(21, 61)), float(dice.uniform(6.0e6, 6.5e6))
    coarse = sweep(dice, span_hz=(low_hz, 8.3e6), points=points, noise=0.005)
    answer = review_setup([coarse, sweep(dice)], measured_at="feedpoint")
    assert len(answer.feedpoint.dips) == 1


def test_a_setup_with_and_without_phase_is_refused():
    dice = np.random.default_rng(36)
    first = sweep(dice)
    bare = Sweep.from_magnitude(first.f_hz, first.gamma_abs)
    with pytest.raises(BadInput, match="phase of this sweep is none, that of the setup's first signed"):
        review_setup([first, bare])
    with pytest.raises(BadInput, match="a setup has at least one sweep"):
        review_setup([])
