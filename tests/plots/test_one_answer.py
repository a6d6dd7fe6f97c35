"""Pictures of one answer from several sweeps: a setup, and repeats."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sweepkit.errors import BadInput
from sweepkit.plots.one_sweep import plot_swr
from sweepkit.plots.repeats import plot_repeats
from sweepkit.plots.setup import plot_setup
from sweepkit.reviews import review, review_repeats, review_setup
from sweepkit.sweep import Sweep
from tests.plots.overlaps import drawn_texts, outside, overlapping

DIPS_HZ = {"3": 3.65e6, "7": 7.1e6, "14": 14.2e6, "21": 21.2e6, "28": 28.6e6}


def made_up(
    name: str, dip_hz: float, *, span: float = 0.08, points: int = 61, moved_hz: float = 0.0, seed: int = 0
) -> Sweep:
    """A dip of 60 ohm with a Q of 12, and noise."""
    f_hz = np.linspace(dip_hz * (1 - span / 2), dip_hz * (1 + span / 2), points)
    z_ohm = 60 * (1 + 2j * 12 * (f_hz - dip_hz - moved_hz) / dip_hz)
    noise = np.random.default_rng(seed).normal(0, 0.002, (2, points))
    gamma = (z_ohm - 50) / (z_ohm + 50) + noise[0] + 1j * noise[1]
    sweep = Sweep(f_hz=f_hz, gamma=gamma, gamma_abs=np.abs(gamma))
    return replace(sweep, source=replace(sweep.source, path=f"sweeps/{name}"))


def words_of(figure) -> str:
    return "\n".join(text.get_text() for text in drawn_texts(figure))


@pytest.mark.parametrize("count", [2, 3, 5])
def test_a_setup_has_a_panel_for_each_stretch_with_its_dip(count):
    sweeps = [made_up(f"band_{name}.s1p", dip_hz) for name, dip_hz in list(DIPS_HZ.items())[:count]]
    figure = plot_setup(review_setup(sweeps, draws=50))
    assert len(figure.axes) == count
    for axes, sweep in zip(figure.axes, sweeps, strict=True):
        assert axes.get_xlim() == pytest.approx((sweep.f_hz[0] / 1e6, sweep.f_hz[-1] / 1e6))
        curve = {line.get_label(): line for line in axes.lines}[sweep.source.path.split("/")[1]]
        swr = (1 + sweep.gamma_abs) / (1 - sweep.gamma_abs)
        drawn = np.interp(sweep.f_hz / 1e6, curve.get_xdata(), curve.get_ydata())
        assert drawn == pytest.approx(swr, rel=0.06)  # the line runs through the points without their noise
        named = [text.get_text() for text in axes.texts if "SWR 1.2" in text.get_text()]
        assert len(named) == 1
        mhz = float(named[0].split()[0])
        assert mhz == pytest.approx(sweep.f_hz.mean() / 1e6, rel=2e-3)
    assert len({axes.get_ylim() for axes in figure.axes}) == 1
    assert "what was not swept is left out" in words_of(figure)
    assert overlapping(figure) == []
    assert outside(figure) == []


def test_sweeps_that_overlap_share_a_panel_and_the_finest_lies_on_top():
    fine, wide = made_up("fine.s1p", 7.1e6, points=101), made_up("wide.s1p", 7.1e6, span=0.3)
    far = made_up("far.s1p", 14.2e6)
    figure = plot_setup(review_setup([fine, far, wide], draws=50))
    assert len(figure.axes) == 2
    labels = [line.get_label() for line in figure.axes[0].lines if line.get_label().endswith(".s1p")]
    assert labels == ["wide.s1p", "fine.s1p"]
    texts = [text.get_text() for text in figure.axes[0].texts]
    assert {"wide.s1p", "fine.s1p"} <= set(texts)
    assert sum("MHz\nSWR" in text for text in texts) == 1
    assert overlapping(figure) == []


def test_too_many_sweeps_of_a_setup_are_refused():
    one = review(made_up("a.s1p", 7.1e6), draws=0)
    with pytest.raises(BadInput, match="13 sweeps; a picture takes 1 to 12"):
        plot_setup(replace(one, parts=(one,) * 13))


@pytest.mark.parametrize("count", [2, 5, 11])
def test_each_repeat_is_drawn_as_it_was_read_and_named_with_their_mean(count):
    sweeps = [made_up(f"repeat_{k}.s1p", 7.1e6, moved_hz=3e3 * k, seed=k) for k in range(count)]
    figure = plot_repeats(review_repeats(sweeps, draws=50))
    (axes,) = figure.axes
    lines = {line.get_label(): line for line in axes.lines}
    texts = words_of(figure)
    for k, sweep in enumerate(sweeps):
        line = lines[f"repeat_{k}.s1p"]
        assert line.get_xdata() == pytest.approx(sweep.f_hz / 1e6)
        assert line.get_ydata() == pytest.approx((1 + sweep.gamma_abs) / (1 - sweep.gamma_abs))
        assert f"repeat_{k}.s1p" in texts
    pens = {
        (lines[name].get_color(), str(lines[name]._dash_pattern)) for name in lines if name.endswith(".s1p")
    }
    assert len(pens) == count
    mean = np.abs(np.mean([sweep.gamma for sweep in sweeps], axis=0))
    f_mhz = sweeps[0].f_hz / 1e6
    drawn = np.interp(f_mhz, lines["mean"].get_xdata(), lines["mean"].get_ydata())
    assert drawn == pytest.approx((1 + mean) / (1 - mean), rel=0.05)
    assert f"mean of {count} repeats" in texts
    assert overlapping(figure) == []
    assert outside(figure) == []


def test_more_repeats_than_pens_are_grey_and_unnamed():
    sweeps = [made_up(f"repeat_{k}.s1p", 7.1e6, seed=k) for k in range(12)]
    figure = plot_repeats(review_repeats(sweeps, draws=0))
    drawn = [line for line in figure.axes[0].lines if line.get_label().startswith("repeat_")]
    assert len(drawn) == 12
    assert len({line.get_color() for line in drawn}) == 1
    assert "repeat_" not in words_of(figure)


def test_repeats_behind_a_line_are_drawn_where_they_were_swept():
    sweeps = [made_up(f"repeat_{k}.s1p", 7.1e6, seed=k) for k in range(3)]
    answer = review_repeats(sweeps, measured_at="feedpoint", lines=["RG-58 15 m"], draws=0)
    figure = plot_repeats(answer)
    assert "SWR at the feedpoint, mean of 3 repeats" in words_of(figure)


def test_the_name_of_a_band_keeps_off_a_dip_at_its_middle():
    f_hz = np.linspace(6.8e6, 7.4e6, 101)
    gamma = 0.9j * np.tanh((f_hz - 7.1e6) / 3e5) + 1e-4
    sweep = Sweep(f_hz=f_hz, gamma=gamma, gamma_abs=np.abs(gamma))
    figure = plot_swr(review(sweep, draws=0))
    (axes,) = figure.axes
    (name,) = [text for text in axes.texts if text.get_text() == "40 m"]
    drawn_texts(figure)
    box = name.get_window_extent()
    curve = axes.lines[0]
    at = axes.transData.transform(np.column_stack([curve.get_xdata(), curve.get_ydata()]))
    assert not any(box.contains(x, y) for x, y in at)
