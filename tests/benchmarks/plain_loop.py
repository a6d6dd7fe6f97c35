"""The plainest loop over a folder with the answers of a review: scikit-rf, a parabola and straight lines.

python -m tests.benchmarks.plain_loop FOLDER        # a row a file
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import skrf


def dip_and_edges(network: skrf.Network) -> tuple[float, int, float, list[float]]:
    """The dip by a parabola, the point next to it with its SWR, and the SWR 2 edges by straight lines."""
    f, swr = network.f, network.s_vswr[:, 0, 0]
    k = int(np.clip(swr.argmin(), 1, f.size - 2))
    a, b, c = swr[k - 1 : k + 2]
    dip = f[k] + 0.5 * (a - c) / (a - 2 * b + c) * (f[1] - f[0])
    ends = []
    for step in (-1, 1):
        j = k
        while 0 <= j + step < f.size and swr[j] <= 2:
            j += step
        ends.append(f[j - step] + (2 - swr[j - step]) / (swr[j] - swr[j - step]) * (f[j] - f[j - step]))
    return dip, k, swr[k], ends


def zero_and_q(network: skrf.Network, dip: float) -> tuple[float, float]:
    """The zero of X nearest to the dip, and Q from its slope."""
    f, z = network.f, network.z[:, 0, 0]
    zeros = np.flatnonzero(np.diff(np.sign(z.imag)))
    if not zeros.size:
        return float("nan"), float("nan")
    j = zeros[np.abs(f[zeros] - dip).argmin()]
    slope = (z.imag[j + 1] - z.imag[j]) / (f[j + 1] - f[j])
    x0 = f[j] - z.imag[j] / slope
    return x0, x0 * abs(slope) / (2 * z.real[j])


def main(folder: Path) -> None:
    for path in sorted(folder.iterdir()):
        network = skrf.Network(str(path))
        dip, _, swr, ends = dip_and_edges(network)
        print(path.name, dip, swr, *ends, *zero_and_q(network, dip), sep=",")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
