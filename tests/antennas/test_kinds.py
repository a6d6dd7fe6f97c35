"""Kinds of antenna: how their dip answers to length, against published figures and modelled antennas."""

import dataclasses

import numpy as np
import pytest

from sweepkit.antennas.catalogue import KINDS, kind_named
from sweepkit.antennas.kind import Known, Seen, known_beside
from sweepkit.antennas.trend import FEATURES, trends
from sweepkit.antennas.vertical import deal, shares
from sweepkit.antennas.which import expected_hz
from sweepkit.antennas.wire_lines import IMPEDANCE_UNIT_OHM, monopole_impedance_ohm, reactance_slope
from sweepkit.errors import BadInput
from tests.models import fit_trends
from tests.models.length_answers import read_rows
from tests.published.check_values import expected

N = 4000
FOOT_M = 0.3048


def seen_dip(f_hz, length_m, *, swr=np.nan, loaded_q=np.nan, n=N):
    return Seen(*(np.full(n, value) for value in (f_hz, length_m, swr, loaded_q)))


def slopes(kind, seen, known=None):
    return kind_named(kind).answer(seen, known or Known(), np.random.default_rng(0)).slope


# Source: NEC-2 (PyNEC 2.3.4), rows ANT-48 to ANT-50: a 2 mm dipole in free space; row tolerance 0.001.
@pytest.mark.derived
@pytest.mark.parametrize(("row", "cut"), [("ANT-48", 0.01), ("ANT-49", 0.02), ("ANT-50", 0.05)])
def test_a_dipole_answers_to_a_cut_as_published(row, cut):
    slope = np.median(slopes("dipole", seen_dip(14.0e6, 5.1)))
    assert float(np.exp(slope * np.log(1 - cut))) == expected(row).matches(unit="1")


# Sources: NEC-2 for dipoles cut by 468/f and loops cut by 1005/f (rows ANT-40, ANT-45), in free space; over
# ground they dip elsewhere by up to the spread of the kind, so the tolerance is that spread.
@pytest.mark.derived
@pytest.mark.parametrize(
    ("kind", "length_m", "row"),
    [("dipole", 234 / 14 * FOOT_M, "ANT-40"), ("loop", 1005 / 14 * FOOT_M, "ANT-45")],
)
def test_antennas_cut_by_the_old_rules_are_expected_where_they_dip(kind, length_m, row):
    near_hz = expected_hz(KINDS[kind], length_m)
    spread = KINDS[kind].length_usual[1]
    assert near_hz / 1e6 == pytest.approx(expected(row).value, rel=spread)


# Source: our own wire models, tests/data/models/length_answers.csv; the trends were fitted to these rows, so
# this only shows that formula and trend together are centred and as wide as they say.
@pytest.mark.parametrize(
    ("family", "kind", "known"),
    [
        ("dipole", "dipole", lambda row: Known()),
        ("inverted-vee", "inverted-vee", lambda row: Known()),
        ("loop", "loop", lambda row: Known()),
        ("dipole-real", "dipole", lambda row: Known()),
        ("inverted-vee-real", "inverted-vee", lambda row: Known()),
        ("end-fed", "end-fed", lambda row: Known(transformer=1.0)),  # the models' box has no capacitance
        ("vertical-radials", "vertical", lambda row: Known(radials=int(row["wires"]))),
        ("vertical-counterpoise", "vertical", lambda row: Known(radials=int(row["wires"]))),
        ("vertical-ground", "vertical", lambda row: Known(radial_height_m=0.0)),
        ("whip-ground", "loaded-whip", lambda row: Known(radial_height_m=0.0)),
    ],
)
def test_slopes_of_modelled_antennas_lie_in_their_intervals(family, kind, known):
    rows = read_rows()
    numbers = np.flatnonzero(rows["family"] == family)[::4]
    inside = []
    for number in numbers:
        row = {name: column[number] for name, column in rows.items()}
        # The whips' coils have no capacitance of their own, which counts on the upper bands.
        f_hz = 10e6 if kind == "loaded-whip" else 1e6 * row["mhz"]
        length_m = row["wavelengths"] * 299_792_458.0 / f_hz
        seen = seen_dip(f_hz, length_m, swr=row["swr"], loaded_q=row["loaded_q"], n=600)
        low, high = np.quantile(slopes(kind, seen, known(row)), [0.025, 0.975])
        inside.append(low <= row["slope"] <= high)
    assert 0.85 <= np.mean(inside) <= 1.0


def test_fewer_radials_hold_more_of_the_tuning():
    seen = seen_dip(14.1e6, 5.3)
    middles = [np.median(slopes("vertical", seen, Known(radials=n))) for n in (2, 3, 4, 16)]
    assert middles == sorted(middles, reverse=True)
    assert np.median(slopes("vertical", seen, Known(radial_height_m=0.0))) < middles[-1]


def test_what_is_known_sharpens_the_answer():
    vertical = seen_dip(14.1e6, 5.3, swr=1.4, loaded_q=6.5)
    assert np.std(slopes("vertical", vertical, Known(radials=3))) < 0.5 * np.std(slopes("vertical", vertical))
    whip = seen_dip(7.1e6, 3.0, swr=2.2, loaded_q=9.0)
    known = Known(radial_height_m=0.0, coil_h=20e-6)
    assert np.std(slopes("loaded-whip", whip, known)) < 0.5 * np.std(slopes("loaded-whip", whip))


def test_depth_and_width_of_a_dipoles_dip_sharpen_its_answer():
    unknown = slopes("dipole", seen_dip(7.1e6, 10.2))
    known = slopes("dipole", seen_dip(7.1e6, 10.2, swr=1.45, loaded_q=6.8))
    # The middle half, since coax near a resonance of its own, which no dip tells, makes the tails of both.
    assert np.ptp(np.quantile(known, [0.25, 0.75])) < 0.9 * np.ptp(np.quantile(unknown, [0.25, 0.75]))


def test_a_choke_at_the_feed_of_a_dipole_leaves_no_coax_in_its_answer():
    seen = seen_dip(7.1e6, 10.2, swr=1.45, loaded_q=6.8)
    chokes = {"at the feed": 0.0, "untold": None, "none": np.inf}
    ends = {
        name: np.quantile(slopes("dipole", seen, Known(choke_at_m=at_m)), [0.025, 0.5, 0.975])
        for name, at_m in chokes.items()
    }
    assert np.ptp(ends["at the feed"]) < 0.6 * np.ptp(ends["untold"]) < 0.6 * np.ptp(ends["none"])
    # Coax that nobody trims holds a part of the tuning: what it does lies towards zero.
    low, middle, high = ends["none"]
    assert high - middle > 1.5 * (middle - low)
    assert abs(middle - ends["at the feed"][1]) < 0.02


def test_a_dip_unlike_all_models_is_not_trusted_beyond_them():
    trend = trends()["dipole"]
    dice = np.random.default_rng(1)
    strange = trend.draw(seen_dip(7.1e6, 10.2, swr=1.05, loaded_q=40.0), dice)
    assert np.std(strange) > 0.8 * trend.alone_spread


def test_the_numbers_of_the_package_are_those_of_the_rows():
    rows = read_rows()
    for name, plan in fit_trends.FITS.items():
        made, kept = fit_trends.fit(plan, rows), trends()[name]
        for field in dataclasses.fields(made):
            made_value, kept_value = getattr(made, field.name), getattr(kept, field.name)
            if field.name in ("features", "degree"):
                assert made_value == kept_value or list(made_value) == kept_value
            else:
                # Another linear algebra may round the fourth printed digit differently.
                np.testing.assert_allclose(made_value, kept_value, rtol=2e-3, atol=1e-5, err_msg=name)


def test_shares_follow_the_dip():
    like_ground = seen_dip(14.1e6, 0.243 * 299_792_458.0 / 14.1e6, swr=1.1, loaded_q=4.0)
    like_counterpoise = seen_dip(14.1e6, 0.33 * 299_792_458.0 / 14.1e6, swr=1.9, loaded_q=7.3)
    priors = {"vertical-ground": 0.5, "vertical-1": 0.5}
    assert shares(priors, trends(), like_ground)["vertical-ground"] > 0.99
    assert shares(priors, trends(), like_counterpoise)["vertical-1"] > 0.99


def test_draws_are_dealt_by_share_and_evenly():
    dealt = deal({"a": 0.25, "b": 0.75}, 1000)
    assert abs(int(dealt["a"].sum()) - 250) <= 2
    assert np.all(dealt["a"] ^ dealt["b"])
    assert 20 <= int(dealt["a"][:100].sum()) <= 30


def test_every_kind_says_where_and_how():
    for name, kind in KINDS.items():
        assert kind.name == name
        assert kind.parts == (2 if name in ("dipole", "inverted-vee") else 1)
        low, high = kind.length_range
        assert low < kind.length_usual[0] < high
        assert (kind.answer is None) == (name == "random-wire")
    assert set(FEATURES) <= {field.name for field in dataclasses.fields(Seen)} | {"wavelengths"}


def test_an_unknown_kind_is_refused_with_the_list():
    with pytest.raises(BadInput, match=r"kind 'yagi' is not known; choose one of dipole, inverted-vee"):
        kind_named("yagi")


def test_a_kind_that_is_nearly_one_is_asked_about_and_those_beside_are_listed():
    with pytest.raises(BadInput, match=r"did you mean loaded-whip; choose one of .*random-wire, fan$"):
        kind_named("whip", beside=("fan",))
    with pytest.raises(BadInput, match="did you mean dipole"):
        kind_named("dipol")


def test_told_height_of_radials_sharpens_and_low_ones_hold_less():
    whip = seen_dip(14.1e6, 2.5, swr=1.6, loaded_q=9.0)
    told = {"radials": 3, "radial_length_m": 3.0}
    untold = np.std(slopes("loaded-whip", whip, Known(**told)))
    assert np.std(slopes("loaded-whip", whip, Known(**told, radial_height_m=0.5))) < untold
    vertical = seen_dip(14.1e6, 5.2, swr=1.4, loaded_q=6.5)
    told = {"radials": 3, "radial_length_m": 5.2}
    low, high = (
        np.median(slopes("vertical", vertical, Known(**told, radial_height_m=h))) for h in (0.1, 3.0)
    )
    assert low < high


# The winding lies across the wire in series with what the box works against: a short counterpoise leaves less of it.
def test_a_short_counterpoise_takes_the_box_out_of_the_tuning():
    seen = seen_dip(10.1e6, 13.4)
    short, long = (
        np.median(slopes("end-fed", seen, Known(counterpoise_m=m, choke_at_m=0.0))) for m in (0.4, 5.0)
    )
    bare = np.median(slopes("end-fed", seen, Known(counterpoise_m=5.0, choke_at_m=0.0, transformer=1.0)))
    assert bare < short < long


# A mast under the coil holds some of the tuning; over a plain coil at the base the whip holds more.
def test_a_whip_answers_less_than_its_formula_without_a_mast():
    wavelengths = 0.1
    seen = seen_dip(14.1e6, wavelengths * 299_792_458.0 / 14.1e6)
    angle = 2 * np.pi * wavelengths
    z0_ohm = float(monopole_impedance_ohm(seen.length_m[0], 2e-3))
    whip, cotangent = reactance_slope(angle), 1 / np.tan(angle)  # d ln f / d ln h of 2 pi f L = Z0 cot(kh)
    base = -(whip - IMPEDANCE_UNIT_OHM / z0_ohm * cotangent) / (whip + cotangent)
    drawn = slopes("loaded-whip", seen, Known(radial_height_m=0.0))
    assert base < np.median(drawn) < base + 0.08


def test_radials_on_the_ground_are_a_height_of_nothing():
    ground = known_beside({}, radials_on_ground=True)
    assert ground == known_beside({}, radial_height_m=0.0) == known_beside({"radial_height_m": 0.0})
    assert ground.on_ground
    assert ground.many_on_ground
    four = known_beside({"radials": 4}, radials_on_ground=True)
    assert (four.radials, four.on_ground, four.many_on_ground) == (4, True, False)
    with pytest.raises(BadInput, match="another height was told"):
        known_beside({}, radials_on_ground=True, radial_height_m=1.0)
