"""Words of a difference agree with its verdict."""

from __future__ import annotations

from sweepkit.comparison import today
from sweepkit.comparison.differences import Difference, Scale
from sweepkit.figures import Figure
from sweepkit.report.compare_words import difference_line


def moved(value, half, limit, *, told, verdict, why="", hides=""):
    """A dip that moved so far, where putting up again moves it by ``limit`` and another site by 241 kHz."""
    rungs = (("put-up-again", limit), ("another-site", 241e3))
    scales = tuple(Scale(rung, size, abs(value) - half > size) for rung, size in rungs)
    shown = Figure(value, value - half, value + half)
    return Difference(
        "dip_hz", "a", "b", shown, scales=scales, told=told, verdict=verdict, why=why, hides=hides
    )


def test_different_groups_say_beyond_what_and_what_could_explain_it():
    line = difference_line(moved(169e3, 69e3, 0.0, told="put-up-again", verdict="different"))
    assert "explains, though less than another site (up to 241). Different: beyond putting up again." in line


def test_within_names_the_change_that_would_not_show():
    why = "not shown different: up to 439 kHz would hide in it; held against x"
    line = difference_line(
        moved(176e3, 7e3, 74e3, told="another-site", verdict="within", why=why, hides="439 kHz")
    )
    assert line.endswith("At another site: within, and a change of up to 439 kHz would not show.")


def test_what_is_not_surely_outside_the_usual_is_not_called_inside():
    """289 kHz against 249: the interval reaches below what the two figures of a setup are allowed together."""
    for value, word in ((289e3, "not surely outside"), (240e3, "inside")):
        dip = moved(value, 9e3, 249e3, told="put-up-again", verdict="within")
        found = today._finding([dip], 1, "put-up-again", is_site_told=True)
        assert found.code == "inside-usual"
        assert found.text.startswith(f"{word} what this antenna usually does: ")
