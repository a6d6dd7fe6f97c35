"""Chains a little off in one score each, against the whole chain carried each time."""

from __future__ import annotations

import numpy as np
import pytest

from sweepkit.feedline.chain import LineChain, believable_chains, scores_per_chain
from sweepkit.feedline.near import matrices_near
from sweepkit.feedline.plane import chain_matrix
from sweepkit.lines import parse_piece

ONE = LineChain([parse_piece("RG-58 10 m")])
OTHER = LineChain([parse_piece("RG-59 4 m")])
THREE = LineChain([parse_piece("RG-58 10 m"), parse_piece("RG-59 3 m"), parse_piece("6.1 mm foam coax 12 m")])


@pytest.mark.identity
@pytest.mark.parametrize("chains", [(ONE,), (ONE, OTHER), (THREE,), (THREE, THREE)])
def test_they_are_those_of_each_chain_as_a_whole(chains):
    count = scores_per_chain(chains[0])
    f_hz = np.stack([np.linspace(3e6 * (k + 1), 30e6, 40) for k in range(len(chains))])
    off = np.vstack([np.zeros(count), 0.3 * np.eye(count)])
    middle = np.random.default_rng(1).standard_normal((len(chains), 1, count))
    near = []
    for chain, scores in zip(chains, middle, strict=True):
        drawn = believable_chains(chain, np.vstack([scores + off, scores]))
        length_m = drawn.length_m.copy()
        length_m[-1, 0] += 0.2  # a lead
        near.append(type(drawn)(chain, length_m, *(getattr(drawn, name) for name in NAMES)))
    found = matrices_near(f_hz, near, reference_ohm=50.0)
    for k, drawn in enumerate(near):
        whole = np.stack(chain_matrix(f_hz[k], drawn))
        sign = np.sign((found[0, :, k] / whole[0]).real)
        np.testing.assert_allclose(sign * found[:, :, k], whole, rtol=0, atol=1e-12)


NAMES = ("velocity_factor", "loss_factor", "z0_ohm", "joint_ohm")
