"""The drawn curve goes over from one local fit into the next without a step, inside the interval of both."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from sweepkit.analysis.curve import smooth_curve
from sweepkit.plots.over_frequency import shown_view
from sweepkit.readers import read_sweep
from sweepkit.reviews import review

SAMPLES = Path(__file__).resolve().parents[2] / "sample_sweeps"


def test_a_drawn_curve_has_no_steps_and_stays_within_the_interval():
    view = shown_view(review(read_sweep(SAMPLES / "crag_end_fed.s1p"), draws=200))
    at_hz = np.linspace(view.f_hz[0], view.f_hz[-1], 20_001)
    plain, drawn = (
        smooth_curve(view.curve, at_hz, ensemble=view.turned_ensemble, blended=blended)
        for blended in (False, True)
    )
    steps, smooth = (np.abs(np.diff(gamma[0], n=2)) for gamma in (plain, drawn))
    assert steps.max() > 0.005  # the fits differ where one hands over to the next ...
    assert smooth.max() < 0.1 * steps.max()  # ... and the drawn curve does not show it
    spread = np.quantile(np.abs(plain[1:] - plain[0]), 0.95, axis=0)
    assert (np.abs(drawn[0] - plain[0]) <= spread).all()
