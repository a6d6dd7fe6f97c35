"""Reading a thousand plain files, against the shortest way scikit-rf has.

python -m tests.benchmarks.readers        # the line of docs/speed.md
"""

from __future__ import annotations

import tempfile
import time
from pathlib import Path

import numpy as np

from sweepkit.readers import read_sweep
from tests.coverage.antennas import series

FILES, POINTS, ROUNDS = 1000, 201, 3


def main() -> None:
    import skrf

    f_hz = np.linspace(13e6, 15e6, POINTS)
    z_ohm = series(45.0, 12.0, 14.1e6)(f_hz)
    gamma = (z_ohm - 50) / (z_ohm + 50)
    rows = "".join(f"{f:.0f} {g.real:.9f} {g.imag:.9f}\n" for f, g in zip(f_hz, gamma, strict=True))
    text = "! made up\n# Hz S RI R 50\n" + rows
    with tempfile.TemporaryDirectory() as folder:
        paths = [Path(folder) / f"{k:04}.s1p" for k in range(FILES)]
        for path in paths:
            path.write_text(text)
        ratios = []
        for _ in range(ROUNDS):
            start = time.process_time()
            for path in paths:
                network = skrf.Network(str(path))
                _ = network.s_vswr, network.z
            between = time.process_time()
            for path in paths:
                read_sweep(path)
            ratios.append((between - start) / (time.process_time() - between))
    print(
        f"{FILES} files of {POINTS} points: scikit-rf (Network, s_vswr, z) over read_sweep: {sorted(ratios)[1]:.1f}"
    )


if __name__ == "__main__":
    main()
