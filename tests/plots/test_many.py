"""Pictures of several sweeps and of what other answers need."""

from __future__ import annotations

import numpy as np
import pytest

from sweepkit.errors import BadInput
from sweepkit.figures import Figure as Value
from sweepkit.plots.along_line import Place, plot_along_line
from sweepkit.plots.look import NARROW, size_pt
from sweepkit.plots.over_frequency import SwrLine
from sweepkit.plots.overlay import NamedLine, overlay_swr, plot_overlay
from sweepkit.plots.radials import RadialStep, plot_radials
from sweepkit.plots.spread import plot_spread
from sweepkit.plots.traces import Trace
from sweepkit.plots.trimming import TrimStep, plot_trim
from tests.plots.conftest import curves_of_setups
from tests.plots.overlaps import drawn_texts, outside, overlapping


@pytest.mark.parametrize("count", range(1, 13))
def test_an_overlay_is_readable_at_one_to_twelve_curves(count):
    curves = curves_of_setups(count)
    figure = overlay_swr(curves, limit_swr=2.0)
    assert overlapping(figure) == []
    assert outside(figure) == []
    by_label = {line.get_label(): line for line in figure.axes[0].lines}
    styles = set()
    for curve in curves:
        line = by_label[curve.name]
        assert np.array_equal(line.get_ydata(), curve.line.swr.value)
        styles.add((line.get_color(), str(line._dash_pattern)))
    assert len(styles) == count
    texts = [text.get_text() for text in drawn_texts(figure)]
    assert all(curve.name in texts for curve in curves)


def test_names_stand_in_the_order_in_which_the_curves_end():
    curves = curves_of_setups(6)
    figure = overlay_swr(curves)
    names = {text.get_text(): text.get_position()[1] for text in figure.axes[0].texts}
    ends = sorted(curves, key=lambda curve: curve.line.swr.value[-1])
    heights = [names[curve.name] for curve in ends]
    assert heights == sorted(heights)


def test_leaders_end_on_their_own_curves():
    f_hz = np.linspace(7e6, 7.3e6, 61)
    rising = [
        NamedLine(f"{k}.s1p", SwrLine(f_hz, Trace(1.2 + (k + 4) * (f_hz - 7e6) / 1e5))) for k in range(6)
    ]
    figure = overlay_swr(rising)
    axes = figure.axes[0]
    leaders = [line for line in axes.lines if line.get_linewidth() == 0.6]
    high = axes.get_ylim()[1]
    assert any(curve.line.swr.value[-1] > high for curve in rising)  # some leave the picture at its top
    curves = [
        (axes.transData + axes.transAxes.inverted()).transform(line.get_xydata()) for line in axes.lines[:6]
    ]
    for leader in leaders:
        start = leader.get_xydata()[0]
        assert min(float(np.hypot(*(curve - start).T).min()) for curve in curves) < 1e-6
        assert start[1] <= 1.0


def test_a_narrow_overlay_names_its_curves_above():
    figure = overlay_swr(curves_of_setups(12), words="", limit_swr=2.0, size=NARROW)
    assert overlapping(figure) == outside(figure) == []
    assert {f"setup {k}" for k in range(1, 13)} <= {text.get_text() for text in drawn_texts(figure)}
    assert size_pt(figure.axes[0])[0] > 0.75 * 72 * NARROW[0]


def test_too_many_curves_are_refused():
    with pytest.raises(BadInput, match="13 curves; a picture takes 1 to 12"):
        overlay_swr(curves_of_setups(13))


def test_reviews_over_one_another(dipole, coarse_whip):
    figure = plot_overlay([dipole, coarse_whip])
    assert {"ridge_dipole_40m.s1p, feedpoint", "spit_whip_40m_coarse.s1p"} <= {
        line.get_label() for line in figure.axes[0].lines
    }
    assert overlapping(figure) == []


def test_an_overlay_says_where_its_sweeps_were_taken(dipole, behind_a_line):
    alike = plot_overlay([dipole, dipole])
    assert any("several sweeps at the feedpoint" in text.get_text() for text in drawn_texts(alike))
    mixed = plot_overlay([dipole, behind_a_line])
    labels = {line.get_label() for line in mixed.axes[0].lines}
    assert {"ridge_dipole_40m.s1p, feedpoint", "valley_dipole_rg58.s1p, radio"} <= labels
    assert overlapping(mixed) == []


def test_places_along_a_line_are_named_with_their_intervals():
    distance_m = np.linspace(0, 30, 301)
    size_db = -40 + 26 * np.exp(-((distance_m - 8) ** 2)) + 36 * np.exp(-((distance_m - 20) ** 2))
    places = [Place(Value(8.0, 7.8, 8.2), -14.0, "step up"), Place(Value(20.0, 19.8, 20.2), -3.0, "open")]
    figure = plot_along_line(distance_m, size_db, places=places, resolution_m=1.7, name="$spool$")
    text = "\n".join(t.get_text() for t in drawn_texts(figure))
    assert "8.00 m\n(7.80 to 8.20)" in text
    assert "distance from the near end, m" in text
    assert np.array_equal(figure.axes[0].lines[0].get_xdata(), distance_m)
    assert overlapping(figure) == []


def test_narrow_pictures_have_room_for_all_their_words():
    distance_m = np.linspace(0, 30, 301)
    line = plot_along_line(distance_m, np.full(301, -30.0), velocity_factor=0.66, size=NARROW, titled=False)
    trim = plot_trim(
        [TrimStep(10.5, Value(6.87e6)), TrimStep(10.1, Value(7.08e6))], target_hz=7.1e6, size=NARROW
    )
    for figure in (line, trim):
        assert outside(figure) == overlapping(figure) == []
    assert "0.66" in line.axes[0].get_xlabel()


def test_trim_progress_shows_steps_line_and_target():
    at_m = np.linspace(10.0, 10.6, 20)
    hz = 7.1e6 - 6.4e5 * (at_m - 10.15)
    steps = [TrimStep(10.5, Value(6.87e6, 6.86e6, 6.88e6), "first"), TrimStep(10.3, Value(7.0e6), "second")]
    figure = plot_trim(
        steps,
        target_hz=7.1e6,
        line_m=at_m,
        line_hz=np.array([hz - 1e4, hz, hz + 1e4]),
        predicted=TrimStep(10.18, Value(7.08e6, 7.05e6, 7.11e6), "fold 12 cm"),
    )
    axes = figure.axes[0]
    marks = [line for line in axes.lines if line.get_marker() in ("o", "D")]
    assert list(marks[0].get_xdata()) == [10.5, 10.3]
    assert list(marks[0].get_ydata()) == pytest.approx([6.87, 7.0])
    assert list(marks[1].get_ydata()) == pytest.approx([7.08])
    text = "\n".join(t.get_text() for t in drawn_texts(figure))
    assert "target 7.100 MHz" in text
    assert "fold 12 cm" in text
    assert overlapping(figure) == []
    assert outside(figure) == []


def test_one_step_is_enough_for_a_trim_picture():
    figure = plot_trim([TrimStep(10.5, Value(6.87e6))], target_hz=7.1e6)
    assert overlapping(figure) == []


@pytest.mark.parametrize("sites", [1, 4, 12])
def test_spread_has_a_row_for_each_site(sites):
    groups = {
        f"site {k}": [Value(7.0e6 + 1e4 * k, 6.99e6, 7.2e6), Value.none("no dip")] for k in range(sites)
    }
    figure = plot_spread(groups, words="dip at each site", along="dip, MHz", scale=1e-6, usual_spread=9e3)
    labels = [label.get_text() for label in figure.axes[0].get_yticklabels()]
    assert labels == list(groups)
    assert overlapping(figure) == []
    assert outside(figure) == []


def test_nothing_to_spread_is_refused():
    with pytest.raises(BadInput, match="no spread to draw"):
        plot_spread({"site": [Value.none("no dip")]}, words="dip", along="dip, MHz")


def test_radials_leave_out_what_nobody_has():
    steps = [RadialStep(n, Value(7.1e6), Value(40.0 + 60 / n), Value.none("no phase")) for n in (2, 4, 8)]
    figure = plot_radials(steps, name="whip")
    assert [axes.get_title(loc="left") for axes in figure.axes] == ["dip, MHz", "R at the dip, ohm"]
    assert overlapping(figure) == []
