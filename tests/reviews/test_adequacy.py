"""Was the sweep good enough: dense sweeps made worse step by step, and the next sweep that mends them."""

from __future__ import annotations

import numpy as np
import pytest

from sweepkit.readers import read_sweep
from sweepkit.reviews import review
from sweepkit.sweep import Sweep
from tests.coverage.antennas import find_truths, series, table


def swept(case, low_hz, high_hz, points, *, noise=0.001, seed=1):
    dice = np.random.default_rng(seed)
    f_hz = np.linspace(low_hz, high_hz, points)
    z_ohm = case.z_ohm(f_hz)
    gamma = (z_ohm - 50) / (z_ohm + 50)
    gamma = gamma + noise / np.sqrt(2) * (dice.standard_normal(points) + 1j * dice.standard_normal(points))
    return review(Sweep.from_gamma(f_hz, gamma), measured_at="feedpoint", draws=0)


def codes(answer):
    return {finding.code for finding in answer.findings}


@pytest.mark.parametrize("name", ["whip_40m", "whip_80m", "dipole_40m", "vee_80m"])
def test_a_sweep_with_ever_fewer_points_is_right_or_says_so(name):
    case = table(name)
    truth_hz = find_truths(case, ())[0].f_hz
    span_hz = case.high_hz - case.low_hz
    said_so = 0
    for points in (301, 101, 61, 41, 31, 25, 21, 17, 15, 13, 11, 9, 7):
        answer = swept(case, case.low_hz, case.high_hz, points)
        if not answer.adequate:
            said_so += 1
            assert answer.next_sweeps
            continue
        dip = answer.feedpoint.dips[0]
        assert abs(dip.f_hz.value - truth_hz) < 0.01 * span_hz, points
    assert said_so, "seven points over the whole range are not enough for any of these"


@pytest.mark.parametrize("name", ["whip_40m", "whip_80m"])
def test_the_next_sweep_mends_a_coarse_one(name):
    case = table(name)
    truth_hz = find_truths(case, ())[0].f_hz
    coarse = swept(case, case.low_hz, case.high_hz, 9)
    assert "too-coarse" in codes(coarse)
    wanted = coarse.next_sweeps[0]
    low_hz, high_hz = max(wanted.start_hz, case.low_hz), min(wanted.stop_hz, case.high_hz)
    again = swept(case, low_hz, high_hz, wanted.points)
    assert "too-coarse" not in codes(again)
    assert again.feedpoint.dips[0].f_hz.value == pytest.approx(truth_hz, rel=1e-3)


@pytest.mark.parametrize("share", [(0.0, 0.45), (0.55, 1.0)])
@pytest.mark.parametrize("name", ["dipole_40m", "vee_80m", "whip_40m"])
def test_a_dip_beyond_the_end_is_no_dip_and_the_next_sweep_finds_it(name, share):
    case = table(name)
    truth_hz = find_truths(case, ())[0].f_hz
    low_hz, high_hz = case.low_hz, case.high_hz
    if share[0] == 0.0:
        high_hz = truth_hz - 0.15 * (truth_hz - low_hz)
    else:
        low_hz = truth_hz + 0.15 * (high_hz - truth_hz)
    cut = swept(case, low_hz, high_hz, 101)
    assert cut.feedpoint.dips == ()
    assert "dip-at-edge" in codes(cut)
    assert not cut.adequate
    wanted = cut.next_sweeps[0]
    assert wanted.start_hz < truth_hz < wanted.stop_hz


def test_a_bandwidth_cut_off_by_the_span_is_said():
    case = table("dipole_40m")
    inside = swept(case, 6.95e6, 7.15e6, 101)  # ends inside the 40 m band
    assert "span-too-narrow" in codes(inside)
    assert not inside.adequate
    wanted = inside.next_sweeps[0]
    again = swept(case, wanted.start_hz, wanted.stop_hz, wanted.points)
    assert again.adequate
    assert next(w for w in again.feedpoint.swr_bandwidths if w.limit_swr == 2.0).bandwidth_hz.value


def test_a_band_swept_whole_is_answered_even_where_the_bandwidth_is_not():
    answer = swept(table("dipole_40m"), 7.0e6, 7.2e6, 101)
    assert answer.adequate
    assert {finding.code: finding.level for finding in answer.findings}["span-too-narrow"] == "note"
    assert answer.bands[0].verdict == "direct"


def test_a_whip_is_not_found_between_the_points_of_a_wide_sweep():
    # 101 points over 1 to 30 MHz are 290 kHz apart; a loaded whip's dip on 40 m is 12 to 250 kHz wide (modelled).
    whip = table("whip_40m")
    far = series(30.0, 60.0, 7.105e6)  # the same dip, with an impedance at every frequency
    f_hz = np.linspace(1e6, 30e6, 101)
    z_ohm = far(f_hz)
    answer = review(Sweep.from_gamma(f_hz, (z_ohm - 50) / (z_ohm + 50)), draws=0)
    assert "too-coarse" in codes(answer)
    assert not answer.adequate
    band = next(band for band in answer.bands if band.name == "40 m")
    assert band.verdict == "unknown"
    assert whip.low_hz < 7.105e6 < whip.high_hz


def test_no_dip_and_wide_steps_are_no_proof_that_there_is_none():
    f_hz = np.linspace(6e6, 8e6, 21)
    answer = review(Sweep.from_gamma(f_hz, np.full(21, 0.97 + 0.01j)), draws=0)
    assert "too-coarse" in codes(answer)
    assert answer.bands[0].verdict == "unknown"
    fine = review(Sweep.from_gamma(np.linspace(7e6, 7.3e6, 201), np.full(201, 0.97 + 0.01j)), draws=0)
    assert fine.adequate
    assert fine.bands[0].verdict == "no"


def test_next_sweeps_use_the_points_that_the_analyzer_offers():
    from sweepkit.kit import Analyzer, Kit

    case = table("whip_80m")
    f_hz = np.linspace(case.low_hz, case.high_hz, 9)
    z_ohm = case.z_ohm(f_hz)
    kit = Kit(analyzer=Analyzer(points=(51, 301)))
    answer = review(Sweep.from_gamma(f_hz, (z_ohm - 50) / (z_ohm + 50)), kit=kit, draws=0)
    assert answer.next_sweeps
    assert {sweep.points for sweep in answer.next_sweeps} <= {51, 301}
    for sweep in answer.next_sweeps:
        assert sweep.start_hz % 1000 == 0
        assert sweep.stop_hz % 1000 == 0


def test_of_bands_that_points_jump_over_the_one_where_least_comes_back_is_swept_first(tmp_path):
    table = tmp_path / "five.csv"
    table.write_text("freq (MHz),SWR\n5,9.0\n6,7.2\n7,3.1\n8,6.5\n9,9.1\n")
    answer = review(read_sweep(table), draws=0)
    (following,) = answer.next_sweeps
    assert following.start_hz < 7.0e6 < 7.2e6 < following.stop_hz
