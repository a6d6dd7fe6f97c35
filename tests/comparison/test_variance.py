"""Split of variance: certified data, exact identities, honest intervals, odd input."""

import math

import numpy as np
import pytest

from sweepkit.comparison.variance import NAMES, lone_variance_limit, split_variance

# Source: NIST StRD, analysis of variance, SiRstv (Ehrstein and Croarkin; US government work): resistivity of silicon
# wafers, 5 instruments, 5 days each; certified mean squares 1.27865654e-2 between and 1.08318280e-2 within.
SI_RSTV = np.array(
    [
        [196.3052, 196.1240, 196.1890, 196.2569, 196.3403],
        [196.3042, 196.3825, 196.1669, 196.3257, 196.0422],
        [196.1303, 196.2005, 196.2889, 196.0343, 196.1811],
        [196.2795, 196.1748, 196.1494, 196.1485, 195.9885],
        [196.2119, 196.1051, 196.1850, 196.0052, 196.2090],
    ]
)


def component(split, name):
    return split.components[NAMES.index(name)]


def one_place(values, setup, **told):
    n = len(values)
    return split_variance(values, antenna=["wire"] * n, site=["ridge"] * n, setup=setup, **told)


# Balanced data with positive components: REML is analysis of variance; 1e-4 is what the optimiser leaves.
@pytest.mark.published
def test_certified_mean_squares_give_the_components():
    split = one_place(SI_RSTV.ravel(), np.repeat(np.arange(5), 5))
    assert component(split, "instrument").sd.value ** 2 == pytest.approx(1.08318280e-2, rel=1e-4)
    setup = (1.27865654e-2 - 1.08318280e-2) / 5
    assert component(split, "setup").sd.value ** 2 == pytest.approx(setup, rel=1e-3)


@pytest.mark.identity
def test_an_instrument_alone_is_its_mean_square():
    values = np.array([0.0, 1.0, 10.0, 11.0, 5.0, 6.0])
    split = one_place(values, [1, 1, 2, 2, 3, 3])
    assert component(split, "instrument").sd.value == pytest.approx(math.sqrt(0.5), rel=1e-3)


# Source: exact for a lone variance; checked by chance here. 4 standard errors of 20 000 trials.
@pytest.mark.parametrize("freedom", [1, 2, 5, 30])
def test_limit_of_a_lone_variance_is_passed_by_five_per_cent(freedom):
    x = np.random.default_rng(freedom).chisquare(freedom, 20_000) / freedom
    passed = np.mean(freedom * (x - 1 - np.log(x)) > lone_variance_limit(freedom))
    assert passed == pytest.approx(0.05, abs=4 * math.sqrt(0.05 * 0.95 / 20_000))


def crossed(dice, *, shift=0.0, factor=1.0):
    setup = np.repeat(np.arange(18), 2)
    antenna, site = setup % 3, setup // 3 % 6
    parts = (dice.normal(0, s, n) for s, n in ((2.0, 3), (1.0, 6), (0.5, 18), (0.1, 36)))
    a, s, u, e = parts
    return shift + factor * (a[antenna] + s[site] + u[setup] + e), antenna, site, setup


@pytest.mark.identity
def test_shift_scale_and_order_of_labels():
    y, antenna, site, setup = crossed(np.random.default_rng(3))
    plain = split_variance(y, antenna=antenna, site=site, setup=setup)
    other = split_variance(50 + 7 * y, antenna=2 - antenna, site=(site + 2) % 6, setup=17 - setup)
    for one, two in zip(plain.components, other.components, strict=True):
        assert two.sd.value == pytest.approx(7 * one.sd.value, rel=2e-3)


@pytest.mark.parametrize(
    ("antenna", "site", "setup", "name", "words"),
    [
        ("aabb", "rrvv", "1234", "antenna", "each antenna was at a site of its own"),
        ("aaaa", "rrrr", "1234", "setup", "no setup was swept twice"),
        ("aaaa", "rrrr", "1122", "site", "all values are from one site"),
    ],
)
def test_what_cannot_be_told_apart_has_a_reason(antenna, site, setup, name, words):
    split = split_variance(
        np.array([1.0, 1.2, 2.0, 2.3]), antenna=list(antenna), site=list(site), setup=list(setup)
    )
    assert component(split, name).sd.value is None
    assert words in component(split, name).sd.reason


@pytest.mark.parametrize(
    ("values", "words"),
    [([1.0], "at least two"), ([2.0, 2.0, 2.0], "equal"), ([1.0, math.nan], "at least two")],
)
def test_too_little_has_a_reason(values, words):
    split = one_place(np.array(values), np.arange(len(values)))
    assert words in component(split, "setup").sd.reason


def test_a_setup_at_two_sites_is_refused():
    with pytest.raises(ValueError, match="more than one site"):
        split_variance(np.array([1.0, 2.0]), antenna=["a", "a"], site=["r", "v"], setup=["1", "1"])


def test_unbalanced_nested_data_against_a_general_library():
    pandas = pytest.importorskip("pandas")
    formula = pytest.importorskip("statsmodels.formula.api")
    dice = np.random.default_rng(5)
    setup = np.repeat(np.arange(24), dice.integers(1, 5, 24))
    site = setup // 4
    y = dice.normal(0, 1, 6)[site] + dice.normal(0, 0.7, 24)[setup] + dice.normal(0, 0.4, setup.size)
    table = pandas.DataFrame({"y": y, "site": site, "setup": setup})
    model = formula.mixedlm(
        "y ~ 1", table, groups="site", re_formula="1", vc_formula={"setup": "0 + C(setup)"}
    )
    other = model.fit(reml=True)
    split = split_variance(y, antenna=["wire"] * y.size, site=site, setup=setup)
    wanted = {"site": other.cov_re.iloc[0, 0], "setup": other.vcomp[0], "instrument": other.scale}
    for name, variance in wanted.items():
        assert component(split, name).sd.value ** 2 == pytest.approx(variance, rel=5e-3)


def test_a_told_instrument_is_taken_out_of_the_setups():
    dice = np.random.default_rng(9)
    y = dice.normal(0, 0.5, 4000) + dice.normal(0, 1.2, 4000)
    split = one_place(y, np.arange(4000), told_sd=np.full(4000, 1.2))
    assert component(split, "instrument").sd.value == pytest.approx(1.2)
    setup = component(split, "setup").sd
    assert setup.low < 0.5 < setup.high
    assert setup.high - setup.low < 0.3
