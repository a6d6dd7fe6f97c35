"""A line told wrongly is named, one told right hardly ever is doubted, and what was learned is said."""

from __future__ import annotations

import numpy as np
import pytest

from sweepkit import read_sweep
from sweepkit.feedline.chain import LineChain, scores_per_chain
from sweepkit.lines import parse_piece
from sweepkit.reviews import review
from sweepkit.station.evidence import BY_ANALYZER, BY_KIND
from sweepkit.station.learned_words import say_learned
from sweepkit.station.outing import listen_each
from sweepkit.station.posterior import Learned
from tests.test_posterior import MODEL, set_up


def chain_of(*specs):
    return LineChain([parse_piece(spec) for spec in specs])


def heard(right, told, seed):
    curve, *_ = set_up(seed, chain=chain_of(*right))
    return listen_each([curve], chain_of(*told), MODEL, reference_ohm=50.0)[0]


@pytest.mark.parametrize(
    ("right", "told", "word", "at_least"),
    [
        (("RG-58 18 m",), ("RG-58 36 m",), 'length = "18 m"', 5),
        (("RG-59 18 m",), ("RG-58 18 m",), "z0_ohm = 75", 5),
        (("RG-58 18 m",), ("RG-59 18 m",), "z0_ohm = 50", 5),
        (("RG-58 6 m",), ("RG-59 6 m",), "z0_ohm = 50", 4),
        (("RG-59 6 m",), ("RG-58 6 m",), "z0_ohm = 75", 4),
        (("RG-8X 18 m",), ("RG-58 18 m",), "velocity_factor = 0.8", 3),
        (("RG-58 12 m", "RG-59 6 m"), ("RG-59 6 m", "RG-58 12 m"), "in order from the radio", 3),
    ],
)
def test_a_line_told_wrongly_is_named_and_nothing_learned(right, told, word, at_least):
    named = 0
    for seed in range(6):
        outing = heard(right, told, seed)
        if outing.finding is not None:
            assert outing.finding.code == "line-told-wrong"
            assert outing.learned is None
            named += word in outing.finding.next_step
    assert named >= at_least


def test_a_line_told_right_is_hardly_ever_doubted():
    for right in (("RG-58 18 m",), ("RG-58 5 m",), ("RG-58 12 m", "RG-59 6 m")):
        assert sum(heard(right, right, seed).finding is not None for seed in range(12)) <= 1


def test_what_was_learned_is_said(samples):
    sweep = read_sweep(samples / "meadow_vertical_1.s1p")
    said = {finding.code: finding for finding in review(sweep, lines=["RG-58 12 m"], draws=20).findings}
    assert "RG-58 12 m fits as told (+" in said["line-fits"].text
    assert "directivity about" in said["line-fits"].text
    without = review(sweep, lines=["RG-58 12 m"], draws=0).findings
    codes = {finding.code for finding in without}
    assert "line-fits" not in codes
    assert "nothing-learned" in codes
    assert "nothing-learned" not in said


def learned_with(length_sigmas, share_left, untold=0.25):
    """As if a sweep had told so much of the length, and nothing of the rest."""
    chain = chain_of("RG-58 18 m")
    mean = np.zeros(BY_ANALYZER + scores_per_chain(chain) + BY_KIND)
    mean[BY_ANALYZER], mean[BY_ANALYZER + 1] = length_sigmas, -length_sigmas
    means, factors = np.tile(mean, (3, 1)), np.tile(share_left * np.eye(mean.size), (3, 1, 1))
    weights = np.array([1 - untold, untold, 0])
    return Learned(chain, MODEL, weights, np.arange(3), means, factors, 1.0, {0.25: 0.0}, 0.0)


def test_a_line_off_is_said_with_the_key_to_change_and_a_blind_sweep_says_that():
    off = say_learned(learned_with(2.0, 0.3), 14e6)
    # 18 m is known to 0.18 and 0.05 m, a velocity factor to 1 %: 0.66 / (1 + 2 (0.1868 / 18 + 0.01)) = 0.6342
    assert "velocity factor 0.66 told, 0.63 fits" in off.text
    assert off.next_step == "tell it in the kit: velocity_factor = 0.634"
    assert "18 m fits as told (+0.0 %" in say_learned(learned_with(0.0, 0.3), 14e6).text
    assert "hardly told" in say_learned(learned_with(0.0, 1.0), 14e6).text
    something = say_learned(learned_with(0.0, 0.3, untold=0.97), 14e6)
    assert "that nobody told of fits better than the line as told" in something.text
    assert "connectors and adapters" in something.next_step
    assert "nobody told" not in off.text
