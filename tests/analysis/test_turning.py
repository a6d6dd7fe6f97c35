"""Which way a curve turns: clockwise for anything passive, whatever its way round the origin."""

from __future__ import annotations

import numpy as np
import pytest

from sweepkit.analysis.turning import total_turning_rad, total_turnings_rad

ANGLES = np.linspace(0.0, 1.5 * np.pi, 200)


@pytest.mark.identity
@pytest.mark.parametrize("centre", [0.0, 0.5, 0.5 + 0.5j, -0.9])
def test_an_arc_turns_by_its_angle(centre):
    arc = centre + 0.3 * np.exp(-1j * ANGLES)
    assert total_turning_rad(arc, 1e-4) == pytest.approx(-1.5 * np.pi, abs=0.1)
    assert total_turning_rad(arc.conj(), 1e-4) == pytest.approx(+1.5 * np.pi, abs=0.1)


def test_noise_turns_a_straight_curve_hardly():
    turned = []
    for seed in range(300):
        dice = np.random.default_rng(seed)
        points = int(dice.choice([51, 201, 1601]))
        noise = 0.003 / np.sqrt(2) * (dice.standard_normal(points) + 1j * dice.standard_normal(points))
        answer = total_turning_rad(np.linspace(-0.5, 0.5, points) + noise, 0.003)
        turned.append(0.0 if answer is None else abs(answer))
    assert max(turned) < 1.0


def test_short_and_unresolved_curves_have_no_answer():
    assert total_turning_rad(np.full(50, 0.2 + 0.1j), 0.001) is None
    assert total_turning_rad(np.exp(-1j * np.arange(20) * 2.5), 1e-4) is None


@pytest.mark.identity
def test_many_curves_side_by_side_turn_as_each_alone():
    dice = np.random.default_rng(3)
    angles = dice.uniform(-5, 5, (40, 1)) * np.linspace(0, 1, 201)
    curves = 0.7 * np.exp(1j * angles) + 0.002 * (
        dice.normal(size=(40, 201)) + 1j * dice.normal(size=(40, 201))
    )
    noise = dice.uniform(0.001, 0.02, 40)
    together = total_turnings_rad(curves, noise)
    assert together == [total_turning_rad(curve, size) for curve, size in zip(curves, noise, strict=True)]
    assert {None} < set(together)
