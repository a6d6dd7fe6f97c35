"""The data from outside are what their papers say, before anything of ours touches them."""

from pathlib import Path

import numpy as np
import pytest

from tests.published import osl
from tests.published.check_values import expected

HERE = Path(__file__).resolve().parent
GHZ = 1e9
MHZ = 1e6


def level_crossings(f_hz, values, level):
    """Frequencies where a straight line between neighbours passes ``level``, rising frequency."""
    k = np.flatnonzero(np.diff(values > level))
    share = (level - values[k]) / (values[k + 1] - values[k])
    return f_hz[k] + share * (f_hz[k + 1] - f_hz[k])


@pytest.mark.identity
def test_the_ideal_correction_turns_the_standards_into_themselves():
    raw = {f"raw_{name}": osl.read_raw(letter)[1] for name, letter in osl.STANDARDS.items()}
    for name, ideal in {"open": 1.0, "short": -1.0, "load": 0.0}.items():
        np.testing.assert_allclose(osl.corrected_gamma(raw[f"raw_{name}"], **raw), ideal, atol=1e-12)


# Source: edges-io 4.1.8 test data (rows DATA-18 to DATA-31); computed from the file by another program.
@pytest.mark.derived
def test_the_field_antenna_is_the_one_of_the_rows():
    f_hz, gamma = osl.field_antenna()
    gamma_abs = np.abs(gamma)
    x_ohm = (50 * (1 + gamma) / (1 - gamma)).imag
    assert f_hz.size == expected("DATA-18").matches(unit="1")
    assert f_hz[0] / MHZ == expected("DATA-19").matches(unit="MHz")
    assert f_hz[-1] / MHZ == expected("DATA-20").matches(unit="MHz")
    assert gamma_abs.min() == expected("DATA-23").matches(unit="1")
    edges_mhz = level_crossings(f_hz, gamma_abs, 1 / 3) / MHZ
    assert edges_mhz[0] == expected("DATA-24").matches(unit="MHz")
    assert edges_mhz[-1] == expected("DATA-25").matches(unit="MHz")
    zeros_mhz = level_crossings(f_hz, x_ohm, 0.0) / MHZ
    for zero_mhz, row in zip(zeros_mhz, ["DATA-27", "DATA-28", "DATA-29", "DATA-30"], strict=True):
        assert zero_mhz == expected(row).matches(unit="MHz")
    at = np.argmin(np.abs(f_hz - 75.2 * MHZ))
    swr = (1 + gamma_abs[at]) / (1 - gamma_abs[at])
    assert swr == expected("DATA-31").matches(unit="1")


# Source: NPL Report MAT 58 (2021), Table 6(c); the rows were computed from the file.
@pytest.mark.published
def test_the_resonator_is_the_one_of_the_rows():
    f_hz, gamma = osl.read_resonator()
    assert f_hz.size == expected("DATA-43").matches(unit="1")
    assert np.abs(gamma).min() == expected("DATA-44").matches(unit="1")
    assert f_hz[0] / GHZ == pytest.approx(3.63954464, abs=1e-9)


def test_the_corrected_antenna_on_disk_is_what_the_script_writes():
    assert osl.CORRECTED.read_text(encoding="ascii") == osl.touchstone_text()


def test_every_file_from_outside_has_a_row_and_every_row_a_file():
    text = (HERE / "README.md").read_text(encoding="utf-8")
    rows = {line.split("|")[1].strip() for line in text.splitlines() if line.startswith("| ")}
    there = {path.name for path in HERE.iterdir() if path.suffix in {".txt", ".csv", ".s1p", ".ts"}}
    assert there == rows - {"file"}


def test_a_row_asked_for_in_another_unit_is_refused():
    with pytest.raises(ValueError, match="the row is in MHz, the test asks for GHz"):
        expected("DATA-24").matches(unit="GHz")
