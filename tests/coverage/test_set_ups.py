"""The set-ups that coverage is measured in are what they say."""

from __future__ import annotations

import numpy as np
import pytest

from sweepkit import read_sweep
from sweepkit.feedline.chain import LineChain
from sweepkit.feedline.plane import add_chain
from sweepkit.lines import parse_piece
from tests.models.set_ups import (
    LINE_CLASSES,
    PRINTINGS,
    Antenna,
    SetUp,
    draw_set_up,
    make_coax,
    read_off,
    truth_of,
)

F_HZ = np.linspace(3.5e6, 29.7e6, 60)


class Middling:
    """Dice that always fall on the middle: a piece exactly as published and told."""

    def standard_normal(self, *_):
        return 0.0

    def choice(self, values):
        return values[-1]


# Bessel functions and an impedance carried by tanh against the package's square roots and waves.
@pytest.mark.identity
@pytest.mark.parametrize("type_name", ["RG-58", "RG-213", "RG-8X", "RG-6"])
def test_a_piece_as_published_is_the_package_s_own_to_a_few_thousandths(type_name):
    z_ohm = 60 + 20j * np.sin(F_HZ / 2e6)
    piece = make_coax(type_name, 12.0, Middling())
    through = piece.seen_through(F_HZ, z_ohm)
    chain = LineChain([parse_piece(f"{type_name} 12 m")]).nominal
    expected = add_chain(F_HZ, (z_ohm - 50) / (z_ohm + 50), chain)[0]
    assert np.abs((through - 50) / (through + 50) - expected).max() < 0.006


def test_files_read_back_as_they_were_written(tmp_path):
    for k in range(8):
        set_up = draw_set_up((4, k))
        sweep = read_sweep(set_up.write(tmp_path / str(k)))
        off = {"printed 1 ohm": 0.02, "printed 0.1 ohm": 0.002}.get(set_up.printing, 2e-4)
        assert np.abs(sweep.gamma - set_up.gamma).max() < off


@pytest.mark.identity
def test_the_truth_of_a_series_resonator():
    # R = 40 ohm, Q = 10 at 14 MHz: SWR 50/40, X = 0 and R there are the resonator's own.
    antenna = Antenna("circuit", lambda f: 40 * (1 + 10j * (f / 14e6 - 14e6 / f)), 12e6, 16e6)
    f_hz = np.linspace(12e6, 16e6, 101)
    found = truth_of(SetUp("circuit", "none", "reflection", "", None, f_hz, np.zeros(101), antenna))
    assert found["dip"] == pytest.approx(14e6, rel=2e-5)
    assert found["swr"] == pytest.approx(1.25, rel=1e-6)
    assert found["x0"] == pytest.approx(14e6, rel=1e-7)
    assert found["r"] == pytest.approx(40.0, rel=1e-6)
    assert found["low edge"] < 14e6 < found["high edge"]


def test_an_analyzer_s_errors_have_the_sizes_of_hand_held_ones():
    read = np.array(
        [
            read_off(F_HZ, np.zeros(F_HZ.size), 0.0, np.random.default_rng(k), in_ohms=False)
            for k in range(300)
        ]
    )
    sizes_db = -20 * np.log10(np.sqrt(np.mean(np.abs(read) ** 2, axis=1)))
    assert 35 <= sizes_db.min() < 36
    assert 45 < sizes_db.max() <= 46
    assert np.abs(read - read[:, :1]).max() > 0.002, "they drift along the sweep"


def test_every_class_and_printing_comes_up():
    drawn = [draw_set_up((9, k)) for k in range(120)]
    assert {one.line_class for one in drawn} == set(LINE_CLASSES)
    assert {one.printing for one in drawn} == set(PRINTINGS)
    assert all((one.told is None) == (one.line_class == "none") for one in drawn)
    assert draw_set_up((9, 3), structure=True).structure
