"""Check sweeps of a load, an open and a short: what they say of the analyzer, and what the draws make of it."""

from __future__ import annotations

import numpy as np
import pytest

from sweepkit.errors import BadInput
from sweepkit.kit import Analyzer
from sweepkit.reviews import CheckSweeps, review
from sweepkit.sweep import Sweep
from tests.coverage.antennas import table

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


def seen(gamma, directivity, tracking, source_match):
    """A reflection as an analyzer with these residual errors shows it (EURAMET cg-12 v3.0, 2018)."""
    return directivity + gamma * (1 + tracking) / (1 - source_match * gamma)


def test_the_sizes_of_all_three_errors_are_measured():
    """First order: what is left is of the size of a product of two errors."""
    f_hz = np.linspace(1e6, 30e6, 101)
    for trial in range(20):
        dice = np.random.default_rng([37, trial])
        errors = dice.uniform(0.008, 0.04, 3) * np.exp(2j * np.pi * dice.random(3))
        load, open_end, short = (
            Sweep.from_gamma(f_hz, np.full(101, seen(gamma, *errors))) for gamma in (0.0, 1.0, -1.0)
        )
        checks = CheckSweeps(load=load, open=open_end, short=short)
        analyzer, _ = checks.judged_over(6e6, 8e6, Analyzer())
        directivity, tracking, source_match = np.abs(errors)
        assert 10 ** (-analyzer.directivity_db / 20) == pytest.approx(directivity, rel=1e-9)
        assert analyzer.tracking == pytest.approx(tracking, abs=0.003)
        assert 10 ** (-analyzer.source_match_db / 20) == pytest.approx(source_match, abs=0.003)


def test_check_sweeps_need_no_common_points():
    grids = (np.linspace(1e6, 30e6, 101), np.linspace(2e6, 28e6, 57), np.linspace(1e6, 40e6, 201))
    turn = 1e-9  # a common piece of line: the standards turn by up to 20 degrees over the range
    load, open_end, short = (
        Sweep.from_gamma(f_hz, (gamma + 0.01) * np.exp(-2j * np.pi * f_hz * turn))
        for f_hz, gamma in zip(grids, (0.0, 1.0, -1.0), strict=True)
    )
    checks = CheckSweeps(load=load, open=open_end, short=short)
    analyzer, _ = checks.judged_over(3e6, 27e6, Analyzer())
    largest = 2 * np.pi * 27e6 * turn
    assert analyzer.tracking == pytest.approx(largest, rel=0.1)
    assert 10 ** (-analyzer.source_match_db / 20) < 0.01


def test_check_files_named_the_wrong_way_round_are_refused():
    one = sweep(np.random.default_rng(38))
    with pytest.raises(BadInput, match=r"check sweep of the open reads -1.00.*named the wrong way round"):
        review(one, checks=CheckSweeps(open=check(-1, 0.0)))
    with pytest.raises(BadInput, match=r"check sweep of the load reads 1.00"):
        review(one, checks=CheckSweeps(load=check(1, 0.0)))
