"""Ideal open-short-load correction of a one-port, for published raw data only; sweepkit never calibrates.

python -m tests.published.osl                   # writes field_antenna.s1p from the four raw files
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

HERE = Path(__file__).resolve().parent
RAW = "edges3_2023_070_11_{}.txt"
CORRECTED = HERE / "field_antenna.s1p"

ComplexArray = NDArray[np.complex128]


def corrected_gamma(
    raw: ComplexArray, *, raw_open: ComplexArray, raw_short: ComplexArray, raw_load: ComplexArray
) -> ComplexArray:
    """Reflection at the plane of ideal standards (+1, -1, 0), shape of ``raw``. [-]

    With the three error terms e00, e11 and D = e00 e11 - e10e01 of a one-port,
    m = (e00 - D g) / (1 - e11 g); Pozar, Microwave Engineering, 4th ed., Wiley 2012, section 4.5 gives the
    bilinear form. The load (g = 0) gives e00, open and short the other two.
    """
    e00 = raw_load
    e11 = (raw_open + raw_short - 2 * e00) / (raw_open - raw_short)
    determinant = e00 - raw_open * (1 - e11)
    return (raw - e00) / (e11 * raw - determinant)


def read_raw(which: str) -> tuple[NDArray[np.float64], ComplexArray]:
    """Frequency [Hz] and raw reflection [-] of ``O``, ``S``, ``L`` or ``ant``, shape (151,) each."""
    lines = (HERE / RAW.format(which)).read_text(encoding="ascii").splitlines()
    rows = [line for line in lines if line.strip() and line.strip() not in {"BEGIN", "DB", "END"}]
    f_hz, size_db, angle_deg = np.loadtxt(rows).T
    return f_hz, 10 ** (size_db / 20) * np.exp(1j * np.radians(angle_deg))


def field_antenna() -> tuple[NDArray[np.float64], ComplexArray]:
    """Frequency [Hz] and corrected reflection [-] of the field antenna, shape (151,) each."""
    f_hz, raw = read_raw("ant")
    standards = {f"raw_{name}": read_raw(letter)[1] for name, letter in STANDARDS.items()}
    return f_hz, corrected_gamma(raw, **standards)


STANDARDS = {"open": "O", "short": "S", "load": "L"}


def touchstone_text() -> str:
    """The corrected antenna as a Touchstone 1.1 one-port file."""
    rows = [f"{f:.6f} {g.real:.9f} {g.imag:.9f}" for f, g in zip(*field_antenna(), strict=True)]
    head = [
        "! field-deployed VHF antenna, raw data of edges-io 4.1.8 (MIT, notice in edges_io_LICENSE.txt)",
        "! after an ideal open-short-load correction (tests/published/osl.py)",
        "# Hz S RI R 50",
    ]
    return "\n".join(head + rows) + "\n"


def read_resonator() -> tuple[NDArray[np.float64], ComplexArray]:
    """Frequency [Hz] and reflection [-] of the resonator of NPL MAT 58, Table 6(c), shape (201,) each."""
    columns = np.loadtxt(HERE / "npl_mat58_table6c27.txt").T
    return columns[0] * 1e9, columns[1] + 1j * columns[2]


if __name__ == "__main__":
    CORRECTED.write_text(touchstone_text(), encoding="ascii")
