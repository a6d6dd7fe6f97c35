"""The sample sweeps have papers, and their generator still makes them."""

from pathlib import Path

import numpy as np
import pytest

ROOT = Path(__file__).resolve().parent.parent
SAMPLES = ROOT / "sample_sweeps"
TABLES = ROOT / "tests" / "data" / "models"


@pytest.mark.parametrize("folder", [SAMPLES, TABLES], ids=["sample_sweeps", "models"])
def test_every_data_file_has_a_row_in_the_readme_and_every_row_a_file(folder):
    rows = [
        line.split("|")[1].strip() for line in (folder / "README.md").read_text().splitlines() if "|" in line
    ]
    named = {row for row in rows if "." in row}
    there = {path.name for path in folder.iterdir() if path.suffix in {".s1p", ".csv", ".toml", ".npz"}}
    assert there == named


def test_sample_files_are_small():
    assert max(path.stat().st_size for path in SAMPLES.iterdir() if path.is_file()) < 30_000


@pytest.mark.slow
def test_the_generator_makes_every_committed_sample_again():
    pytest.importorskip("PyNEC")
    from sample_sweeps.make_samples import SCENES, touchstone_text

    for name, scene in SCENES.items():
        made = np.loadtxt(touchstone_text(name, scene).splitlines(), comments=("!", "#"))
        kept = np.loadtxt(SAMPLES / f"{name}.s1p", comments=("!", "#"))
        # Another build of the linear algebra may round the last printed digits differently.
        np.testing.assert_allclose(made, kept, atol=2e-6, err_msg=name)


@pytest.mark.slow
def test_the_generator_makes_a_committed_model_table_again():
    pytest.importorskip("PyNEC")
    from tests.models.make_tables import TABLES as MODELS
    from tests.models.make_tables import read_table, table_z_ohm

    f_hz, z_ohm = read_table("dipole_40m")
    np.testing.assert_allclose(table_z_ohm(MODELS["dipole_40m"], f_hz[::40]), z_ohm[::40], rtol=1e-4)
