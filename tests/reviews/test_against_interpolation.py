"""Modelled antennas (tests/data/models, made with PyNEC): figures against the plainest reading of the dense table.

Lowest sample with a parabola, straight lines across the limits and across X = 0: independent of every local fit.
"""

from __future__ import annotations

import numpy as np
import pytest

from sweepkit.reviews import review
from sweepkit.sweep import Sweep
from tests.coverage.antennas import NARROW_TABLES, TABLES


def crossings(f_hz, values):
    k = np.flatnonzero(np.sign(values[1:]) != np.sign(values[:-1]))
    return f_hz[k] - values[k] * (f_hz[k + 1] - f_hz[k]) / (values[k + 1] - values[k])


@pytest.fixture(scope="module", params=NARROW_TABLES)
def both(request):
    """Frequencies, impedances and reflections of a table, and the review of a sweep of them."""
    path = TABLES / f"{request.param}.csv"
    f_hz, r_ohm, x_ohm = np.loadtxt(path, delimiter=",", skiprows=1, unpack=True)
    z_ohm = r_ohm + 1j * x_ohm
    gamma = (z_ohm - 50) / (z_ohm + 50)
    answer = review(Sweep.from_gamma(f_hz, gamma), measured_at="feedpoint", draws=0, bands=())
    return f_hz, z_ohm, gamma, answer.feedpoint


def test_the_dip(both):
    f_hz, _, gamma, plane = both
    k = int(np.argmin(np.abs(gamma)))
    a, b, c = np.abs(gamma[k - 1 : k + 2]) ** 2
    step_hz, shift = f_hz[1] - f_hz[0], 0.5 * (a - c) / (a - 2 * b + c)
    lowest = np.sqrt(b - 0.25 * (a - c) * shift)
    assert plane.dips[0].f_hz.value == pytest.approx(f_hz[k] + shift * step_hz, abs=0.05 * step_hz)
    # Near a match a parabola through three samples is itself off by a few thousandths of SWR.
    assert plane.dips[0].swr.value == pytest.approx((1 + lowest) / (1 - lowest), abs=0.004)


def test_the_edges(both):
    f_hz, _, gamma, plane = both
    width = next(w for w in plane.swr_bandwidths if w.dip == 0 and w.limit_swr == 2.0)
    edges_hz, dip_hz = crossings(f_hz, np.abs(gamma) - 1 / 3), plane.dips[0].f_hz.value
    low_hz, high_hz = edges_hz[edges_hz < dip_hz].max(), edges_hz[edges_hz > dip_hz].min()
    allowed_hz = 0.1 * (f_hz[1] - f_hz[0])  # what a straight line may miss of a bend
    assert width.low_hz.value == pytest.approx(low_hz, abs=allowed_hz)
    assert width.high_hz.value == pytest.approx(high_hz, abs=allowed_hz)
    assert width.bandwidth_hz.value == pytest.approx(high_hz - low_hz, abs=1.5 * allowed_hz)


def test_the_resonance_its_resistance_and_q(both):
    f_hz, z_ohm, _, plane = both
    zeros_hz, step_hz = crossings(f_hz, z_ohm.imag), f_hz[1] - f_hz[0]
    assert zeros_hz.size
    assert len(plane.resonances) == zeros_hz.size
    for resonance, zero_hz in zip(plane.resonances, zeros_hz, strict=True):
        assert resonance.f_hz.value == pytest.approx(zero_hz, abs=0.05 * step_hz)
        r_ohm = np.interp(zero_hz, f_hz, z_ohm.real)
        assert resonance.r_ohm.value == pytest.approx(r_ohm, rel=1e-3)
        near = np.abs(f_hz - zero_hz) < 2.5 * step_hz
        slopes = [np.polyfit(f_hz[near] - zero_hz, part[near], 2)[1] for part in (z_ohm.real, z_ohm.imag)]
        q = zero_hz / (2 * r_ohm) * np.hypot(*slopes)
        assert resonance.q.value == pytest.approx(q, rel=3e-3)
