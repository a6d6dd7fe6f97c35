"""Make tests/data/models/*.csv: feedpoint impedance of a handful of wire antennas on dense grids.

    python -m tests.models.make_tables              # all
    python -m tests.models.make_tables dipole_40m

Needs the extra ``models``; about 25 ms for each frequency over real ground.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tests.models import nec

HERE = Path(__file__).resolve().parent
FOLDER = HERE.parent / "data" / "models"


@dataclass(frozen=True)
class Table:
    """An antenna and the grid it is computed on."""

    antenna: Callable[[], nec.Antenna]
    start_hz: float
    stop_hz: float
    points: int
    transformer: bool = False
    extra_ohm: float = 0.0


def _whip(height_m: float, coil_h: float) -> nec.Antenna:
    return nec.vertical(
        height_m, radials=4, radial_m=2.5, base_m=0.3, radius_m=1.5e-3, coil_h=coil_h, coil_q=180.0
    )


def _end_fed_40m() -> nec.Antenna:
    return nec.end_fed(20.3, feed_m=1.5, far_m=9.0, counterpoise_m=2.0)


TABLES = {
    "dipole_40m": Table(lambda: nec.dipole(10.2, height_m=7.0), 6.0e6, 8.4e6, 401),
    "dipole_20m_low": Table(
        lambda: nec.dipole(5.05, height_m=4.0, soil=nec.SOILS["wet"]), 12.5e6, 16.5e6, 201
    ),
    "dipole_40m_wide": Table(lambda: nec.dipole(10.2, height_m=7.0), 1.0e6, 30.0e6, 581),
    "vee_80m": Table(
        lambda: nec.inverted_vee(20.1, apex_m=10.0, droop_deg=20.0, soil=nec.SOILS["dry"]), 3.2e6, 4.2e6, 201
    ),
    "whip_40m": Table(lambda: _whip(2.6, 27.8e-6), 6.8e6, 7.4e6, 301, extra_ohm=19.0),
    "whip_80m": Table(lambda: _whip(5.0, 67.4e-6), 3.5e6, 3.8e6, 301, extra_ohm=14.0),
    "end_fed_40m": Table(_end_fed_40m, 6.2e6, 7.8e6, 201, transformer=True),
    "end_fed_40m_wide": Table(_end_fed_40m, 3.0e6, 30.0e6, 541, transformer=True),
}


def table_z_ohm(table: Table, f_hz: NDArray[np.float64]) -> NDArray[np.complex128]:
    """Impedance at the connector over frequency. [ohm]"""
    z = nec.z_ohm(table.antenna(), f_hz) + table.extra_ohm
    return nec.through_transformer(z, f_hz) if table.transformer else z


def table_text(table: Table) -> str:
    """The table as CSV: f_hz, r_ohm, x_ohm."""
    f_hz = np.round(np.linspace(table.start_hz, table.stop_hz, table.points))
    z = table_z_ohm(table, f_hz)
    rows = [f"{f:.0f},{v.real:.4f},{v.imag:.4f}" for f, v in zip(f_hz, z, strict=True)]
    return "\n".join(["f_hz,r_ohm,x_ohm", *rows]) + "\n"


def read_table(name: str) -> tuple[NDArray[np.float64], NDArray[np.complex128]]:
    """A committed table: frequency [Hz] and impedance [ohm], shape (n,) each."""
    columns = np.loadtxt(FOLDER / f"{name}.csv", delimiter=",", skiprows=1).T
    return columns[0], columns[1] + 1j * columns[2]


def main(names: list[str]) -> None:
    """Write the named tables, or all."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    for name in names or TABLES:
        (FOLDER / f"{name}.csv").write_text(table_text(TABLES[name]), encoding="ascii")


if __name__ == "__main__":
    main(sys.argv[1:])
