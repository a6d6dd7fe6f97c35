"""Points that do not tell where the curve runs are dots on a dashed line that says so, never a curve."""

import pytest

from sweepkit.plots.impedance import plot_impedance
from sweepkit.plots.return_loss import plot_return_loss
from sweepkit.plots.swr import plot_swr
from sweepkit.readers import read_sweep
from sweepkit.reviews import review
from tests.conftest import SAMPLES


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
