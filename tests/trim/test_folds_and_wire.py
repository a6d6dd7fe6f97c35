"""What a fold is worth, and what the wire was like at earlier sweeps."""

import numpy as np
import pytest

from sweepkit.antennas.wires_used import ToldWire
from sweepkit.errors import BadInput
from sweepkit.trim.folds import draw_folds, fold_value_m
from sweepkit.trim.wire import EarlierState, WireState, reconstruct

N = 20_000


def law(lies):
    return draw_folds(lies, N, np.random.default_rng(0))


# Source: wire models of others, thin wire: m (x - dead) with m 0.96, 0.91, 0.85, 0.70 and 0.63 and dead 0, 0.7, 2, 5
# and 13 cm, m to 3 %.
@pytest.mark.derived
@pytest.mark.parametrize(
    ("lies", "worth"), [("contact", 0.96), ("taped", 0.90), (0.005, 0.83), (0.02, 0.65), (0.05, 0.51)]
)
def test_a_fold_is_worth_what_wire_models_say(lies, worth):
    drawn = law(lies).value_m(0.70) / 0.70
    assert float(np.median(drawn)) == pytest.approx(worth, rel=0.03)
    assert np.quantile(drawn, 0.025) < worth < np.quantile(drawn, 0.975)


# Source: the same, 1 to 4 cm at 5 mm, 4 to 8 at 2 cm, 9 to 16 at 5 cm; tails of half a metre and more.
@pytest.mark.derived
@pytest.mark.parametrize(
    ("lies", "dead_m"), [(0.005, (0.01, 0.04)), (0.02, (0.04, 0.08)), (0.05, (0.09, 0.16))]
)
def test_the_first_centimetres_of_a_loose_tail_do_nothing(lies, dead_m):
    dead = draw_folds(lies, N, np.random.default_rng(0), about_m=0.7).dead_m
    assert dead_m[0] < np.median(dead) < dead_m[1]


# Fold, spacing, radius that holds the charge, worth: wire models of ours (tests/models/folds_study.py) [m].
@pytest.mark.frozen
@pytest.mark.parametrize(
    ("fold_m", "spacing_m", "charge_m", "worth_m"),
    [
        (0.1179, 0.0077, 0.000919, 0.0793),
        (0.3751, 0.0122, 0.001186, 0.2658),
        (0.9872, 0.0039, 0.000932, 0.8576),
        (0.6121, 0.0229, 0.001311, 0.4015),
        (0.1572, 0.0337, 0.000845, 0.0619),
        (0.2741, 0.0042, 0.000553, 0.2133),
    ],
)
def test_the_law_is_that_of_wire_models_of_any_spacing_and_wire(fold_m, spacing_m, charge_m, worth_m):
    arrays = (np.array([value]) for value in (fold_m, spacing_m, charge_m))
    assert fold_value_m(*arrays)[0] == pytest.approx(worth_m, rel=0.02)


def test_a_told_wire_is_worth_more_the_thicker_it_acts():
    thin, thick, sleeved = (
        float(np.median(draw_folds(0.02, N, np.random.default_rng(0), wire=wire).value_m(0.5)))
        for wire in (ToldWire(0.3e-3, 1.0), ToldWire(1e-3, 1.0), ToldWire(0.3e-3, 2.5))
    )
    assert thin < sleeved < thick


def test_a_told_wire_narrows_what_a_fold_is_worth():
    told = draw_folds(0.005, N, np.random.default_rng(0), wire=ToldWire(0.5e-3, 1.0))
    assert np.std(told.value_m(0.5)) < 0.85 * np.std(law(0.005).value_m(0.5))


def test_the_line_follows_the_law_near_the_fold_in_question():
    near, far = (
        np.median(draw_folds(0.05, N, np.random.default_rng(0), about_m=a).value_m(0.3)) for a in (0.3, 1.5)
    )
    assert near > 1.05 * far  # further out a line is steeper and begins later


def test_a_tail_in_contact_acts_from_the_start():
    assert float(np.mean(law("contact").value_m(0.05))) == pytest.approx(0.048, abs=0.001)


@pytest.mark.identity
def test_the_tail_for_a_worth_is_worth_it():
    folds = law(None)
    wanted = np.full(N, 0.3)
    np.testing.assert_allclose(folds.worth * (folds.tail_worth_m(wanted) - folds.dead_m), 0.3, rtol=1e-12)


def test_untold_lies_are_wide():
    assert np.std(law(None).worth) > 2 * np.std(law("taped").worth)


def test_history_of_folds():
    earlier = (EarlierState("a", 10.40, False, "fold"), EarlierState("b", 10.20, False, "fold"))
    history = reconstruct(earlier, length_m=10.10, tail_m=None)
    assert [state.length_m for state in history.states] == [10.40, 10.20]
    assert [state.tail_m for state in history.states] == pytest.approx([0.0, 0.20])
    assert history.present.tail_m == pytest.approx(0.30)


def test_history_of_cuts_and_relative_lengths():
    earlier = (EarlierState("a", 0.30, True, "cut"), EarlierState("b", 0.10, True, "fold"))
    history = reconstruct(earlier, length_m=10.10, tail_m=None)
    assert [state.length_m for state in history.states] == pytest.approx([10.40, 10.20])
    assert [state.tail_m for state in history.states] == pytest.approx([0.0, 0.0])
    assert history.present.tail_m == pytest.approx(0.10)


def test_a_tail_that_was_there_before_is_kept():
    earlier = (EarlierState("a", 10.40, False, "fold"),)
    history = reconstruct(earlier, length_m=10.20, tail_m=0.50)
    assert history.states[0].tail_m == pytest.approx(0.30)


def test_folds_that_add_up_to_more_than_the_tail_are_refused():
    with pytest.raises(
        BadInput, match=r"--earlier a: 20 cm were folded since then, but the tail is 10 cm long"
    ):
        reconstruct((EarlierState("a", 10.40, False, "fold"),), length_m=10.20, tail_m=0.10)


def test_a_negative_length_then_is_refused():
    with pytest.raises(BadInput, match=r"--earlier a: the part would have been -1\.00 m long"):
        reconstruct((EarlierState("a", -11.1, True, "cut"),), length_m=10.1, tail_m=None)


@pytest.mark.identity
def test_without_a_tail_the_wire_acts_as_long_as_it_is():
    np.testing.assert_array_equal(WireState(10.2).acting_m(law(None)), 10.2)
