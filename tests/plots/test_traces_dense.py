"""Pictures of a dense sweep: no more points than a picture has room for, and the same curve."""

import numpy as np

from sweepkit.plots.traces import MOST_POINTS, drawn_step, trace_curve
from sweepkit.report.review_pictures import review_readout
from sweepkit.reviews import review
from sweepkit.sweep import Sweep


def reviewed(points):
    f_hz = np.linspace(6.5e6, 7.7e6, points)
    z_ohm = 60 + 1j * 700 * (f_hz / 7.1e6 - 7.1e6 / f_hz)
    gamma = (z_ohm - 50) / (z_ohm + 50)
    return review(Sweep(f_hz=f_hz, gamma=gamma, gamma_abs=np.abs(gamma)), measured_at="feedpoint", draws=20)


def test_a_sweep_of_usual_size_is_drawn_whole():
    assert [drawn_step(points) for points in (1, 101, MOST_POINTS)] == [1, 1, 1]


def test_a_dense_sweep_is_thinned_and_keeps_its_curve_and_its_readout():
    dense, usual = reviewed(4001), reviewed(601)
    view = dense.planes.measured
    drawn = trace_curve(view, through_hz=(7.1e6,))
    assert drawn.f_hz.size < MOST_POINTS + 600
    known = trace_curve(usual.planes.measured)
    np.testing.assert_allclose(np.interp(known.f_hz, drawn.f_hz, drawn.swr.value), known.swr.value, rtol=1e-3)
    readout = review_readout(dense)
    assert len(readout["f_hz"]) == len(readout["swr"][0]) <= MOST_POINTS
    assert abs(readout["f_hz"][readout["start"]] - 7.1e6) < 10e3
