"""Repeats: one answer from the same thing swept again, with the spread that was measured."""

from __future__ import annotations

import numpy as np
import pytest

from sweepkit.errors import BadInput
from sweepkit.kit import Analyzer, Kit
from sweepkit.reviews import review, review_repeats
from sweepkit.sweep import Source, Sweep
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


@pytest.mark.parametrize("n", [16, pytest.param(80, marks=pytest.mark.slow)])
def test_repeats_carry_their_spread_into_the_interval(n):
    """Intervals of repeats that differ by more than noise hold the true dip in 95 % (binomial, 1 in 10 000)."""
    from scipy.stats import binom

    truth_hz = find_truths(CASE, ())[0].f_hz
    kit, inside = Kit(analyzer=Analyzer(directivity_db=60)), 0
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


@pytest.mark.parametrize("n", [12, pytest.param(60, marks=pytest.mark.slow)])
def test_two_repeats_hold_the_truth_and_say_less(n):
    """Student's t of one degree of freedom: wide, and right (binomial, 1 in 10 000)."""
    from scipy.stats import binom

    truth_hz = find_truths(CASE, ())[0].f_hz
    kit, inside, widths = Kit(analyzer=Analyzer(directivity_db=60)), 0, {2: [], 5: []}
    for trial in range(n):
        dice = np.random.default_rng([31, trial])
        repeats = [sweep(dice, points=101, shift=0.01) for _ in range(5)]
        for count in (2, 5):
            answer = review_repeats(repeats[:count], kit=kit, measured_at="feedpoint", bands=(), draws=300)
            f_hz = answer.feedpoint.dips[0].f_hz
            widths[count].append(f_hz.high - f_hz.low)
            inside += count == 2 and f_hz.low <= truth_hz <= f_hz.high
    assert inside / n >= binom.ppf(1e-4, n, 0.95) / n
    assert np.median(widths[2]) > 2 * np.median(widths[5])


@pytest.mark.parametrize("n", [5, pytest.param(20, marks=pytest.mark.slow)])
def test_a_burst_in_one_repeat_does_not_spoil_the_answer(n):
    missed = 0
    for trial in range(n):
        dice = np.random.default_rng([32, trial])
        repeats = [sweep(dice) for _ in range(4)]
        clean = review_repeats(repeats, measured_at="feedpoint", bands=()).feedpoint.dips[0].f_hz
        gamma = repeats[0].gamma.copy()
        start = int(np.argmin(np.abs(gamma))) - 6
        gamma[start : start + 12] += 0.3 * np.exp(2j * np.pi * dice.random(12))
        hit = [Sweep.from_gamma(repeats[0].f_hz, gamma), *repeats[1:]]
        found = review_repeats(hit, measured_at="feedpoint", bands=()).feedpoint.dips[0].f_hz
        missed += not clean.low <= found.value <= clean.high
    assert missed <= n / 10


def test_sweeps_that_are_no_repeats_are_refused():
    dice = np.random.default_rng(23)
    first = sweep(dice)
    with pytest.raises(BadInput, match="--repeats got 1 sweep; expected 2 or more"):
        review_repeats([first])
    with pytest.raises(BadInput, match=r"101 points from 6\.6 to 7\.6 MHz, the first repeat has 201"):
        review_repeats([first, first, sweep(dice, points=101)])
    with pytest.raises(BadInput, match="repeats need phase"):
        review_repeats([first, first, Sweep.from_magnitude(first.f_hz, first.gamma_abs)])


def test_repeats_of_another_length_are_named_and_never_averaged():
    f_hz = np.linspace(6.6e6, 7.6e6, 201)
    dice = np.random.default_rng(5)

    def swept(f0_hz, path):
        z_ohm = 45 * (1 + 12j * (f_hz / f0_hz - f0_hz / f_hz))
        scatter = 0.0007 * (dice.standard_normal(201) + 1j * dice.standard_normal(201))
        return Sweep.from_gamma(f_hz, (z_ohm - 50) / (z_ohm + 50) + scatter, source=Source(path=path))

    long, *same = swept(6.95e6, "long.s1p"), *(swept(7.10e6, f"{k}.s1p") for k in range(3))
    answer = review_repeats([long, *same], measured_at="feedpoint", bands=(), draws=100)
    (odd,) = [finding for finding in answer.findings if finding.code == "disagreeing-sweeps"]
    assert "long.s1p is left out" in odd.text
    assert answer.repeatability.repeats == 3
    assert answer.feedpoint.dips[0].f_hz.value == pytest.approx(7.10e6, rel=5e-4)
    alone = review_repeats([long, same[0]], measured_at="feedpoint", bands=(), draws=100)
    assert alone.repeatability is None
    assert alone.feedpoint.dips[0].f_hz.value == pytest.approx(7.10e6, rel=5e-4)
    agreeing = review_repeats(same, measured_at="feedpoint", bands=(), draws=100)
    assert "disagreeing-sweeps" not in {finding.code for finding in agreeing.findings}
