"""Advice followed on modelled antennas: two of each family, none of which the package's numbers were made from.

Radials and coil are told. The full table is in docs/trimming.md; these few guard against losing what it shows.
"""

from pathlib import Path

import numpy as np
import pytest

from tests.models import families, trial

SPECIMENS = families.load(Path(families.__file__).parents[1] / "data" / "models" / "specimens.npz")


@pytest.fixture(scope="module")
def outcomes():
    tried = [trial.try_cut(specimen, 40 + k, told=True) for k, specimen in enumerate(SPECIMENS)]
    return [outcome for outcome in tried if outcome is not None]


def errors(outcomes, name):
    return np.abs([getattr(outcome, name) for outcome in outcomes])


def test_one_full_change_ends_near_the_target(outcomes):
    assert len(outcomes) >= 14
    assert np.median(errors(outcomes, "first")) < 0.0010
    # One of them, an end-fed very low over its ground, answers like no other and misses by 1.1 %.
    assert np.quantile(errors(outcomes, "first"), 0.9) < 0.0050
    assert np.median(errors(outcomes, "first")) < np.median(errors(outcomes, "plain"))


def test_a_second_sweep_ends_nearer(outcomes):
    assert np.median(errors(outcomes, "second")) < 0.0008
    assert np.quantile(errors(outcomes, "second"), 0.9) < 0.0025


def test_no_first_move_overshoots_and_none_makes_it_worse(outcomes):
    assert not any(outcome.capped > 0.005 for outcome in outcomes if outcome.start < 0)
    assert not any(abs(outcome.first) > abs(outcome.start) for outcome in outcomes)


def test_most_intervals_hold_the_true_change(outcomes):
    assert np.mean([outcome.inside for outcome in outcomes]) > 0.8


@pytest.mark.parametrize("told", [True, False], ids=["told", "untold"])
def test_two_folds_end_near_the_target_and_mislead_no_cut(told):
    wires = [s for s in SPECIMENS if s.spec.family in trial.FOLDED][::2]
    tried = [trial.try_folds(specimen, 90 + k, told=told) for k, specimen in enumerate(wires)]
    folds = [outcome for outcome in tried if outcome is not None]
    assert np.median(np.abs([outcome.two for outcome in folds])) < 0.0015
    assert np.max(np.abs([outcome.two for outcome in folds])) < 0.0050
    assert np.max(np.abs([outcome.then_cut for outcome in folds])) < 0.0050
