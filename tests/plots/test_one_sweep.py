"""Pictures of one sweep: data and labels read back."""

from __future__ import annotations

import numpy as np
import pytest
from matplotlib.figure import Figure

from sweepkit.errors import BadInput
from sweepkit.plots.labels import Names
from sweepkit.plots.look import NARROW, WIDE
from sweepkit.plots.one_sweep import plot_impedance, plot_return_loss, plot_swr
from sweepkit.plots.over_frequency import dips_hz, shown_view
from sweepkit.plots.smith import plot_smith, smith_lines
from sweepkit.plots.traces import trace_curve
from sweepkit.readers import read_sweep
from sweepkit.reviews import review
from sweepkit.sweep import Sweep
from tests.conftest import SAMPLES
from tests.plots.overlaps import drawn_texts, outside, overlapping

DRAWINGS = (plot_swr, plot_impedance, plot_return_loss, plot_smith)


def words(figure: Figure) -> str:
    return "\n".join(text.get_text() for text in drawn_texts(figure))


def test_the_swr_curve_is_that_of_the_sweep(dipole):
    figure = plot_swr(dipole)
    curve = figure.axes[0].lines[0]
    gamma = dipole.sweep.gamma
    measured = (1 + np.abs(gamma)) / (1 - np.abs(gamma))
    drawn = np.interp(dipole.sweep.f_hz / 1e6, curve.get_xdata(), curve.get_ydata())
    # 0.004: noise 0.001 of the sample turned into SWR, 2·0.001/(1 - 0.2)², and a little room
    near = measured < 2
    assert drawn[near] == pytest.approx(measured[near], abs=0.004 * 3)


def test_the_swr_picture_says_what_is_needed(dipole):
    text = words(plot_swr(dipole))
    for word in ("SWR to 50 ohm", "frequency, MHz", "40 m", "limit 2", "7.094 MHz", "SWR 1.52", "95 %"):
        assert word in text
    assert "ridge_dipole_40m.s1p: SWR at the feedpoint" in text


def test_the_ribbon_holds_the_curve(dipole):
    axes = plot_swr(dipole).axes[0]
    path = axes.collections[0].get_paths()[0].vertices
    curve = axes.lines[0]
    for f_mhz, swr in zip(curve.get_xdata()[1:-1:40], curve.get_ydata()[1:-1:40], strict=True):
        heights = path[np.isclose(path[:, 0], f_mhz), 1]
        assert heights.min() <= swr <= heights.max()
        assert heights.max() > heights.min()


def test_r_and_x_are_drawn_with_their_units_and_differ_in_more_than_colour(dipole):
    figure = plot_impedance(dipole)
    axes = figure.axes[0]
    curves = [line for line in axes.lines if line.get_linestyle() != "None" and len(line.get_xdata()) > 2]
    assert len(curves) == 2
    assert curves[0].get_linestyle() != curves[1].get_linestyle()
    dip = dipole.main_plane.dips[0]
    at = [np.interp(dip.f_hz.value / 1e6, line.get_xdata(), line.get_ydata()) for line in curves]
    assert at[0] == pytest.approx(dip.r_ohm.value, abs=0.2)
    assert at[1] == pytest.approx(dip.x_ohm.value, abs=0.2)
    assert "R and X, ohm" in words(figure)
    assert "R, resistance" in words(figure)


def test_return_loss_is_positive_and_goes_down(dipole):
    axes = plot_return_loss(dipole).axes[0]
    bottom, top = axes.get_ylim()
    assert bottom > top
    assert axes.lines[0].get_ydata().max() == pytest.approx(
        dipole.main_plane.dips[0].return_loss_db.value, abs=0.02
    )


def test_the_smith_chart_shows_the_reflection(dipole):
    axes = plot_smith(dipole).axes[0]
    sweep = next(line for line in axes.lines if line.get_label() == "sweep")
    start = complex(sweep.get_xdata()[0], sweep.get_ydata()[0])
    assert start == pytest.approx(complex(dipole.sweep.gamma[0]), abs=0.003)
    assert axes.get_aspect() == 1.0


def test_the_smith_chart_says_what_its_colours_are(dipole):
    words = plot_smith(dipole).axes[0].get_xlabel()
    assert "; gold: bands" in words
    assert "thin grey" not in words  # all of a sweep of one band is drawn strong


def test_values_of_resistance_keep_to_the_side_that_the_curve_leaves_free():
    axes = plot_smith(review(read_sweep(SAMPLES / "glade_fan.s1p"), draws=5)).axes[0]
    names = Names(axes)
    sweep = next(line for line in axes.lines if line.get_label() == "sweep")
    names.keep_off(sweep.get_xdata(), sweep.get_ydata())
    of_r = [text for text in axes.texts if text.get_position()[1] == 0.0 and not hasattr(text, "xy")]
    asked = [(text.get_text(), *text.get_position(), text.get_fontsize()) for text in of_r]
    assert any(names.count_under(*one, "left", "bottom") for one in asked)  # two would be crossed there
    for one, text in zip(asked, of_r, strict=True):
        assert names.count_under(*one, text.get_ha(), text.get_va()) == 0


def test_the_smith_chart_marks_round_frequencies_on_its_curve(dipole):
    axes = plot_smith(dipole).axes[0]
    marks = [line for line in axes.lines if line.get_marker() == "o"]
    named = {
        text.xy: float(text.get_text()) for text in axes.texts if _is_number(text) and hasattr(text, "xy")
    }
    assert len(marks) >= 3
    assert len(named) >= 3
    for (x, y), mhz in named.items():
        measured = np.interp(mhz * 1e6, dipole.sweep.f_hz, dipole.sweep.gamma)
        assert complex(x, y) == pytest.approx(complex(measured), abs=0.005)  # the sample's noise is 0.002


def _is_number(text):
    return text.get_text().replace(".", "", 1).isdigit()


def test_of_a_wide_sweep_the_smith_chart_shows_what_is_asked_for():
    f_hz = np.linspace(5e6, 16e6, 441)
    z_ohm = 50 * (1 + 20j * (f_hz / 7.1e6 - 7.1e6 / f_hz))
    gamma = (z_ohm - 50) / (z_ohm + 50)
    answer = review(Sweep(f_hz=f_hz, gamma=gamma, gamma_abs=np.abs(gamma)), measured_at="feedpoint", draws=20)
    assert {"40 m", "20 m"} <= {band.name for band in answer.bands}
    axes = plot_smith(answer).axes[0]
    sweep = next(line for line in axes.lines if line.get_label() == "sweep")
    seen = np.isfinite(sweep.get_xdata())
    assert 0 < np.mean(seen) < 0.5
    assert (
        min(abs(x + 1j * y) for x, y in zip(sweep.get_xdata()[seen], sweep.get_ydata()[seen], strict=True))
        < 0.02
    )


@pytest.mark.identity
def test_lines_of_equal_r_and_x_are_circles():
    # Circles of the Smith chart: R/Z0 = r has centre r/(1+r) and radius 1/(1+r); X/Z0 = x has centre 1 + j/x, 1/x.
    for k, line in enumerate(smith_lines()):
        ratio = (0.2, 0.5, 1.0, 2.0, 5.0)[k // 3]
        if k % 3 == 0:
            centre, radius = ratio / (1 + ratio), 1 / (1 + ratio)
        else:
            centre, radius = 1 + (1j if k % 3 == 1 else -1j) / ratio, 1 / ratio
        assert np.abs(line - centre) == pytest.approx(radius, rel=1e-9)


def test_a_sweep_without_phase_has_swr_and_no_impedance(magnitude_only):
    assert plot_swr(magnitude_only).axes
    with pytest.raises(BadInput, match="no signed phase"):
        plot_impedance(magnitude_only)
    with pytest.raises(BadInput, match="no signed phase"):
        plot_smith(magnitude_only)


@pytest.mark.parametrize("draw", DRAWINGS)
@pytest.mark.parametrize("size", [WIDE, NARROW, (5.2, 5.6)])
@pytest.mark.parametrize("name", ["dipole", "coarse_whip", "behind_a_line"])
def test_no_text_lies_over_another_or_leaves_the_picture(draw, size, name, request):
    figure = draw(request.getfixturevalue(name), size=size)
    assert overlapping(figure) == []
    assert outside(figure) == []


def test_the_curve_of_a_jumped_dip_goes_round_it_where_it_is_read_off(coarse_whip):
    view = shown_view(coarse_whip)
    traces = trace_curve(view, through_hz=dips_hz(coarse_whip, view))
    assert np.abs(np.diff(traces.gamma)).max() < 0.12


def test_a_hostile_name_is_drawn_as_text(dipole):
    from dataclasses import replace

    source = replace(dipole.sweep.source, path="sweeps/$frac{1}{0}$ \u202egnp.漢 <b>.s1p")
    figure = plot_swr(replace(dipole, sweep=replace(dipole.sweep, source=source)))
    assert r"$frac{1}{0}$ \u202egnp.? <b>.s1p: SWR" in words(
        figure
    )  # drawn without error: not taken for mathematics
    assert "\u202e" not in words(figure)


def test_bands_beside_a_dip_are_named_off_the_curve_and_each_dip_has_its_figures():
    swept = review(read_sweep(SAMPLES / "crag_end_fed.s1p"), draws=50)
    figure = plot_swr(swept)
    (axes,) = figure.axes
    figure.canvas.draw()
    curve = max((line for line in axes.lines), key=lambda line: len(line.get_xdata()))
    points = axes.transData.transform(np.column_stack([curve.get_xdata(), curve.get_ydata()]))
    named = {text.get_text(): text.get_window_extent() for text in axes.texts}
    for band in ("80 m", "60 m", "40 m", "20 m", "15 m", "10 m"):
        box = named[band]
        assert not ((points > (box.x0, box.y0)) & (points < (box.x1, box.y1))).all(axis=1).any(), band
    assert sum("SWR" in text for text in named) == len(swept.main_plane.dips)
