"""Cautions: nothing of what must be said is lost, and what begins a setup begins with looking up."""

from __future__ import annotations

import pytest

from sweepkit import cautions


def test_a_setup_begins_with_looking_up():
    assert cautions.BEFORE_SETTING_UP[0] == cautions.LOOK_UP
    assert cautions.LOOK_UP.startswith("LOOK UP")
    assert len(cautions.LOOK_UP) <= 40


# Source of the distances: 29 CFR 1910.333(c)(3), 10 ft up to 50 kV; twice the height: a maker's sheet.
@pytest.mark.parametrize(
    ("texts", "words"),
    [
        (
            cautions.BEFORE_SETTING_UP,
            [
                "3 m (10 ft)",
                "twice its height",
                "whichever is more",
                "thunder",
                "analyzer",
                "Bypass the tuner",
                "direct current",
            ],
        ),
        (cautions.BEFORE_TRIMMING, ["off and disconnected", "cannot be undone", "low power"]),
        (
            cautions.BEFORE_TRANSMITTING,
            [
                "exposure",
                "gives no distances",
                "licence",
                "burn",
                "neither",
                "heat at a low SWR",
                "beside you",
            ],
        ),
    ],
)
def test_each_step_says_what_it_must(texts, words):
    together = " ".join(texts)
    assert [word for word in words if word not in together] == []


def test_every_caution_belongs_to_a_step():
    steps = {*cautions.BEFORE_SETTING_UP, *cautions.BEFORE_TRIMMING, *cautions.BEFORE_TRANSMITTING}
    texts = {value for name, value in vars(cautions).items() if name.isupper() and isinstance(value, str)}
    assert texts == steps | {cautions.IN_SHORT}  # which stands for the last step where there is little room
