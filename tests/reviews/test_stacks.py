"""Sweeps reviewed together say what each says alone, in the order given."""

from __future__ import annotations

import numpy as np
import pytest

from sweepkit.errors import BadInput
from sweepkit.reviews import many, review
from sweepkit.reviews.asked import ask
from sweepkit.reviews.many import review_many
from sweepkit.reviews.review import review_alike
from sweepkit.sweep import Sweep
from tests.coverage.antennas import parallel, series, side_by_side

F_HZ = np.linspace(6.8e6, 7.4e6, 201)


def made(z_ohm, seed, *, f_hz=F_HZ, noise=0.001, delay_s=0.0):
    dice = np.random.default_rng(seed)
    z = z_ohm(f_hz)
    gamma = (z - 50) / (z + 50) * np.exp(-2j * np.pi * f_hz * delay_s)
    return gamma + noise * (dice.standard_normal(f_hz.size) + 1j * dice.standard_normal(f_hz.size))


def mixed():
    """One grid: matched and poor dips, two dips, none, behind a line, a burst, no noise, no phase."""
    curves = [
        made(series(48, 12, 7.1e6), 1),
        made(parallel(90, 25, 7.05e6), 2),
        made(side_by_side(series(40, 60, 7.0e6), series(60, 60, 7.2e6)), 3),
        made(series(60, 10, 7.9e6), 4),
        made(series(55, 14, 7.12e6), 5, delay_s=90e-9),
        made(series(52, 11, 7.15e6), 6, noise=0.01),
        made(series(45, 9, 7.08e6), 7, noise=1e-7),
    ]
    burst = made(series(50, 13, 7.1e6), 8)
    burst[60:63] += 0.5
    sweeps = [Sweep.from_gamma(F_HZ, gamma) for gamma in (*curves, burst)]
    return [*sweeps, *(Sweep.from_magnitude(F_HZ, np.abs(gamma)) for gamma in curves[:2])]


def close(one, other):
    """Plain answers alike: numbers to 1e-7 of themselves, what sums in another order may move; all else exactly."""
    if isinstance(one, dict):
        return one.keys() == other.keys() and all(close(one[name], other[name]) for name in one)
    if isinstance(one, list):
        return len(one) == len(other) and all(map(close, one, other))
    if isinstance(one, float) and isinstance(other, float):
        return one == pytest.approx(other, rel=1e-7, abs=1e-7)
    return one == other


@pytest.mark.identity
@pytest.mark.parametrize(
    "told",
    [
        {"draws": 0, "measured_at": "feedpoint"},
        {"draws": 0, "lines": ["RG-58 12 m"]},
        {"draws": 0},
        {"draws": 40, "measured_at": "feedpoint"},
    ],
)
def test_a_stack_says_what_each_says_alone(told):
    asked = ask(**told)
    for phase in ("signed", "none"):
        sweeps = [sweep for sweep in mixed() if sweep.phase == phase]
        together = [each.to_json() for each in review_alike(sweeps, asked)]
        alone = [review(sweep, **told).to_json() for sweep in sweeps]
        assert [k for k, pair in enumerate(zip(together, alone, strict=True)) if not close(*pair)] == []


def test_grids_and_faults_mixed_come_in_the_order_given(monkeypatch):
    asked, other = ask(draws=0), ask(draws=0, measured_at="feedpoint")
    coarse = np.linspace(6.8e6, 7.4e6, 101)
    wide = np.linspace(1e6, 30e6, 20_001)
    good = Sweep.from_gamma(F_HZ, made(series(48, 12, 7.1e6), 1))
    items = [
        (good, asked),
        (Sweep.from_gamma(coarse, made(series(48, 12, 7.1e6), 2, f_hz=coarse)), asked),
        None,
        (Sweep.from_gamma([7.0e6], [0.1]), asked),  # too short to be reviewed
        BadInput("its line is not in the kit"),
        (Sweep.from_gamma(wide, made(series(48, 12, 7.1e6), 3, f_hz=wide)), asked),
        (good, other),
        (good, asked),
    ]
    for together in (128, 3):
        monkeypatch.setattr(many, "TOGETHER", together)
        answers = list(review_many(range(len(items)), lambda k: items[k]))
        assert [k for k, _ in answers] == list(range(len(items)))
        points = [getattr(getattr(answer, "sweep", None), "f_hz", np.empty(0)).size for _, answer in answers]
        assert points == [201, 101, 0, 0, 0, 20_001, 201, 201]
        assert answers[2][1] is None
        assert "a review needs at least 2" in str(answers[3][1])
        assert str(answers[4][1]) == "its line is not in the kit"
        assert answers[6][1].planes.measured_at == "feedpoint"
        assert close(answers[0][1].to_json(), answers[7][1].to_json())


def test_one_that_fails_does_not_take_the_others_of_its_stack_along(monkeypatch):
    """A fault inside the stack: each is then reviewed by itself, and only its own fails."""
    sweeps = [sweep for sweep in mixed() if sweep.phase == "signed"][:4]
    asked, whole = ask(draws=0), many.review_alike

    def faulty(group, told):
        if any(sweep is sweeps[2] for sweep in group):
            raise ZeroDivisionError
        return whole(group, told)

    monkeypatch.setattr(many, "review_alike", faulty)
    answers = [answer for _, answer in review_many(sweeps, lambda sweep: (sweep, asked))]
    assert isinstance(answers[2], ZeroDivisionError)
    assert [
        answer.sweep is sweep
        for answer, sweep in zip(answers, sweeps, strict=True)
        if answer is not answers[2]
    ] == [True] * 3


def test_what_cannot_go_on_comes_after_the_answers_before_it():
    good, asked = Sweep.from_gamma(F_HZ, made(series(48, 12, 7.1e6), 1)), ask(draws=0)

    def told_of(k):
        if k == 2:
            raise BadInput("setup.toml:3: no such key")
        return good, asked

    answers = review_many(range(5), told_of)
    assert [next(answers)[0], next(answers)[0]] == [0, 1]
    with pytest.raises(BadInput, match=r"setup\.toml:3"):
        next(answers)


def test_words_of_a_band_are_made_when_asked_for():
    (answer,) = review_alike([Sweep.from_gamma(F_HZ, made(series(48, 12, 7.1e6), 1))], ask(draws=0))
    assert answer.bands._made == [None]
    assert answer.bands[0].why
    assert [band.name for band in answer.bands[:1]] == [answer.bands[-1].name]
