"""A piece of line between two ports of an analyzer."""

import numpy as np
import pytest
import skrf

from sweepkit import measure_line as measure_file
from sweepkit.errors import BadInput
from sweepkit.feedline.measure import measure_line
from sweepkit.feedline.propagation import DB_PER_NEPER
from sweepkit.feedline.through import is_through, read_through
from sweepkit.feedline.told import Told
from tests.feedline.table_of_errors import GEOMETRIES, medium_of

F_HZ = np.linspace(1e6, 120e6, 401)


def between_ports(geometry, length_m, dice, *, noise=0.001, errors=1.0):
    """Line of geometric coax between two ports with errors of usual size, and its loss [Np] and phase [rad]."""
    medium = medium_of(geometry, skrf.Frequency.from_f(F_HZ, unit="Hz"))
    true = medium.line(length_m, "m").s
    turn = errors * np.exp(2j * np.pi * dice.random((6, 2)))
    seen = np.empty_like(true)
    for near, far in ((0, 1), (1, 0)):
        passed = true[:, far, near] * (1 + 0.008 * turn[0, near])
        back = true[:, near, near] + 0.008 * turn[1, near] * true[:, near, far] * true[:, far, near]
        seen[:, far, near] = passed / (1 - 0.008 * turn[1, near] * true[:, far, far])
        seen[:, near, near] = (1 + 0.003 * turn[2, near]) * back + 0.008 * turn[3, near]
    parts = dice.standard_normal((2, *seen.shape)) * noise / np.sqrt(2)
    return seen + parts[0] + 1j * parts[1], medium.gamma * length_m


def written(folder, s, name="jumper.s2p"):
    rows = np.column_stack([F_HZ / 1e6, s.transpose(0, 2, 1).reshape(-1, 4).view(float)])
    np.savetxt(folder / name, rows, fmt="%.8f", header="MHz S RI R 50", comments="# ")
    return folder / name


def test_a_known_piece_and_the_chain_matrix_agree(tmp_path):
    s, gamma_l = between_ports(GEOMETRIES[0], 14.3, np.random.default_rng(1), noise=0, errors=0)
    half_trace = (1 - s[:, 0, 0] * s[:, 1, 1] + s[:, 0, 1] * s[:, 1, 0]) / (2 * s[:, 1, 0])
    np.testing.assert_allclose(half_trace, np.cosh(gamma_l), rtol=1e-9)  # identity
    ends = read_through(written(tmp_path, s))
    assert [end for _, end in ends] == ["open", "short"]
    line = measure_line(ends, Told(length_m=14.3), through=True, draws=0)
    for loss, true in zip(line.loss_db, np.interp(line.loss_hz, F_HZ, gamma_l.real), strict=True):
        assert loss.value == pytest.approx(
            true * DB_PER_NEPER, rel=0.06
        )  # what the law leaves at the lowest MHz


def test_intervals_hold_with_errors_of_other_sizes(tmp_path):
    held, off_m = [], []
    for seed in range(20):
        dice = np.random.default_rng(seed)
        geometry, length_m = GEOMETRIES[seed % len(GEOMETRIES)], dice.uniform(3, 40)
        s, gamma_l = between_ports(geometry, length_m, dice)
        ends = read_through(written(tmp_path, s))
        line = measure_line(
            ends, Told(velocity_factor=geometry[2] ** -0.5), through=True, draws=200, seed=seed
        )
        true_db = np.interp(line.loss_hz, F_HZ, gamma_l.real) * DB_PER_NEPER
        held += [loss.low <= true <= loss.high for loss, true in zip(line.loss_db, true_db, strict=True)]
        off_m.append(abs(line.length_m.value - length_m) / length_m)
    assert np.mean(held) > 0.9
    assert max(off_m) < 0.01


def test_one_way_is_said_and_the_same(tmp_path):
    s, _ = between_ports(GEOMETRIES[1], 9.0, np.random.default_rng(2))
    both = measure_file(written(tmp_path, s), ends="through", length="9 m", draws=0)
    s[:, :, 1] = 0
    one = measure_file(written(tmp_path, s, "one.s2p"), ends="through", length="9 m", draws=0)
    assert "through-one-way" in [finding.code for finding in one.findings]
    assert one.velocity_factor.value == pytest.approx(both.velocity_factor.value, rel=1e-3)


def test_what_is_no_line_is_refused(tmp_path):
    s, _ = between_ports(GEOMETRIES[1], 9.0, np.random.default_rng(3))
    path = written(tmp_path, s)
    assert is_through(path)
    assert not is_through(path, trace="s22")
    amplified = s.copy()
    amplified[:, 1, 0] *= 3
    with pytest.raises(BadInput, match="both ways"):
        read_through(written(tmp_path, amplified))
    cut = s.copy()
    cut[:, 1, 0] = cut[:, 0, 1] = 1e-5
    with pytest.raises(BadInput, match="nothing comes through"):
        read_through(written(tmp_path, cut))
    assert not is_through(written(tmp_path, cut))
    one_port = tmp_path / "a.s1p"
    one_port.write_text("# MHz S RI R 50\n" + "".join(f"{k} 0.5 0.{k:02d}\n" for k in range(1, 40)))
    assert not is_through(one_port)
    with pytest.raises(BadInput, match="two ports"):
        read_through(one_port)
    with pytest.raises(BadInput, match="--trace"):
        read_through(path, trace="s22")
