"""Pictures for several places: curves and marks read back."""

import numpy as np
import pytest

from sweepkit.plots.several_places import plot_bands_over_length, plot_coil_map

LENGTH_M = np.linspace(18.0, 22.0, 41)


def texts(figure):
    return [text.get_text() for text in figure.axes[0].texts]


def test_a_curve_for_each_place_and_marks_for_today_best_and_first_move():
    swr = {
        "40 m": 1 + np.abs(LENGTH_M - 20),
        "20 m": np.where(LENGTH_M > 21, np.nan, 1.5 + np.abs(LENGTH_M - 19.5)),
    }
    figure = plot_bands_over_length(LENGTH_M, swr, now_m=21.0, best_m=19.8, first_m=20.2)
    lines = {line.get_label(): line for line in figure.axes[0].lines}
    assert lines["40 m"].get_ydata() == pytest.approx(swr["40 m"])
    assert np.isnan(lines["20 m"].get_ydata()[-1])
    upright = {
        round(float(line.get_xdata()[0]), 2) for line in figure.axes[0].lines if len(line.get_xdata()) == 2
    }
    assert {21.0, 19.8, 20.2} <= upright
    named = [text.get_text() for text in figure.legends[0].get_texts()]
    assert named == ["40 m", "20 m", "today 21.00 m", "best 19.80 m", "first move 20.20 m"]


def test_the_key_stands_below_the_axes_and_inside_the_picture():
    swr = {f"{k} m": 1.5 + np.abs(LENGTH_M - k) for k in range(16, 25)}
    figure = plot_bands_over_length(LENGTH_M, swr, now_m=21.0, best_m=19.8, size=(3.5, 3.2))
    figure.draw_without_rendering()
    key, axes = figure.legends[0].get_window_extent(), figure.axes[0].get_tightbbox()
    assert key.y0 >= 0
    assert key.y1 <= axes.y0
    assert figure.bbox.x0 <= key.x0
    assert key.x1 <= figure.bbox.x1


def test_the_map_of_a_coil_names_every_setting():
    taps = np.arange(5.0, 41.0)
    figure = plot_coil_map(taps, 90e6 / taps, 60e6 / taps, [(10.0, 7.1e6, "40 m"), (20.0, 3.65e6, "80 m")])
    marks = [line for line in figure.axes[0].lines if line.get_marker() == "D"]
    assert [(float(m.get_xdata()[0]), float(m.get_ydata()[0])) for m in marks] == [(10.0, 7.1), (20.0, 3.65)]
    assert {"40 m: tap 10", "80 m: tap 20"} <= set(texts(figure))
