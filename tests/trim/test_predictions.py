"""Past predictions: how far off, how many inside."""

import pytest

from sweepkit.figures import Figure
from sweepkit.trim.predictions import PastPrediction, predictions_text


def past(predicted, dip_hz):
    return PastPrediction(1, predicted, Figure(dip_hz))


def test_how_far_off_and_how_many_inside():
    told = Figure(7.100e6, 7.090e6, 7.110e6)
    three = [past(told, 7.112e6), past(told, 7.092e6), past(told, 7.110e6)]
    assert [each.off_hz for each in three] == [12e3, -8e3, 10e3]
    assert [each.is_inside for each in three] == [False, True, True]
    assert predictions_text(three) == (
        "3 past predictions for this antenna: off by +12, -8, +10 kHz; 2 of 3 inside their interval."
    )


def test_a_prediction_without_interval_is_neither_inside_nor_outside():
    one = past(Figure(7.1e6), 7.105e6)
    assert one.is_inside is None
    assert predictions_text([one]) == "1 past prediction for this antenna: off by +5 kHz."
    assert one.to_json()["inside"] is None


def test_no_answer_is_no_prediction():
    with pytest.raises(ValueError, match="needed"):
        past(Figure.none("no dip"), 7.1e6)
