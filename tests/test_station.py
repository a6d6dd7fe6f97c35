"""Whether to transmit: limits and their edges, watts, readings too good to be true, and the words."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sweepkit.conversions import gamma_abs_from_swr, swr_from_gamma_abs
from sweepkit.errors import BadInput
from sweepkit.figures import Figure
from sweepkit.kit import Radio, Tuner
from sweepkit.station.at_radio import AtRadio, Between, WhereAsked
from sweepkit.station.band import judge_band
from sweepkit.station.power import accepted_share, forward_w, leaving_w
from sweepkit.station.too_good import find_flat_outside
from sweepkit.station.tuner_loss import (
    l_network_loss_db,
    tuner_loss_db,
    tuner_loss_db_from_half_and_double_load,
)
from sweepkit.station.tuner_reach import find_margin, margin_figure

BAND_HZ = (14.0e6, 14.35e6)
BANDS_HZ = ((7.0e6, 7.3e6), (10.1e6, 10.15e6), BAND_HZ, (18.068e6, 18.168e6), (21.0e6, 21.45e6))
F_HZ = np.linspace(*BAND_HZ, 36)
FULL_POWER = Radio(power_w=100, power_at_swr=((3.0, 1.0),))
REGION = Tuner(r_ohm=(16, 150), x_ohm=(-100, 100))


def judge(swr, *, tuner=None, radio=None, f_hz=F_HZ, band_hz=BAND_HZ, limit_swr=None, too_good=None, **known):
    """The verdict on 20 m; a number stands for the same SWR everywhere."""
    if not isinstance(swr, WhereAsked) and np.ndim(swr) < 2:
        swr = np.broadcast_to(np.asarray(swr, dtype=float), f_hz.shape)
    for name in ("line_loss_db", "swr_ceiling", "z_ohm", "box_loss_db"):
        if name in known and not isinstance(known[name], Between) and np.ndim(known[name]) == 0:
            known[name] = np.full(f_hz.shape, known[name])
    return judge_band(
        AtRadio(f_hz, swr, **known),
        band_hz=band_hz,
        radio=radio or Radio(),
        tuner=tuner,
        limit_swr=limit_swr,
        too_good=too_good,
    )


def valley(best, *, edge=8.0, f_hz=F_HZ):
    """SWR with one dip in the middle of the band and ``edge`` at both ends."""
    distance = np.abs(f_hz - f_hz.mean()) / (f_hz[-1] - f_hz.mean())
    return best + (edge - best) * distance**2


@pytest.mark.identity
@pytest.mark.parametrize("ceiling", [2.4, 50.0])
def test_what_is_computed_where_it_is_looked_at_gives_the_same_verdict(ceiling):
    dice = np.random.default_rng(5)
    gamma_abs = np.clip(
        gamma_abs_from_swr(valley(1.3)) + 0.03 * dice.standard_normal((40, F_HZ.size)), 0, 0.9
    )
    ends = np.stack([np.linspace(1, 0, F_HZ.size), np.linspace(0, 1, F_HZ.size)])
    loss_db, highest = 0.4 + 0.1 * dice.random((40, 2)), ceiling + dice.random((40, 2))
    whole, asked = (
        judge(swr, tuner=Tuner(), radio=FULL_POWER, line_loss_db=loss, swr_ceiling=most)
        for swr, loss, most in (
            (swr_from_gamma_abs(gamma_abs), loss_db @ ends, highest @ ends),
            (WhereAsked(gamma_abs, swr_from_gamma_abs), Between(loss_db, ends), Between(highest, ends)),
        )
    )
    assert (asked.verdict, asked.segments, asked.why) == (whole.verdict, whole.segments, whole.why)
    for name in ("line_loss_db", "power_to_antenna_w"):
        one, other = getattr(asked, name), getattr(whole, name)
        assert (one.value, one.low, one.high) == pytest.approx(
            (other.value, other.low, other.high), rel=1e-12
        )


# Truth table: SWR over the whole band, loss in the line [dB], tuner; what must come out. Limit 2, tuner to 3.
TO_3 = Tuner()
TRUTH = [
    (1.0, 0.0, TO_3, "direct"),
    (1.999, 0.0, TO_3, "direct"),
    (2.0, 0.0, TO_3, "direct"),  # direct up to here
    (2.001, 0.0, TO_3, "tuner"),
    (3.0, 0.0, TO_3, "tuner"),  # matches up to here
    (3.001, 0.0, TO_3, "no"),
    (np.inf, 0.0, TO_3, "no"),
    (np.nan, 0.0, TO_3, "unknown"),
    (2.0, 0.0, None, "direct"),
    (2.001, 0.0, None, "no"),
    (1.5, 1.0, TO_3, "direct"),
    (1.5, 3.0, TO_3, "direct"),
    (1.5, 3.001, TO_3, "no"),  # above 3 dB is never direct
    (2.5, 3.0, TO_3, "tuner"),
    (2.5, 3.001, TO_3, "no"),
    (2.5, np.nan, TO_3, "no"),  # the far end reflects everything
    (1.5, None, TO_3, "direct"),  # line not told
    (2.5, None, TO_3, "tuner"),
    (3.5, None, TO_3, "no"),
    (4.0, 0.0, Tuner(max_swr=10), "tuner"),
    (1.5, 0.0, Tuner(max_swr=1), "direct"),
]


@pytest.mark.parametrize(("swr", "loss_db", "tuner", "verdict"), TRUTH)
def test_the_truth_table_holds_at_the_limits_and_beside_them(swr, loss_db, tuner, verdict):
    judged = judge(swr, tuner=tuner, line_loss_db=loss_db) if loss_db is not None else judge(swr, tuner=tuner)
    assert judged.verdict == verdict
    assert {segment.verdict for segment in judged.segments} == {verdict}
    assert judged.covered == 1


@pytest.mark.parametrize(
    ("swr", "limit", "verdict"), [(1.5, 1.5, "direct"), (1.51, 1.5, "tuner"), (2.9, 3, "direct")]
)
def test_the_limit_is_the_radios_or_the_one_that_is_told(swr, limit, verdict):
    assert judge(swr, tuner=TO_3, limit_swr=limit).verdict == verdict
    assert judge(swr, tuner=TO_3, radio=Radio(direct_swr=limit)).verdict == verdict


# Truth table of a tuner known by its region R 16 to 150, X -100 to 100 ohm, with the impedance it sees.
@pytest.mark.parametrize(
    ("z_ohm", "phase", "verdict"),
    [
        (16 + 0j, "signed", "tuner"),
        (15.9 + 0j, "signed", "no"),
        (150 + 0j, "signed", "tuner"),
        (151 + 0j, "signed", "no"),
        (60 - 100j, "signed", "tuner"),
        (60 - 101j, "signed", "no"),
        (60 + 101j, "signed", "no"),
        (60 + 100j, "unsigned", "tuner"),
        (60 + 101j, "unsigned", "no"),
    ],
)
def test_a_region_holds_its_edges(z_ohm, phase, verdict):
    gamma_abs = abs((z_ohm - 50) / (z_ohm + 50))
    judged = judge(swr_from_gamma_abs(gamma_abs), tuner=REGION, z_ohm=z_ohm, phase=phase)
    assert judged.verdict == verdict


def test_a_lopsided_region_needs_the_sign_of_x():
    lopsided = Tuner(r_ohm=(16, 150), x_ohm=(-100, 20))
    swr = swr_from_gamma_abs(abs((60 + 80j - 50) / (60 + 80j + 50)))
    assert judge(swr, tuner=lopsided, z_ohm=60 - 80j, phase="signed").verdict == "tuner"
    assert judge(swr, tuner=lopsided, z_ohm=60 + 80j, phase="signed").verdict == "no"
    unsigned = judge(swr, tuner=lopsided, z_ohm=60 + 80j, phase="unsigned")
    assert unsigned.verdict == "unknown"
    assert (
        "without the sign of X it cannot be told whether it suits a tuner that matches R 16 to 150"
        in unsigned.why
    )


def test_without_phase_a_region_is_judged_by_every_impedance_of_that_swr():
    assert judge(2.5, tuner=REGION).verdict == "tuner"  # R 20 to 125, |X| up to 53: all inside
    assert judge(4.0, tuner=REGION).verdict == "unknown"  # R from 12.5
    assert judge(300.0, tuner=Tuner(r_ohm=(40, 60), x_ohm=(-5, 5))).verdict == "no"  # R 40 comes with |X| 770
    assert "any impedance of this SWR fits it" in judge(2.5, tuner=REGION).why
    assert "without the phase it cannot be told" in judge(4.0, tuner=REGION).why
    assert "The file has no phase, so this rests on the SWR alone." in judge(2.5, tuner=TO_3).why


@pytest.mark.identity
def test_without_phase_the_whole_circle_counts_not_a_few_impedances_on_it():
    # At SWR 3 the circle in the plane of R and X has its middle at 50 (3 + 1/3) / 2 and the radius 50 (3 - 1/3) / 2,
    # so X comes to 66.7 ohm, where the reflection turns by 36.9 degrees; at 45 degrees it is 65.1.
    assert judge(3.0, tuner=Tuner(r_ohm=(10, 160), x_ohm=(-67, 67))).verdict == "tuner"
    assert judge(3.0, tuner=Tuner(r_ohm=(10, 160), x_ohm=(-66, 66))).verdict == "unknown"
    assert judge(3.0, tuner=Tuner(r_ohm=(10, 160), x_ohm=(66, 200))).verdict == "unknown"


def test_the_margin_to_the_nearest_edge_is_printed():
    margin = find_margin(22 - 80j, REGION)
    assert (margin.ohm, margin.edge) == (6, "lowest R")
    assert (find_margin(140 + 97j, REGION).edge, find_margin(60 - 120j, REGION).ohm) == ("highest X", -20)
    inside = judge(
        swr_from_gamma_abs(abs((22 - 80j - 50) / (22 - 80j + 50))),
        tuner=REGION,
        z_ohm=22 - 80j,
        phase="signed",
    )
    assert "it sees 22 - j80 ohm, 6 ohm inside its lowest R; usable over the whole band" in inside.why
    outside = judge(swr_from_gamma_abs(110 / 130), tuner=REGION, z_ohm=10 + 0j, phase="signed")
    assert "it sees 10 + j0 ohm, 6 ohm outside its lowest R" in outside.why
    with pytest.raises(ValueError, match="has no region of R and X"):
        find_margin(50 + 0j, TO_3)


def test_a_band_is_as_good_as_its_best_part_and_segments_say_where():
    judged = judge(valley(1.2), tuner=TO_3)
    assert judged.verdict == "direct"
    assert [segment.verdict for segment in judged.segments] == ["no", "tuner", "direct", "tuner", "no"]
    # SWR is 2 where 1.2 + 6.8*d**2 is 2, with d from the middle; the straight lines between the points of the
    # grid, 10 kHz apart, cost up to 2 kHz.
    half_hz = np.sqrt(0.8 / 6.8) * 175e3
    assert judged.segments[2].low_hz == pytest.approx(14.175e6 - half_hz, abs=2e3)
    assert judged.segments[2].high_hz == pytest.approx(14.175e6 + half_hz, abs=2e3)
    assert judge(valley(2.2), tuner=TO_3).verdict == "tuner"
    assert judge(valley(3.2), tuner=TO_3).verdict == "no"


def test_a_dip_that_just_touches_the_limit_is_direct():
    f_hz = np.linspace(*BAND_HZ, 37)
    assert judge(valley(2.0, f_hz=f_hz), f_hz=f_hz, tuner=TO_3).verdict == "direct"
    assert "less than one voice channel" in judge(valley(2.0, f_hz=f_hz), f_hz=f_hz, tuner=TO_3).why


@pytest.mark.parametrize(
    ("stop_hz", "swr", "verdict", "words"),
    [
        (14.02e6, 1.2, "unknown", "Only 6 % of the band was swept; sweep 14.000 to 14.350 MHz."),
        (14.07e6, 1.2, "direct", "20 % of the band was swept; the rest has no verdict."),
        (14.07e6, 2.5, "tuner", "20 % of the band was swept; the rest has no verdict."),
        (14.3e6, 6.0, "unknown", "in the 86 % of the band that was swept, which is not usable"),
        (14.33e6, 6.0, "no", ""),
        (
            14.07e6,
            6.0,
            "unknown",
            "in the 20 % of the band that was swept, which is not usable; sweep 14.000 to 14.350",
        ),
        (14.34e6, 6.0, "no", "SWR 6.00 at 14.000 MHz at best; the limit is 2 and the tuner matches up to 3."),
    ],
)
def test_the_part_that_was_not_swept_gets_no_verdict(stop_hz, swr, verdict, words):
    judged = judge(swr, tuner=TO_3, f_hz=np.linspace(14.0e6, stop_hz, 9))
    assert judged.verdict == verdict
    assert words in judged.why
    assert (judged.segments[0].low_hz, judged.segments[-1].high_hz) == (14.0e6, stop_hz)


def test_a_single_point_in_a_band_is_no_verdict():
    judged = judge(1.1, f_hz=np.array([14.1e6]))
    assert (judged.verdict, judged.segments, judged.covered) == ("unknown", (), 0)


def test_an_swr_on_either_side_of_the_limit_is_called_a_close_call():
    rng = np.random.default_rng(5)
    draws = np.vstack([valley(1.9), valley(1.9) + rng.uniform(-0.2, 0.3, (400, 1))])
    judged = judge(draws, tuner=TO_3)
    assert judged.verdict == "direct"
    assert re.search(
        r"Close call: the best SWR is between 1\.7\d and 2\.1\d \(95 %\), on either side of the limit of 2",
        judged.why,
    )
    assert "Close call" not in judge(np.vstack([valley(1.2), valley(1.2) + 0.01, valley(1.2) - 0.01])).why
    near_reach = np.vstack([valley(2.9), valley(2.9) + rng.uniform(-0.3, 0.3, (400, 1))])
    assert "on either side of the tuner's reach of 3" in judge(near_reach, tuner=TO_3).why


# What an open line shows: |gamma| = 10**(-2*loss/20), which is SWR 1.67 behind 6 dB.
@pytest.mark.identity
def test_a_broken_line_behind_6_db_is_not_called_direct():
    ceiling = float(swr_from_gamma_abs(10 ** (-6 / 10)))
    assert ceiling == pytest.approx(1.67, abs=0.005)
    judged = judge(ceiling, tuner=TO_3, swr_ceiling=ceiling, line_loss_db=np.inf)
    assert judged.verdict == "unknown"
    assert judged.finding is not None
    assert judged.finding.code == "swr-too-good"
    assert "SWR 1.67 is what this line shows with nothing behind it (1.67)" in judged.why
    assert "radio off and disconnected" in judged.why
    assert judged.power_to_antenna_w.value is None


def test_a_good_antenna_behind_the_same_line_is_lost_power_not_a_broken_line():
    judged = judge(1.2, tuner=TO_3, swr_ceiling=1.67, line_loss_db=6.5)
    assert (judged.verdict, judged.finding) == ("no", None)
    assert "the line loses 6.5 dB (78 % of the power); above 3 dB the line comes first" in judged.why
    assert judged.power_to_antenna_w.value == pytest.approx(100 * (1 - (0.2 / 2.2) ** 2) * 10**-0.65)


def test_the_ceiling_is_believed_as_far_as_the_loss_is_known():
    rng = np.random.default_rng(3)
    loss_db = 6 + np.concatenate([[0], rng.normal(0, 1.2, 500)])[:, np.newaxis]  # 20 %, one sigma
    ceiling = np.broadcast_to(swr_from_gamma_abs(10 ** (-loss_db / 10)), (501, F_HZ.size))
    draws = np.full((501, F_HZ.size), 1.45)  # |gamma| 0.18 against 0.25 at the ceiling: 1.35 dB one way
    assert judge(draws, swr_ceiling=ceiling, line_loss_db=9.0).verdict == "unknown"
    assert judge(draws[:1], swr_ceiling=ceiling[:1], line_loss_db=9.0).verdict == "no"


def test_a_low_swr_with_a_wide_interval_is_said_to_be_unsure_not_to_be_the_ceiling():
    draws = np.full((201, F_HZ.size), 1.31)
    draws[1:12] = 17.0  # one draw in eighteen, as where two repeats differ much
    judged = judge(draws, swr_ceiling=16.38, line_loss_db=0.5)
    assert (judged.verdict, judged.finding.code) == ("unknown", "swr-too-good")
    assert "its interval (95 %) reaches what this line shows with nothing behind it (16.38)" in judged.why
    assert judged.finding.next_step.startswith("sweep again with hands off and every joint tight")
    assert "says nothing about the antenna" not in judged.why
    draws[1:12] = 1.4
    assert judge(draws, swr_ceiling=16.38, line_loss_db=0.5).verdict == "direct"


def flat(swr):
    f_hz = np.linspace(12e6, 17e6, 201)
    return find_flat_outside(f_hz, np.broadcast_to(swr, f_hz.shape), band_hz=BAND_HZ, bands_hz=BANDS_HZ)


def test_a_reading_that_is_low_far_outside_the_bands_is_not_believed():
    finding = flat(1.67)
    assert finding is not None
    assert (finding.code, finding.level) == ("swr-too-good", "warning")
    assert re.match(r"the SWR is low even far outside the bands, 1\.67 at 1\d\.\d+ MHz", finding.text)
    for swr, verdict in ((1.67, "unknown"), (2.5, "unknown"), (6.0, "no")):
        judged = judge(swr, tuner=TO_3, too_good=finding)
        assert judged.verdict == verdict
        assert (judged.finding is finding) == (verdict == "unknown")
    assert "a dummy load, a lossy line and a broken one read like this" in judge(1.67, too_good=finding).why


# An SWR of s proves a loss of at most -10*log10((s-1)/(s+1)) dB: 3 dB at SWR 3.01, and 3 dB at 14.35 MHz are
# 3*sqrt(12/14.35) = 2.743 dB at 12 MHz, where the SWR is then 3.27.
@pytest.mark.identity
def test_one_high_reading_proves_the_line():
    f_hz = np.linspace(12e6, 17e6, 201)
    swr = np.full(f_hz.shape, 1.5)
    for index, value, proves in ((-1, 3.0, False), (-1, 3.02, True), (0, 3.25, False), (0, 3.3, True)):
        changed = swr.copy()
        changed[index] = value
        found = find_flat_outside(f_hz, changed, band_hz=BAND_HZ, bands_hz=BANDS_HZ)
        assert (found is None) == proves, (index, value)


def test_a_sweep_that_stays_near_the_bands_cannot_be_called_too_good():
    f_hz = np.linspace(13.5e6, 14.8e6, 101)
    swr = np.full(f_hz.shape, 1.2)
    assert find_flat_outside(f_hz, swr, band_hz=BAND_HZ, bands_hz=BANDS_HZ) is None


# Formula: Pozar, Microwave Engineering, 4th ed., Wiley 2012, section 2.3; values derived (REF-03 to REF-33).
@pytest.mark.identity
@pytest.mark.parametrize(
    ("swr", "mismatch_db"),
    [
        (1.1, 0.0099),
        (1.2, 0.036),
        (1.5, 0.1773),
        (2, 0.5115),
        (2.5, 0.8814),
        (3, 1.2494),
        (5, 2.5527),
        (10, 4.8073),
    ],
)
def test_mismatch_costs_what_the_table_says(swr, mismatch_db):
    assert -10 * np.log10(accepted_share(swr)) == pytest.approx(mismatch_db, abs=5e-5)
    assert leaving_w(swr, Radio(power_w=100, power_at_swr=((100.0, 1.0),))) == pytest.approx(
        100 * 10 ** (-mismatch_db / 10), rel=2e-5
    )


# Same section (REF-55 to REF-57): of 100 W forward, 4 W come back at SWR 1.5, 11.1 W at 2, a quarter at 3.
@pytest.mark.identity
@pytest.mark.parametrize(("swr", "reflected_w"), [(1.5, 4.0), (2.0, 11.111111), (3.0, 25.0)])
def test_reflected_watts_are_those_of_the_table(swr, reflected_w):
    assert 100 * (1 - accepted_share(swr)) == pytest.approx(reflected_w, abs=1e-6)


# Formula: ARRL Antenna Book, chapter "Transmission Lines", total loss; values derived (LINE-25 to LINE-54):
# from matched loss and load SWR, the SWR at the transmitter end and the total loss, both to 0.0006. The watts
# at the load follow from the load side alone: forward power, less matched loss, less what the load reflects.
@pytest.mark.identity
@pytest.mark.parametrize(
    ("matched_db", "load_swr", "radio_swr", "total_db"),
    [
        (0.5, 1.5, 1.434, 0.537),
        (0.5, 3.0, 2.608, 0.788),
        (0.5, 5.0, 3.928, 1.162),
        (1.0, 2.0, 1.72, 1.196),
        (1.0, 3.0, 2.318, 1.504),
        (1.0, 5.0, 3.251, 2.123),
        (2.0, 2.0, 1.533, 2.315),
        (2.0, 3.0, 1.922, 2.794),
    ],
)
def test_watts_at_the_antenna_agree_with_the_load_side(matched_db, load_swr, radio_swr, total_db):
    judged = judge(
        radio_swr, radio=Radio(100, power_at_swr=((9.0, 1.0),)), limit_swr=5, line_loss_db=total_db
    )
    at_load_w = 100 * 10 ** (-matched_db / 10) * (1 - gamma_abs_from_swr(load_swr) ** 2)
    # total loss to 0.0006 dB is 1.4e-4; SWR to 0.0006 moves the mismatch by at most 1e-4
    assert judged.power_to_antenna_w.value == pytest.approx(at_load_w, rel=3e-4)
    assert judged.line_loss_db.value == total_db
    named = f"The line loses {total_db:.1f} dB" in judged.why
    assert named == (total_db > 1)


def test_a_tuner_loses_its_share_and_the_line_still_loses_its_own():
    judged = judge(2.5, tuner=Tuner(loss_db=0.5), radio=Radio(power_w=50), line_loss_db=1.2)
    assert judged.verdict == "tuner"
    assert judged.power_to_antenna_w.value == pytest.approx(50 * 10 ** (-(0.5 + 1.2) / 10))
    assert (
        "The line loses 1.2 dB (24 % of the power); a tuner at the radio does not get that back."
        in judged.why
    )


def test_folding_back_is_weighed_against_the_tuner():
    judged = judge(1.95, tuner=TO_3, radio=Radio(power_w=50), line_loss_db=0.0)
    assert judged.verdict == "direct"
    assert "Through the tuner 46.7 W leave the radio instead of 34.7 W." in judged.why
    assert "Through the tuner" not in judge(1.3, tuner=TO_3).why
    assert "Through the tuner" not in judge(1.95, tuner=None).why


def test_without_a_line_told_the_watts_at_the_antenna_are_not_known():
    judged = judge(1.5, radio=Radio(power_w=50))
    assert judged.line_loss_db.reason == "the line was not told, so its loss is not known; give --line"
    assert judged.power_to_antenna_w.reason == (
        "the line was not told, so its loss is not known; 48 W go into it; give --line"
    )


def test_what_is_not_to_be_keyed_has_no_watts():
    assert judge(6.1, tuner=TO_3, line_loss_db=0.0).power_to_antenna_w.reason == "not to be keyed at SWR 6.10"


def test_the_watts_carry_the_interval_of_swr_and_line():
    rng = np.random.default_rng(7)
    swr = np.vstack([np.full(F_HZ.size, 1.5), 1.5 + rng.uniform(-0.1, 0.1, (600, 1)) + np.zeros(F_HZ.size)])
    loss_db = np.concatenate([[1.0], 1 + rng.normal(0, 0.1, 600)])[:, np.newaxis] + np.zeros(F_HZ.size)
    watts = judge(swr, line_loss_db=loss_db, radio=FULL_POWER).power_to_antenna_w
    assert watts.value == pytest.approx(96 * 10**-0.1)
    assert watts.low is not None
    # 0.1 dB one sigma is 2.3 % of 76 W; the SWR adds little
    assert watts.high - watts.low == pytest.approx(4 * 0.023 * 76, rel=0.15)
    assert watts.low < watts.value < watts.high


@pytest.mark.parametrize(
    ("swr", "share"),
    [
        (1.0, 1.0),
        (1.5, 1.0),
        (1.75, 0.875),
        (2.0, 0.75),
        (2.5, 0.575),
        (3.0, 0.4),
        (np.inf, 0.4 * (1.5 / 2) ** 2),
    ],
)
def test_the_radio_gives_what_its_table_says_and_less_beyond_it(swr, share):
    assert forward_w(swr, Radio(power_w=50)) == pytest.approx(50 * share)


def test_below_the_first_row_the_power_runs_to_full_at_swr_1():
    radio = Radio(power_w=50, power_at_swr=((2.0, 0.5),))
    assert forward_w([1.0, 1.5, 2.0], radio) == pytest.approx([50, 37.5, 25])
    assert forward_w([1.0, 1.5], Radio(power_w=50, power_at_swr=((1.0, 0.8), (2.0, 0.4)))) == pytest.approx(
        [40, 30]
    )
    assert np.isnan(forward_w(np.nan, radio))


# A radio that holds its peak voltage gives P/(1+|gamma|)**2: 69 % at SWR 1.5, 56 % at 2, 44 % at 3.
@pytest.mark.identity
def test_beyond_its_table_a_radio_is_taken_to_hold_its_peak_voltage():
    held = Radio(power_w=100, power_at_swr=((1.0, 1.0),))
    assert forward_w([1.5, 2.0, 3.0], held) == pytest.approx([69, 56, 44], abs=0.6)


# Formula: F. Witt, QST April/May 1995 and QEX September/October 2003; values derived (MATCH-24 to MATCH-26).
@pytest.mark.identity
@pytest.mark.parametrize(
    ("swr", "loss_db", "tolerance"), [(2, 0.0, 1e-12), (1.72, 1.0, 0.002), (1.5, 2.218, 0.001)]
)
def test_tuner_loss_from_half_and_double_load(swr, loss_db, tolerance):
    assert tuner_loss_db_from_half_and_double_load(swr, swr) == pytest.approx(loss_db, abs=tolerance)


# The same formula (MATCH-28): -1.4476 dB per unit of SWR at 2 and 2.
@pytest.mark.identity
def test_sensitivity_of_that_method():
    step = 1e-5
    change = tuner_loss_db_from_half_and_double_load(2 + step, 2) - tuner_loss_db_from_half_and_double_load(
        2 - step, 2
    )
    assert change / (2 * step) == pytest.approx(-1.4476, abs=1e-4)


def test_a_perfect_match_with_half_the_load_is_refused():
    with pytest.raises(BadInput, match="the SWR with half or double load is 1; above 1 was expected"):
        tuner_loss_db_from_half_and_double_load(1, 2)


# Efficiency of an L network to 50 ohm, 1/(1+Q/Q_coil), derived (MATCH-21 to MATCH-23).
@pytest.mark.identity
@pytest.mark.parametrize(
    ("r_ohm", "coil_q", "efficiency"), [(12.5, 100, 0.98297), (5, 100, 0.97087), (12.5, 50, 0.96652)]
)
def test_loss_of_an_l_network(r_ohm, coil_q, efficiency):
    assert 10 ** (-l_network_loss_db(r_ohm, coil_q=coil_q) / 10) == pytest.approx(efficiency, abs=1e-5)


# The same network for a complex load, by hand: with 12 - j187 ohm the capacitor lies at the radio, so the coil has
# sqrt(12 * 38) + 187 = 208.35 ohm in series with 12; of Q 60 it has 3.473 ohm, 1.104 dB. 2500 ohm has the capacitor
# across it, 50 ohm is left and the coil carries sqrt(50 * 2450) = 350 ohm: 5.833 of 55.833 ohm, 0.479 dB.
@pytest.mark.identity
@pytest.mark.parametrize(("z_ohm", "loss_db"), [(12 - 187j, 1.1038), (2500, 0.4793), (50, 0.0)])
def test_loss_of_an_l_network_into_a_complex_load(z_ohm, loss_db):
    assert l_network_loss_db(z_ohm, coil_q=60) == pytest.approx(loss_db, abs=1e-4)


# Against the circuit itself: the network with both reactances found by its equations, coil with its resistance, and the
# powers in it, from the current. Where the lossless design holds it matches, too.
@pytest.mark.identity
@given(st.floats(2, 2000), st.floats(-500, 500))
@settings(max_examples=60, deadline=None)
def test_an_l_network_loses_what_its_circuit_says(r_ohm, x_ohm):
    z, q = complex(r_ohm, x_ohm), 80.0
    if r_ohm < 50 and x_ohm <= np.sqrt(r_ohm * (50 - r_ohm)):
        coil = np.sqrt(r_ohm * (50 - r_ohm)) - x_ohm
        assert (1 / (z + 1j * coil)).real == pytest.approx(
            1 / 50
        )  # a capacitor across the radio does the rest
        share = r_ohm / (r_ohm + coil / q)
    else:
        y = 1 / z
        b = np.sqrt(max(y.real / 50 - y.real**2, 0)) - y.imag  # at 50 ohm what is left may round below 0
        assert b >= -1e-12  # a capacitor
        left = 1 / (y + 1j * b)
        coil = -left.imag
        assert left.real == pytest.approx(50)
        share = left.real / (left.real + coil / q)
    # Close to 50 ohm the square root above keeps half of a double's digits: 1e-8 S, 3e-5 ohm of the coil, 3e-8 dB.
    assert l_network_loss_db(z, coil_q=q) == pytest.approx(-10 * np.log10(share), rel=1e-9, abs=1e-7)


HARD = Tuner(r_ohm=(5, 500), x_ohm=(-300, 300), coil_q=60)


def hard(z_ohm=12 - 187j, **more):
    return judge(swr_from_gamma_abs(abs((z_ohm - 50) / (z_ohm + 50))), z_ohm=z_ohm, phase="signed", **more)


def test_a_hard_match_costs_more_than_an_easy_one():
    judged = hard(tuner=HARD, line_loss_db=0.2)
    rows = {loss.where: loss for loss in judged.power}
    assert [loss.where for loss in judged.power] == ["radio", "tuner", "line"]
    assert rows["tuner"].loss_db.value == pytest.approx(1.104, abs=0.01)
    assert rows["tuner"].told
    assert "The tuner loses 1.1 dB (22 % of the power)" in judged.why
    easy = hard(60 - 90j, tuner=HARD, line_loss_db=0.2)
    assert {loss.where: loss for loss in easy.power}["tuner"].loss_db.value < 0.4


@given(st.floats(1.0, 2.9), st.floats(0.0, 2.9))
@settings(max_examples=40, deadline=None)
def test_the_ledger_adds_up_to_what_leaves_the_coax(swr, line_db):
    judged = judge(swr, tuner=TO_3, radio=Radio(power_w=50), line_loss_db=line_db)
    lost_db = sum(loss.loss_db.value for loss in judged.power)
    assert judged.power_to_antenna_w.value == pytest.approx(50 * 10 ** (-lost_db / 10))
    assert all(loss.loss_db.value >= 0 for loss in judged.power)


def test_the_ledger_says_what_was_told():
    told = {loss.where: loss.told for loss in hard(tuner=Tuner(max_swr=100), line_loss_db=0.2).power}
    assert told == {"radio": False, "tuner": False, "line": True}
    untold = hard(tuner=Tuner(max_swr=100)).power
    assert untold[-1].loss_db.reason == "the line was not told, so its loss is not known; give --line"
    assert not untold[-1].told
    judged = judge_band(
        AtRadio(F_HZ, np.full(F_HZ.shape, 2.5)),
        band_hz=BAND_HZ,
        radio=Radio(),
        tuner=TO_3,
        told={"tuner.loss_db", "radio.power_at_swr"},
    )
    assert [loss.told for loss in judged.power] == [True, True, False]


# 300 tuners of an own model: low-pass L networks found by minimising the reflection numerically, capacitors of Q 300 to
# 2000 (the ledger takes them as part of the wiring), wiring and switches of 0.05 to 0.25 dB, coils of Q 55 to 190.
def test_the_interval_of_a_tuners_loss_holds_in_tuners_of_another_model():
    rng = np.random.default_rng(11)
    draws, inside = 400, []
    for _ in range(300):
        z = complex(np.exp(rng.uniform(np.log(8), np.log(300))), rng.uniform(-200, 200))
        coil_q, cap_q = (
            np.exp(rng.uniform(np.log(55), np.log(190))),
            np.exp(rng.uniform(np.log(300), np.log(2000))),
        )
        true_db = own_tuner_db(z, coil_q, cap_q) + rng.uniform(0.05, 0.25)
        seen = z * np.exp(np.concatenate([[0], rng.normal(0, 0.02, draws)]))
        swr = swr_from_gamma_abs(abs((seen - 50) / (seen + 50)))
        loss_db = tuner_loss_db(Tuner(max_swr=100), swr, seen, z0_ohm=50.0)
        figure = Figure.from_draws(loss_db, reason="none", wall=0.0)
        inside.append(figure.low <= true_db <= figure.high)
    assert np.mean(inside) >= 0.93


def own_tuner_db(z, coil_q, cap_q):
    """Loss of a matched low-pass L network with both parts lossy: its one unknown scanned until 50 ohm is seen."""
    x = np.geomspace(1e-3, 2e4, 20001)
    series = z + x * (1 / coil_q + 1j)  # capacitor at the radio: it takes what susceptance is left
    left = -(1 / series).imag
    seen = (1 / series).real + left / cap_q - 1 / 50
    (hits,) = np.nonzero((left[:-1] > 0) & (seen[:-1] > 0) & (seen[1:] <= 0))
    if hits.size:
        k = hits[-1]
        return -10 * np.log10((1 / series[k]).real * 50 * z.real / series[k].real)
    b = 1 / x[::-1]  # capacitor at the load: the coil takes what reactance is left
    node = 1 / z + b * (1 / cap_q + 1j)
    coil = -(1 / node).imag
    seen = (1 / node).real + coil / coil_q - 50
    (hits,) = np.nonzero((coil[:-1] > 0) & (seen[:-1] * seen[1:] <= 0))
    if not hits.size:  # the coil's own resistance takes it past 50 ohm: the coil alone, all but matched
        return 10 * np.log10(1 + max(-z.imag, 0.0) / coil_q / z.real)
    k = hits[-1]
    return -10 * np.log10((1 / z).real / node[k].real * (1 / node[k]).real / 50)


def test_the_margin_of_a_region_has_an_interval_and_a_close_call():
    rng = np.random.default_rng(4)
    z = 20 - 40j + np.concatenate([[0], rng.normal(0, 3, 500)])
    z_ohm = np.repeat(z[:, np.newaxis], F_HZ.size, axis=1)
    swr = swr_from_gamma_abs(np.abs((z_ohm - 50) / (z_ohm + 50)))
    judged = judge(swr, tuner=REGION, z_ohm=z_ohm, phase="signed")
    assert re.search(r"4 ohm \(-\d to 10\) inside its lowest R", judged.why)
    assert "Close call: the interval (95 %) lies on both sides of the tuner's edge." in judged.why
    figure = margin_figure(z, REGION)
    assert figure.value == pytest.approx(4)
    assert figure.high - figure.low == pytest.approx(3.92 * 3, rel=0.15)  # 95 % of a normal spread of 3
    # outside, both ends outside
    far = judge(swr, tuner=Tuner(r_ohm=(40, 150), x_ohm=(-100, 100)), z_ohm=z_ohm, phase="signed")
    assert re.search(r"20 ohm \(1\d to 2\d\) outside its lowest R", far.why)


def test_a_no_says_what_fails():
    assert judge(12.0, tuner=TO_3).fails_on == "swr"
    assert judge(12.0, tuner=None).fails_on == "swr"
    assert hard(tuner=REGION).fails_on == "reach"
    assert judge(1.2, tuner=TO_3, line_loss_db=4.0).fails_on == "loss"
    assert judge(1.2, tuner=TO_3).fails_on == ""


@pytest.mark.parametrize(
    ("line_db", "box_db", "verdict", "words"),
    [
        (0.0, 2.9, "direct", "The box loses 2.9 dB (49 % of the power)."),
        (0.0, 3.1, "no", "the box loses 3.1 dB (51 % of the power); above 3 dB the box comes first"),
        (None, 3.1, "no", "the box loses 3.1 dB"),
        (1.6, 1.6, "no", "line and box lose 1.6 dB and 1.6 dB, together 3.2 dB (52 % of the power)"),
        (
            1.6,
            1.2,
            "direct",
            "The line loses 1.6 dB (31 % of the power); the box loses 1.2 dB (24 % of the power).",
        ),
    ],
)
def test_a_told_box_counts_with_the_line(line_db, box_db, verdict, words):
    line = {} if line_db is None else {"line_loss_db": line_db}
    judged = judge(1.2, tuner=TO_3, box_loss_db=box_db, **line)
    assert judged.verdict == verdict
    assert words in judged.why
    assert judged.fails_on == ("loss" if verdict == "no" else "")


def test_a_battery_gives_what_its_table_says():
    radio = Radio(power_w=50, power_at_volts=((11.5, 0.8), (13.8, 1.0)))
    assert "On 11.5 V the radio gives 80 % of these watts." in judge(1.3, radio=radio, line_loss_db=0).why
    for volts, share in ((14.5, 1.0), (13.8, 1.0), (12.65, 0.9), (11.5, 0.8), (10.0, 0.8)):
        assert replace(radio, volts=volts).supply_share == pytest.approx(share)
    low = judge(1.0, radio=replace(radio, volts=11.5), line_loss_db=0.0)
    assert low.power_to_antenna_w.value == pytest.approx(40)
    assert low.power[0].loss_db.value == pytest.approx(-10 * np.log10(0.8))
    assert "At 11.5 V the radio gives 80 % of 50 W." in low.why
    flat = judge(1.0, radio=replace(radio, volts=9.0), line_loss_db=0.0)
    assert "At 9 V, below the kit's lowest 11.5 V, the radio gives at most 80 % of 50 W." in flat.why


def test_the_default_loss_of_a_tuner_covers_an_l_network_up_to_swr_3():
    assert 0 < l_network_loss_db(50 / 3, coil_q=50) < Tuner().loss_db


SWRS = st.lists(st.floats(1, 30), min_size=2, max_size=30)


@given(SWRS, st.floats(0, 5), st.sampled_from([None, TO_3, REGION, Tuner(max_swr=10)]), st.floats(1, 4))
@settings(max_examples=60, deadline=None)
def test_segments_share_out_what_was_swept_and_the_power_never_exceeds_the_radios(swr, loss_db, tuner, limit):
    f_hz = np.linspace(14.0e6, 14.3e6, len(swr))
    judged = judge(np.array(swr), f_hz=f_hz, tuner=tuner, line_loss_db=loss_db, limit_swr=limit)
    parts = judged.segments
    assert (parts[0].low_hz, parts[-1].high_hz) == (f_hz[0], f_hz[-1])
    for part, following in pairwise(parts):
        assert part.high_hz == following.low_hz
        assert part.verdict != following.verdict
    assert all(part.low_hz < part.high_hz for part in parts)
    watts = judged.power_to_antenna_w
    assert watts.value is None or 0 <= watts.value <= 100
    assert judged.verdict in {part.verdict for part in parts} | {"unknown"}
    if judged.verdict == "direct":
        assert min(swr) <= limit * (1 + 1e-9)  # rounding of the arithmetic stays at the limit
        assert loss_db <= 3


@given(st.floats(1, 50), st.floats(0, 20))
def test_power_falls_as_the_swr_rises(swr, more):
    for tuner in (None, TO_3):
        assert leaving_w(swr + more, Radio(), tuner) <= leaving_w(swr, Radio(), tuner) <= 100
    assert forward_w(swr + more, Radio()) <= forward_w(swr, Radio())


@given(st.floats(1, 20), st.floats(0, 10))
def test_a_higher_swr_never_has_a_better_verdict(swr, more):
    order = ["direct", "tuner", "no"]
    assert order.index(judge(swr + more, tuner=TO_3).verdict) >= order.index(judge(swr, tuner=TO_3).verdict)


@pytest.mark.parametrize(
    ("known", "words"),
    [
        ({"f_hz": [2.0, 1.0], "swr": [1, 1]}, "f_hz must have one axis, at least one point, and rise"),
        ({"f_hz": [1.0, 2.0], "swr": [1, 1, 1]}, r"swr has shape \(1, 3\); it needs 2 values for each draw"),
        ({"f_hz": [1.0, 2.0], "swr": [0.9, 1]}, "swr has the value 0.9; it must be 1 or more"),
        ({"f_hz": [1.0, 2.0], "swr": [1, 1], "phase": "signed"}, "phase is 'signed'; z_ohm belongs to"),
    ],
)
def test_curves_that_cannot_be_are_refused(known, words):
    with pytest.raises(ValueError, match=words):
        AtRadio(**known)
