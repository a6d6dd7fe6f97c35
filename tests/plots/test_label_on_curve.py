"""The name of a dip and the curve through it come from one fit: what is written lies on what is drawn."""

import numpy as np
import pytest

from sweepkit.plots.one_sweep import plot_swr
from sweepkit.plots.smith import plot_smith
from sweepkit.readers import read_sweep
from sweepkit.reviews import Review, review
from sweepkit.sweep import Sweep
from tests.conftest import SAMPLES

PRINTED = 0.006  # half of the last digit of an SWR, and a little


def labels(figure):
    """MHz and SWR of each dip as written."""
    for text in figure.axes[0].texts:
        words = text.get_text().replace("\n", " ").split()
        if len(words) == 4 and (words[1], words[2]) == ("MHz", "SWR"):
            yield float(words[0]), float(words[3])


def check(answer: Review) -> int:
    """Every dip is written where the drawn curve is, in the SWR picture and in the Smith chart."""
    figure = plot_swr(answer)
    written = list(labels(figure))
    dips = {round(dip.f_hz.value / 1e6, 3): dip for dip in answer.main_plane.dips if dip.f_hz.value}
    curve = max(figure.axes[0].lines, key=lambda line: len(line.get_xdata()))
    for mhz, swr in written:
        at_mhz = dips[mhz].f_hz.value / 1e6
        drawn = float(np.interp(at_mhz, curve.get_xdata(), curve.get_ydata()))
        assert drawn == pytest.approx(swr, abs=PRINTED), mhz
    if answer.main_plane.dips and answer.sweep.phase == "signed":
        chart = plot_smith(answer)
        sweep = next(line for line in chart.axes[0].lines if line.get_label() == "sweep")
        size = np.hypot(sweep.get_xdata(), sweep.get_ydata())
        for _, swr in labels(chart):
            if swr < 10:
                assert np.abs((1 + size) / (1 - size) - swr).min() < PRINTED
    return len(written)


@pytest.mark.parametrize("path", sorted(SAMPLES.glob("*_40m*.s1p")), ids=lambda path: path.name)
def test_the_samples(path):
    check(review(read_sweep(path), draws=2))


@pytest.mark.parametrize("points", [13, 31, 51])
def test_made_sweeps_down_to_coarse_ones(points):
    dice, written = np.random.default_rng(points), 0
    f_hz = np.linspace(6.5e6, 7.7e6, points)
    for q in (15, 40, 80):
        for r_ohm in (50, 110):
            z_ohm = r_ohm * (1 + 1j * q * (f_hz / 7.1e6 - 7.1e6 / f_hz))
            noise = 0.003 * dice.standard_normal((points, 2)) @ [1, 1j]
            gamma = (z_ohm - 50) / (z_ohm + 50) * np.exp(-2j * np.pi * f_hz * 40e-9) + noise
            written += check(review(Sweep.from_gamma(f_hz, gamma), draws=2))
    assert written > 0
