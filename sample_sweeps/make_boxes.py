"""Make the sample sweeps of boxes on the table: a 49:1 transformer, two of them back to back, a choke.

    python -m sample_sweeps.make_boxes

Each box is a circuit of chain matrices with invented parts. All sweeps share one calibration; noise is seeded from the
file's name.
"""

from __future__ import annotations

import zlib
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from sample_sweeps.make_samples import DIRECTIVITY_DB, NOISE_RMS, REFERENCE_OHM

HERE = Path(__file__).resolve().parent
F_HZ = np.round(np.linspace(3e6, 30e6, 109))
OMEGA = 2 * np.pi * F_HZ
RATIO = 49.0

ComplexArray = NDArray[np.complex128]


def _chain(a: ComplexArray, b: ComplexArray, c: ComplexArray, d: ComplexArray) -> ComplexArray:
    parts = [np.broadcast_to(part, F_HZ.shape) for part in (a, b, c, d)]
    return np.moveaxis(np.array(parts, dtype=np.complex128).reshape(2, 2, -1), -1, 0)


def _series(z_ohm: ComplexArray) -> ComplexArray:
    return _chain(1, z_ohm, 0, 1)


def _shunt(y_siemens: ComplexArray) -> ComplexArray:
    return _chain(1, 0, y_siemens, 1)


def transformer() -> ComplexArray:
    """From the coax: compensation, leakage, a core with losses, the turns, the capacitance of the winding."""
    core = 1 / 900.0 + 1 / (1j * OMEGA * 8e-6 * (1 - 0.2j))
    turns = np.sqrt(RATIO)
    return (
        _shunt(1j * OMEGA * 90e-12)
        @ _series(1j * OMEGA * 0.04e-6)
        @ _shunt(core)
        @ _chain(1 / turns, 0, 0, turns)
        @ _shunt(1j * OMEGA * 3e-12)
    )


def _turned(box: ComplexArray) -> ComplexArray:
    """The same box seen from its other side; reciprocal, so that a d - b c = 1."""
    return _chain(box[:, 1, 1], box[:, 0, 1], box[:, 1, 0], box[:, 0, 0])


def _seen_ohm(box: ComplexArray, far_ohm: float | None) -> ComplexArray:
    a, b, c, d = box[:, 0, 0], box[:, 0, 1], box[:, 1, 0], box[:, 1, 1]
    z: ComplexArray = a / c if far_ohm is None else (a * far_ohm + b) / (c * far_ohm + d)
    return z


def scenes() -> dict[str, tuple[ComplexArray, str]]:
    """Impedance and a remark, by name."""
    one = transformer()
    pair = one @ _turned(one)
    choke = 1 / (1 / 1400.0 + 1 / (1j * OMEGA * 25e-6) + 1j * OMEGA * 1.5e-12)
    return {
        "box_load": (_seen_ohm(one, 2450.0), "49:1 transformer into 2450 ohm"),
        "box_open": (_seen_ohm(one, None), "49:1 transformer, nothing at its wire side"),
        "box_short": (_seen_ohm(one, 0.0), "49:1 transformer, its wire side shorted"),
        "pair_load": (_seen_ohm(pair, 50.0), "two 49:1 transformers back to back into 50 ohm"),
        "pair_open": (_seen_ohm(pair, None), "two 49:1 transformers back to back, far end open"),
        "pair_short": (_seen_ohm(pair, 0.0), "two 49:1 transformers back to back, far end shorted"),
        "choke_short": (choke, "one wire of a choke between centre and shield"),
    }


def touchstone_text(name: str) -> str:
    """A scene as a Touchstone 1.1 one-port file, as an analyzer would give it."""
    z_ohm, remark = scenes()[name]
    noise = np.random.default_rng(zlib.crc32(name.encode())).standard_normal((2, F_HZ.size))
    turn = np.random.default_rng(zlib.crc32(b"boxes")).random()
    seen = (z_ohm - REFERENCE_OHM) / (z_ohm + REFERENCE_OHM)
    seen = seen + 10 ** (-DIRECTIVITY_DB / 20) * np.exp(2j * np.pi * turn)
    seen = seen + NOISE_RMS / np.sqrt(2) * (noise[0] + 1j * noise[1])
    rows = [f"{f:.0f} {g.real:.7f} {g.imag:.7f}" for f, g in zip(F_HZ, seen, strict=True)]
    return "\n".join([f"! made-up sample: {remark}", "# Hz S RI R 50", *rows]) + "\n"


def main() -> None:
    """Write them all."""
    for name in scenes():
        (HERE / f"{name}.s1p").write_text(touchstone_text(name), encoding="ascii")


if __name__ == "__main__":
    main()
