"""The dip slid: each place is judged as the review judges a sweep of the antenna that dips there."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from sweepkit.feedline.chain import LineChain, draw_chain
from sweepkit.feedline.plane import add_chain
from sweepkit.kit import Kit
from sweepkit.lines import parse_piece
from sweepkit.readers import read_sweep
from sweepkit.reviews import review, review_setup
from sweepkit.reviews.slides import FARTHEST, slide_dip
from sweepkit.sweep import Sweep

SAMPLES = Path(__file__).resolve().parents[2] / "sample_sweeps"
F_HZ = np.linspace(6.0e6, 8.2e6, 221)


def antenna(f_hz, dip_hz):
    """A dipole's series resonance of Q 12 beside 65 ohm."""
    z_ohm = 65 * (1 + 12j * (f_hz / dip_hz - dip_hz / f_hz))
    return (z_ohm - 50) / (z_ohm + 50)


def swept(gamma, f_hz=F_HZ):
    dice = np.random.default_rng(4)
    noise = 0.002 * (dice.standard_normal(f_hz.size) + 1j * dice.standard_normal(f_hz.size)) / np.sqrt(2)
    return Sweep(f_hz=f_hz, gamma=gamma + noise, gamma_abs=np.abs(gamma + noise))


def through(line, f_hz, gamma):
    chain = LineChain([parse_piece(line)])
    return add_chain(f_hz, gamma, draw_chain(chain, np.random.default_rng(0), 0), reference_ohm=50.0)[0]


@pytest.mark.identity
def test_without_a_line_a_slid_antenna_is_the_sweep_with_its_frequencies_scaled():
    sweep = swept(antenna(F_HZ, 6.8e6))
    slides = slide_dip(review(sweep, measured_at="feedpoint", draws=0), kit=Kit())
    now = slides.states[slides.now]
    assert now.dip_hz == pytest.approx(6.8e6, rel=1e-3)
    for state in slides.states[1::6]:
        scaled = Sweep(f_hz=F_HZ * state.dip_hz / now.dip_hz, gamma=sweep.gamma, gamma_abs=sweep.gamma_abs)
        again = review(scaled, measured_at="feedpoint", draws=0)
        band = next(band for band in again.bands if band.name == "40 m")
        assert state.band.verdict == band.verdict
        assert state.band.share_within_limit.value == pytest.approx(band.share_within_limit.value, abs=0.005)
        assert state.band.best_swr.value == pytest.approx(band.best_swr.value, rel=0.005)
        inside = (slides.f_hz > scaled.f_hz[0]) & (slides.f_hz < scaled.f_hz[-1])
        assert np.isfinite(state.swr[0]).tolist() == inside.tolist()


@pytest.mark.parametrize("line", ["RG-58 15 m", "RG-59 22 m"])
def test_behind_a_line_the_antenna_slides_and_the_line_stays(line):
    sweep = swept(through(line, F_HZ, antenna(F_HZ, 6.75e6)))
    slides = slide_dip(review(sweep, lines=[line], draws=100), kit=Kit())
    for state in slides.states[::5]:
        moved = antenna(slides.f_hz, state.dip_hz * 6.75e6 / slides.states[slides.now].dip_hz)
        size = np.abs(through(line, slides.f_hz, moved))
        truth = (1 + size) / (1 - size)
        known = np.isfinite(state.swr[0])
        assert known.any()
        assert state.swr[0][known] == pytest.approx(truth[known], rel=0.03)
        assert np.mean((state.swr[1] <= truth) & (truth <= state.swr[2]), where=known) > 0.9


def test_of_two_dips_within_reach_of_a_band_the_deepest_slides():
    deep, shallow = (50 * (1 + 40j * (F_HZ / at_hz - at_hz / F_HZ)) for at_hz in (6.75e6, 7.15e6))
    z_ohm = 1 / (1 / deep + 1 / (4 * shallow))
    sweep = Sweep.from_gamma(F_HZ, (z_ohm - 50) / (z_ohm + 50))
    answer = review(sweep, measured_at="feedpoint", draws=0)
    dips_hz = [dip.f_hz.value for dip in answer.feedpoint.dips]
    assert len(dips_hz) == 2
    assert dips_hz[0] < 6.9e6 < 7.0e6 < dips_hz[1]
    slides = slide_dip(answer, kit=Kit())
    assert slides.states[slides.now].dip_hz == pytest.approx(dips_hz[0])


def test_the_present_state_is_the_review_and_the_best_is_none_worse():
    answer = review(read_sweep(SAMPLES / "ridge_dipole_40m_long.s1p"), measured_at="feedpoint", draws=100)
    slides = slide_dip(answer, kit=Kit())
    assert slides.states[slides.now].band is next(band for band in answer.bands if band.name == "40 m")
    shares = [state.band.share_within_limit.low for state in slides.states]
    assert slides.states[slides.best].band.share_within_limit.low == pytest.approx(max(shares), abs=0.005)
    places = np.array([state.dip_hz for state in slides.states])
    assert (np.diff(places) > 0).all()
    assert np.abs(places / places[slides.now] - 1).max() <= 1.05 * FARTHEST


def test_what_is_in_doubt_or_out_of_reach_is_not_slid():
    coarse = review(read_sweep(SAMPLES / "spit_whip_40m_coarse.s1p"), draws=0)
    wrong = review(read_sweep(SAMPLES / "valley_dipole_rg58.s1p"), measured_at="feedpoint", draws=0)
    far = review(swept(antenna(F_HZ, 6.15e6)), measured_at="feedpoint", draws=0)
    parts = [read_sweep(SAMPLES / f"{name}.s1p") for name in ("ridge_dipole_40m", "meadow_vertical_3")]
    several = review_setup(parts, draws=0)
    for answer in (coarse, wrong, far, several):
        assert slide_dip(answer, kit=Kit()) is None
