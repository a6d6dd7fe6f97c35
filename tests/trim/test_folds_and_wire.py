"""What a fold is worth, and what the wire was like at earlier sweeps."""

import numpy as np
import pytest

from sweepkit.errors import BadInput
from sweepkit.trim.folds import draw_folds
from sweepkit.trim.wire import EarlierState, WireState, reconstruct

N = 20_000


def law(lies):
    return draw_folds(lies, N, np.random.default_rng(0))


# Source: wire models, the rows of the law itself (docs/trimming.md): at 7 % of a 10 m leg a tail in contact is
# worth 0.96 of a cut, taped 0.90, 5 mm away 0.83, 2 cm 0.65, 5 cm 0.51; wires people use are a little thicker than
# those of the law, which makes a loose tail worth a little more.
@pytest.mark.parametrize(
    ("lies", "worth"), [("contact", 0.96), ("taped", 0.90), (0.005, 0.83), (0.02, 0.65), (0.05, 0.51)]
)
def test_a_fold_is_worth_what_the_law_says(lies, worth):
    drawn = law(lies).value_m(0.70) / 0.70
    assert worth - 0.005 < float(np.mean(drawn)) < worth + 0.04
    assert np.quantile(drawn, 0.025) < worth < np.quantile(drawn, 0.975)


# Source: wire models, 5 mm: 1 to 4 cm, 2 cm: 4 to 8 (insulated 4.8), 5 cm: 9 to 16.
@pytest.mark.parametrize(
    ("lies", "dead_m"), [(0.005, (0.01, 0.04)), (0.02, (0.04, 0.08)), (0.05, (0.09, 0.16))]
)
def test_the_first_centimetres_of_a_loose_tail_do_nothing(lies, dead_m):
    low, middle, high = np.quantile(law(lies).dead_m, [0.025, 0.5, 0.975])
    assert low < dead_m[0] + 0.002
    assert dead_m[0] < middle < dead_m[1]
    assert high > dead_m[1] - 0.004


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
