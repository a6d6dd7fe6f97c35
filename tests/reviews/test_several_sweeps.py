"""Repeats, setups and check sweeps: one answer of several sweeps, and what the analyzer's own standards say."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import binom

from sweepkit.errors import BadInput
from sweepkit.kit import Analyzer, Kit
from sweepkit.reviews import CheckSweeps, review, review_repeats, review_setup
from sweepkit.sweep import Sweep
from tests.coverage.antennas import find_truths, table

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


def test_repeats_carry_their_spread_into_the_interval():
    """Intervals of repeats that differ by more than noise hold the true dip in 95 % (binomial, 1 in 10 000)."""
    truth_hz = find_truths(CASE, ())[0].f_hz
    kit, inside, n = Kit(analyzer=Analyzer(directivity_db=60)), 0, 80
    for trial in range(n):
        dice = np.random.default_rng([21, trial])
        repeats = [sweep(dice, points=101, shift=0.01) for _ in range(4)]
        dip = review_repeats(repeats, kit=kit, measured_at="feedpoint", bands=(), draws=300).feedpoint.dips[0]
        inside += dip.f_hz.low <= truth_hz <= dip.f_hz.high
    assert inside / n >= binom.ppf(1e-4, n, 0.95) / n
    alone = review(repeats[0], kit=kit, measured_at="feedpoint", bands=()).feedpoint.dips[0]
    assert dip.f_hz.high - dip.f_hz.low > alone.f_hz.high - alone.f_hz.low


def test_repeats_say_how_well_they_repeat():
    dice = np.random.default_rng(22)
    answer = review_repeats([sweep(dice, shift=0.01) for _ in range(6)], measured_at="feedpoint")
    document = answer.to_json()
    assert document["repeatability"]["repeats"] == 6
    assert 500 < document["repeatability"]["dip_hz_sd"] < 20_000
    assert len(document["files"]) == 6
    assert "loose-joint" in {finding.code for finding in answer.findings}
    quiet = review_repeats([sweep(dice) for _ in range(4)], measured_at="feedpoint")
    assert "loose-joint" not in {finding.code for finding in quiet.findings}


def test_sweeps_that_are_no_repeats_are_refused():
    dice = np.random.default_rng(23)
    first = sweep(dice)
    with pytest.raises(BadInput, match="2 sweeps are too few for --repeats"):
        review_repeats([first, first])
    with pytest.raises(BadInput, match=r"101 points from 6\.6 to 7\.6 MHz, the first repeat has 201"):
        review_repeats([first, first, sweep(dice, points=101)])
    with pytest.raises(BadInput, match="repeats need phase"):
        review_repeats([first, first, Sweep.from_magnitude(first.f_hz, first.gamma_abs)])


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
    good, cut = sweep(dice), sweep(dice, span_hz=(7.3e6, 8.0e6))
    answer = review_setup([good, cut], measured_at="feedpoint")
    assert not answer.adequate
    assert answer.next_sweeps
    assert review_setup([good], measured_at="feedpoint").adequate


def check(value, off, *, points=101):
    f_hz = np.linspace(1e6, 30e6, points)
    return Sweep.from_gamma(f_hz, np.full(points, value + off, dtype=complex))


def test_a_poor_load_widens_the_interval_and_is_said():
    one = sweep(np.random.default_rng(26))
    plain = review(one).radio.dips[0].swr
    checked = review(one, checks=CheckSweeps(load=check(0, 0.04j)))
    swr = checked.radio.dips[0].swr
    assert swr.high - swr.low > 3 * (plain.high - plain.low)
    (finding,) = [finding for finding in checked.findings if finding.code == "poor-calibration"]
    assert "28 dB return loss, 30 wanted" in finding.text


def test_a_good_load_narrows_the_interval_but_not_without_end():
    one = sweep(np.random.default_rng(27))
    plain, good, perfect = (
        review(one, checks=checks).radio.dips[0].swr
        for checks in (None, CheckSweeps(load=check(0, 0.006)), CheckSweeps(load=check(0, 0.0)))
    )
    assert good.high - good.low < plain.high - plain.low
    assert perfect.high - perfect.low > 0.3 * (
        plain.high - plain.low
    )  # the check load is no better than 46 dB


def test_open_and_short_off_their_marks_are_said():
    one = sweep(np.random.default_rng(28))
    checks = CheckSweeps(load=check(0, 0.01), open=check(1, -0.08), short=check(-1, 0.02))
    (finding,) = [
        finding for finding in review(one, checks=checks).findings if finding.code == "poor-calibration"
    ]
    assert "the open is 0.08 away from +1" in finding.text
    assert "short" not in finding.text.split(";")[0]


def test_a_check_sweep_elsewhere_is_refused():
    one = sweep(np.random.default_rng(29))
    far = Sweep.from_gamma([100e6, 200e6], [0.01, 0.01])
    with pytest.raises(BadInput, match="check sweep of the load runs from 100 to 200 MHz"):
        review(one, checks=CheckSweeps(load=far))
    with pytest.raises(BadInput, match="check sweep of the open has no phase"):
        CheckSweeps(open=Sweep.from_magnitude([1e6, 2e6], [1.0, 1.0]))
