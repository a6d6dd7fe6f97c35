"""Reading a thousand plain files and a few large ones, against the libraries' own readers.

python -m tests.benchmarks.readers        # the line of docs/speed.md
"""

from __future__ import annotations

import tempfile
import time
from pathlib import Path

import numpy as np

from sweepkit.cli.files import AHEAD
from sweepkit.readers import read_sweep
from sweepkit.readers.side_by_side import read_side_by_side
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
            alone = time.process_time()
            for first in range(0, FILES, AHEAD):
                read_side_by_side([str(path) for path in paths[first : first + AHEAD]])
            theirs = between - start
            ratios.append((theirs / (alone - between), theirs / (time.process_time() - alone)))
    one, many = (sorted(column)[1] for column in zip(*ratios, strict=True))
    print(f"{FILES} files of {POINTS} points: scikit-rf (Network, s_vswr, z) over read_sweep: {one:.1f}")
    print(f"over files read side by side, as in a folder: {many:.1f}")
    _large()


def _large() -> None:
    """CPU time of the library's own reader over ours, by turns; the middle of three."""
    import pandas as pd
    from skrf.io.touchstone import Touchstone

    f_hz = np.linspace(1e6, 60e6, 200_000).tolist()
    one = [f"{f:.1f} 0.3{k % 997:03d} {np.sin(k / 50):.4f}" for k, f in enumerate(f_hz)]
    texts = {
        "remarks.s1p": ("# Hz S RI R 50", [row + " ! remark" for row in one], Touchstone),
        "two.s2p": ("# Hz S RI R 50", [row + " 0.5 0.1 0.5 0.1 0.2 0.3" for row in one], Touchstone),
        "re_im.csv": ("Frequency (Hz),Re(S11),Im(S11)", [row.replace(" ", ",") for row in one], pd.read_csv),
    }
    r, x = 50 + 20 * np.sin(np.array(f_hz) / 3e6), 30 * np.cos(np.array(f_hz) / 2e6)
    size = np.abs((r + 1j * x - 50) / (r + 1j * x + 50))
    columns = list(zip(f_hz, r, x, (1 + size) / (1 - size), -20 * np.log10(size), strict=True))
    head, digits = (
        "Frequency (Hz),R (ohm),X (ohm)",
        [",".join(map(repr, map(float, row[:3]))) for row in columns],
    )
    texts["seventeen.csv"] = (head, digits, pd.read_csv)
    six = [f"{row[0]:.1f}," + ",".join(f"{number:.6g}" for number in row[1:]) for row in columns]
    texts["agreeing.csv"] = (f"{head},SWR,RL (dB)", six, pd.read_csv)
    with tempfile.TemporaryDirectory() as folder:
        for name, (head, rows, theirs) in texts.items():
            path = Path(folder) / name
            path.write_text("\n".join([head, *rows]) + "\n")
            ratios = []
            for _ in range(ROUNDS):
                start = time.process_time()
                theirs(str(path))
                between = time.process_time()
                read_sweep(path)
                ratios.append((between - start) / (time.process_time() - between))
            print(f"{name}, {len(rows)} rows: library over read_sweep {sorted(ratios)[1]:.2f}")


if __name__ == "__main__":
    main()
