"""Points that do not tell where the curve runs are dots on a dashed line that says so, never a curve."""

import pytest

from sweepkit.plots.one_sweep import plot_impedance, plot_return_loss, plot_swr
from sweepkit.plots.overlay import plot_overlay
from sweepkit.plots.repeats import plot_repeats
from sweepkit.plots.setup import plot_setup
from sweepkit.plots.smith import plot_smith
from sweepkit.readers import read_sweep
from sweepkit.reviews import review, review_repeats, review_setup
from tests.conftest import SAMPLES
from tests.plots.overlaps import outside, overlapping


@pytest.mark.parametrize("plot", [plot_swr, plot_return_loss, plot_impedance])
@pytest.mark.parametrize(
    ("name", "is_coarse"), [("spit_whip_40m_coarse.s1p", True), ("spit_whip_40m.s1p", False)]
)
def test_coarse_points_are_never_drawn_as_a_curve(plot, name, is_coarse):
    sweep = read_sweep(SAMPLES / name)
    axes = plot(review(sweep, draws=20)).axes[0]
    texts = [text.get_text() for text in axes.texts]
    assert ("too coarse" in texts) == is_coarse
    curves = [line for line in axes.lines if len(line.get_xdata()) > 10 and line.get_linestyle() != "None"]
    assert {line.get_marker() for line in curves} == ({"o"} if is_coarse else {"None"})
    if is_coarse:
        assert all(line.get_linestyle() == "--" for line in curves)
        assert all(len(line.get_xdata()) == sweep.f_hz.size for line in curves)
        assert "interval" not in axes.get_title(loc="left")
        assert not axes.collections


COARSE, FINE = "spit_whip_40m_coarse.s1p", "spit_whip_40m.s1p"


def drawn(figure):
    """Whether each line by its label is dots on a dashed line, and how often "too coarse" is said."""
    lines = {
        str(line.get_label()): (line.get_marker(), line.get_linestyle()) == ("o", "--")
        for axes in figure.axes
        for line in axes.lines
        if not str(line.get_label()).startswith(("_", "band"))
    }
    return lines, sum(text.get_text() == "too coarse" for axes in figure.axes for text in axes.texts)


def test_an_overlay_and_a_setup_draw_the_coarse_one_alone_as_dots():
    sweeps = [read_sweep(SAMPLES / name) for name in (COARSE, "ridge_dipole_40m.s1p")]
    figure = plot_overlay([review(sweep, draws=20) for sweep in sweeps])
    assert overlapping(figure) == outside(figure) == []
    lines, said = drawn(figure)
    assert (lines, said) == ({COARSE: True, "ridge_dipole_40m.s1p": False}, 1)
    answer = review_setup([read_sweep(SAMPLES / name) for name in (COARSE, FINE)], draws=20)
    assert len(answer.parts) == 2
    assert drawn(plot_setup(answer)) == ({COARSE: True, FINE: False}, 1)


@pytest.mark.parametrize(("name", "is_coarse"), [(COARSE, True), (FINE, False)])
def test_repeats_and_smith_chart_of_coarse_points_are_dots_without_dips(name, is_coarse):
    sweep = read_sweep(SAMPLES / name)
    for figure in (plot_repeats(review_repeats([sweep] * 3, draws=20)), plot_smith(review(sweep, draws=20))):
        assert overlapping(figure) == outside(figure) == []
        lines, said = drawn(figure)
        assert set(lines.values()) == {is_coarse}
        assert said == is_coarse
        assert (
            any("SWR" in text.get_text() and "MHz" in text.get_text() for text in figure.axes[0].texts)
            != is_coarse
        )
