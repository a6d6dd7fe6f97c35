"""Sweeps of one outing: shared where they share line and calibration, apart where they do not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sweepkit import compare, diagnose, read_sweep
from sweepkit.feedline.chain import believable_chains, scores_per_chain
from sweepkit.feedline.plane import add_chain
from sweepkit.instrument import WAVES, error_waves
from sweepkit.reviews import CheckSweeps, review, review_setup
from sweepkit.reviews.outing import learn_outing
from sweepkit.station.linear import Check
from sweepkit.station.outing import share
from sweepkit.station.posterior import learn
from sweepkit.station.windows import Curve
from sweepkit.trim.from_sweep import plan_trim
from sweepkit.trim.wire import EarlierState
from tests.test_posterior import CHAIN, F_HZ, MODEL, SIZES

SHARES = np.sqrt([1 / 6, 2 / 3, 1 / 6])  # Gauss-Hermite quadrature of three points
LINE = ["RG-58 12 m"]


def errors_of(calibration):
    parts = np.random.default_rng([5, calibration]).standard_normal((2, 3, WAVES.size)) / np.sqrt(2)
    return (parts[0] + 1j * parts[1]) * SIZES[:, None] * SHARES @ error_waves(F_HZ)


def read_with(gamma, calibration):
    directivity, tracking, match = errors_of(calibration)
    return directivity + (1 + tracking) * gamma / (1 - match * gamma)


def swept(antenna, line, calibration):
    """One of two states of an antenna, through a line and with a calibration of that number."""
    dice = np.random.default_rng([6, antenna])
    u = F_HZ / (14.15e6 + 0.2e6 * (antenna % 2)) - 14.15e6 / F_HZ
    z_ohm = dice.uniform(30, 90) * (1 + 1j * dice.uniform(5, 15) * u + 0.5 * u + 1j * dice.normal() * u**2)
    scores = np.random.default_rng([7, line]).standard_normal(scores_per_chain(CHAIN))
    gamma = add_chain(F_HZ, (z_ohm - 50) / (z_ohm + 50), believable_chains(CHAIN, scores[None]))[0]
    noise = 0.001 / np.sqrt(2) * (dice.standard_normal(F_HZ.size) + 1j * dice.standard_normal(F_HZ.size))
    return Curve(F_HZ, read_with(gamma, calibration) + noise, np.full(F_HZ.size, 0.001), np.ones(F_HZ.size))


def test_two_states_of_an_antenna_share_line_and_calibration():
    for k in range(6):
        both = [swept(2 * k, k, k), swept(2 * k + 1, k, k)]
        outing = share(both, CHAIN, MODEL, reference_ohm=50.0)
        alone = learn(both[:1], CHAIN, MODEL, reference_ohm=50.0)
        assert outing.finding is None
        assert np.linalg.slogdet(outing.learned.covariance)[1] < np.linalg.slogdet(alone.covariance)[1]


def test_two_calibrations_are_noticed_and_what_was_told_is_kept():
    noticed = 0
    for k in range(8):
        outing = share([swept(2 * k, k, k), swept(2 * k + 1, k, k + 50)], CHAIN, MODEL, reference_ohm=50.0)
        if outing.learned is None:
            noticed += 1
            assert outing.finding.code == "outing-disagrees"
            assert "times worse" not in outing.finding.text
    assert noticed >= 7


def test_two_lines_are_mostly_noticed():
    outings = [
        share([swept(2 * k, k, k), swept(2 * k + 1, k + 50, k)], CHAIN, MODEL, reference_ohm=50.0)
        for k in range(12)
    ]
    assert sum(outing.learned is None for outing in outings) >= 7


def test_a_sweep_with_few_points_is_on_its_own():
    one = swept(0, 0, 0)
    few = Curve(*(part[::12] for part in one))
    assert share([one, few], CHAIN, MODEL, reference_ohm=50.0) is None


def test_check_sweeps_enter():
    """What a load, an open and a short read brings directivity and tracking nearer to the truth."""
    off = {False: [], True: []}
    ideal = {"load": 0.0, "open": 1.0, "short": -1.0}
    for k in range(10):
        checks = [Check(F_HZ, read_with(np.full(F_HZ.size, end + 0j), k), end) for end in ideal.values()]
        for checked in off:
            known = {"checks": checks} if checked else {}
            learned = learn([swept(k, k, k)], CHAIN, MODEL, reference_ohm=50.0, **known)
            errors, *_ = learned.draw(np.random.default_rng(1), 0)
            off[checked].append(
                np.abs(errors[:2, 0] @ error_waves(F_HZ) - errors_of(k)[:2])[:, F_HZ.size // 2]
            )
    assert (np.median(off[True], axis=0) < 0.5 * np.median(off[False], axis=0)).all()


def write(path, gamma):
    rows = [f"{f_hz:.0f} {one.real:.6f} {one.imag:.6f}" for f_hz, one in zip(F_HZ, gamma, strict=True)]
    path.write_text("\n".join(["# Hz S RI R 50", *rows]) + "\n", encoding="utf-8")


@pytest.mark.parametrize(
    "words",
    [
        ("trim", "--kind", "dipole", "--length", "5 m", "--target", "14.2 MHz", "now.s1p"),
        ("diagnose", "--kind", "dipole", "before.s1p", "now.s1p"),
        ("compare", "before.s1p", "now.s1p"),
    ],
)
def test_check_sweeps_are_taken_where_a_sweep_is_looked_at(words, run, tmp_path):
    for name, antenna in (("before", 0), ("now", 1)):
        write(tmp_path / f"{name}.s1p", swept(antenna, 0, 0).gamma)
    write(tmp_path / "load.s1p", read_with(np.zeros(F_HZ.size, dtype=complex), 0))
    known = (*words, "--line", "RG-58 18 m", "--json", "--draws", "50")
    plain, checked = (run(*known, *more, cwd=tmp_path) for more in ((), ("--check-load", "load.s1p")))
    assert plain.returncode == checked.returncode == 0, checked.stderr
    assert plain.stdout != checked.stdout
    over = run(*known, "--check-load", "load.s1p", "--report", "load.s1p", "--force", cwd=tmp_path)
    assert over.returncode == 2


@pytest.fixture(scope="module")
def meadow(samples):
    return [read_sweep(samples / f"meadow_vertical_{k}.s1p") for k in (1, 2, 3)]


def test_a_setup_shares_and_says_so_where_it_cannot(meadow):
    first = meadow[0]
    again = replace(first, gamma=1.02 * (first.gamma + 0.04), gamma_abs=np.abs(1.02 * (first.gamma + 0.04)))
    answer = review_setup([first, again], lines=LINE, bands=(), draws=20)
    assert [finding.code for finding in answer.findings].count("outing-disagrees") == 1
    assert all(part.planes.learned is None for part in answer.parts)
    shared = review_setup([first, first], lines=LINE, bands=(), draws=20)
    assert shared.parts[0].planes.learned is shared.parts[1].planes.learned is not None


def test_sweeps_compared_with_one_told_calibration_share_it_or_are_taken_apart(meadow):
    first = meadow[0]
    again = replace(first, gamma=1.02 * (first.gamma + 0.04), gamma_abs=np.abs(1.02 * (first.gamma + 0.04)))
    known = {"lines": LINE, "draws": 20}
    for other, told, is_said in ((again, {"calibrated": "home"}, True), (again, None, False)):
        codes = {one.code for one in compare([first, other], told=told, **known).fairness}
        assert ("outing-disagrees" in codes) == is_said


def test_a_line_told_wrongly_is_named_where_sweeps_are_compared_or_diagnosed(meadow):
    both = [
        replace(meadow[0], f_hz=F_HZ, gamma=one.gamma, gamma_abs=np.abs(one.gamma)) for one in _two_states()
    ]
    known = {"lines": ["RG-58 36 m"], "draws": 20}
    fairness = compare(both, told={"calibrated": "home"}, **known).fairness
    assert "line-told-wrong" in {one.code for one in fairness}
    assert any("half the length told" in note for note in diagnose(both, kind="vertical", **known).notes)


def _two_states():
    return [swept(0, 0, 0), swept(1, 0, 0)]


def test_a_pair_told_as_of_one_outing_is_diagnosed_with_one_line_and_calibration(meadow):
    first = meadow[0]
    again = replace(first, gamma=1.02 * (first.gamma + 0.04), gamma_abs=np.abs(1.02 * (first.gamma + 0.04)))
    known = {"lines": LINE, "draws": 20, "kind": "vertical"}
    said = diagnose([first, again], rung="swept-again", **known).notes
    assert any("do not fit one line and one calibration" in note for note in said)
    assert not diagnose([first, again], **known).notes
    assert not diagnose([first, first], rung="swept-again", **known).notes


def test_nothing_is_shared_without_a_line_or_draws(meadow):
    assert learn_outing(meadow, lines=None) is None
    assert learn_outing(meadow, lines=[]) is None
    assert learn_outing(meadow, lines=LINE, draws=0) is None
    assert learn_outing(meadow, lines=LINE, measured_at="feedpoint") is None
    assert learn_outing(meadow[:1], lines=LINE) is None


def test_trimming_learns_from_its_earlier_sweeps(meadow):
    earlier = [(EarlierState("5.62 m", 5.62, relative=False, by="cut"), meadow[0])]
    known = {
        "kind": "vertical",
        "length_m": 5.40,
        "target_hz": 14.15e6,
        "by": "cut",
        "lines": LINE,
        "draws": 50,
    }
    together = plan_trim(meadow[1], earlier=earlier, **known).review
    outing = learn_outing([meadow[1], meadow[0]], lines=LINE, draws=50)
    np.testing.assert_array_equal(together.planes.learned.mean, outing.learned.mean)


def test_repeats_and_check_sweeps_reach_the_review(meadow):
    first = meadow[0]
    load = replace(first, gamma=np.full(first.f_hz.size, 0.01 + 0j), gamma_abs=np.full(first.f_hz.size, 0.01))
    plain, checked = (
        review(first, lines=LINE, bands=(), draws=20, checks=checks).planes.learned
        for checks in (None, CheckSweeps(load=load))
    )
    assert np.abs(checked.mean - plain.mean).max() > 0.01
    repeated = review(first, lines=LINE, bands=(), draws=20, spread=np.zeros((2, first.f_hz.size))).planes
    assert repeated.learned is not None
