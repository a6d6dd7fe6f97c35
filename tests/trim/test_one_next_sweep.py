"""Review and trim ask for one sweep, not for two."""

from __future__ import annotations

from pathlib import Path

import pytest

from sweepkit.antennas.catalogue import kind_named
from sweepkit.readers import read_sweep
from sweepkit.trim.from_sweep import plan_trim

SAMPLES = Path(__file__).resolve().parents[2] / "sample_sweeps"


def planned(target_hz):
    sweep = read_sweep(SAMPLES / "spit_whip_40m_coarse.s1p")
    return plan_trim(sweep, kind=kind_named("loaded-whip"), length_m=2.6, target_hz=target_hz, draws=50)


def test_trim_asks_for_the_sweep_that_the_review_asks_for():
    answer = planned(7.1e6)
    assert answer.plan.action == "cannot_say"
    assert answer.plan.next_sweeps == answer.review.next_sweeps
    assert len(answer.review.next_sweeps) == 1


@pytest.mark.parametrize("target_hz", [7.6e6, 6.5e6])
def test_a_target_that_the_reviews_sweep_does_not_show_has_one_of_its_own(target_hz):
    answer = planned(target_hz)
    (take,) = answer.plan.next_sweeps
    assert take.start_hz < target_hz < take.stop_hz
    assert (take,) != answer.review.next_sweeps
