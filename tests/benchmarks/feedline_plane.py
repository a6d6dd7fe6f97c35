"""How much faster draws move through three pieces than by Network cascades, both in this run.

Not a test: ``OPENBLAS_NUM_THREADS=1 python -m tests.benchmarks.feedline_plane``.
"""

import time

import numpy as np
import skrf
from skrf.media import DistributedCircuit

from sweepkit.feedline.chain import LineChain, draw_chain
from sweepkit.feedline.plane import remove_chain
from sweepkit.feedline.propagation import attenuations_np_per_m
from sweepkit.lines import parse_piece
from sweepkit.quantities import SPEED_OF_LIGHT_M_S

F_HZ = np.linspace(1e6, 30e6, 401)
DRAWS, CASCADES = 1000, 20


def cascade(draws, draw, network):
    """Remove the three pieces by scikit-rf, the fast way (negative lengths)."""
    for k, piece in enumerate(draws.chain.pieces):
        loss = draws.loss_factor[draw, k]
        ac, ad = attenuations_np_per_m(F_HZ, piece.k1_db_per_100m * loss, piece.k2_db_per_100m * loss)
        speed, r = draws.velocity_factor[draw, k] * SPEED_OF_LIGHT_M_S, 2 * piece.z0_ohm * ac
        medium = DistributedCircuit(
            frequency=network.frequency,
            R=r,
            L=piece.z0_ohm / speed + r / (2 * np.pi * F_HZ),
            C=1 / (piece.z0_ohm * speed) + 0 * F_HZ,
            G=2 * ad / piece.z0_ohm,
        )
        medium.z0_port = 50
        network = medium.line(-draws.length_m[draw, k], "m") ** network
    return network.s[:, 0, 0]


def main():
    pieces = [parse_piece("RG-58 10 m"), parse_piece("RG-59 3 m"), parse_piece("6.1 mm foam coax 12 m")]
    draws = draw_chain(LineChain(pieces), np.random.default_rng(1), DRAWS - 1)
    gamma = 0.6 * np.exp(2j * np.pi * F_HZ / 3e6)
    frequency = skrf.Frequency.from_f(F_HZ, unit="Hz")
    network = skrf.Network(frequency=frequency, s=gamma.reshape(-1, 1, 1), z0=50)
    remove_chain(F_HZ, gamma, draws.part(slice(0, 2)))
    cascade(draws, 0, network)
    start = time.perf_counter()
    moved = remove_chain(F_HZ, gamma, draws)
    ours_s = time.perf_counter() - start
    start = time.perf_counter()
    worst = max(np.abs(cascade(draws, draw, network) - moved[draw]).max() for draw in range(CASCADES))
    theirs_s = (time.perf_counter() - start) / CASCADES * DRAWS
    print(f"closed form: {ours_s * 1e3:.0f} ms for {DRAWS} draws of {F_HZ.size} points through three pieces")
    print(f"cascades:    {theirs_s * 1e3:.0f} ms (from {CASCADES} of them), largest difference {worst:.1e}")
    print(f"ratio:       {theirs_s / ours_s:.0f}")


if __name__ == "__main__":
    main()
