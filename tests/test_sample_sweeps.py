"""The sample sweeps have papers, and their generator still makes them."""

import re
from collections import Counter
from importlib import import_module
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from sweepkit.cli.main import app
from sweepkit.logbook import list_sweeps, open_logbook

ROOT = Path(__file__).resolve().parent.parent
SAMPLES = ROOT / "sample_sweeps"
OUTINGS = sorted((SAMPLES / "outings").iterdir())
TABLES = ROOT / "tests" / "data" / "models"


@pytest.mark.parametrize("folder", [SAMPLES, TABLES], ids=["sample_sweeps", "models"])
def test_every_data_file_has_a_row_in_the_readme_and_every_row_a_file(folder):
    rows = [
        line.split("|")[1].strip() for line in (folder / "README.md").read_text().splitlines() if "|" in line
    ]
    named = {row for row in rows if "." in row}
    there = {path.name for path in folder.iterdir() if path.suffix in {".s1p", ".csv", ".toml", ".npz"}}
    assert there == named


def test_every_outing_has_a_row_in_the_readme_and_every_row_a_folder():
    named = re.findall(r"^\| outings/(\S+) \|", (SAMPLES / "README.md").read_text(), re.MULTILINE)
    assert named == [folder.name for folder in OUTINGS]


def test_sample_files_are_small():
    assert max(path.stat().st_size for path in SAMPLES.rglob("*") if path.is_file()) < 30_000
    assert sum(path.stat().st_size for path in (SAMPLES / "outings").rglob("*")) < 400_000


def test_all_outings_go_into_a_logbook_as_the_document_says(tmp_path, monkeypatch):
    monkeypatch.chdir(ROOT)
    monkeypatch.setenv("COLUMNS", "160")
    log = tmp_path / "demo.sqlite"
    for folder in OUTINGS:
        files = [str(path) for path in sorted(folder.glob("*.s1p"))]
        done = CliRunner().invoke(app, ["log", "add", *files, "--log", str(log)])
        assert done.exit_code == 0, done.output
    listed = CliRunner().invoke(app, ["log", "list", "--log", str(log)]).stdout
    assert len(listed.splitlines()) == 1 + 21
    with open_logbook(log) as opened:
        sweeps = list_sweeps(opened)
    assert [sweep.id for sweep in sweeps] == list(
        range(1, 22)
    )  # in the order swept, which is that of the names
    erected = Counter((sweep.setup.facts["antenna"], sweep.setup.facts["site"]) for sweep in sweeps)
    for antenna in ("dipole-40m", "whip-40m"):
        times = sorted(erected[antenna, site] for site in ("ridge", "valley", "meadow"))
        assert times[0] >= 2
        assert times[-1] >= 3
    assert {sweep.facts["measured_at"] for sweep in sweeps} == {"radio", "feedpoint"}
    assert not any(sweep.taken_over or sweep.setup.taken_over for sweep in sweeps)  # all of it is stated
    folds = [sweep.facts for sweep in sweeps if sweep.facts.get("by") == "fold"]
    assert [fold["tail_m"] for fold in folds] == [0.20, 0.29]
    assert all(fold["predicted_low_hz"] < fold["predicted_hz"] < fold["predicted_high_hz"] for fold in folds)
    assert {sweep.setup.facts["radials"] for sweep in sweeps if "radials" in sweep.setup.facts} == {
        1,
        2,
        4,
        8,
    }


@pytest.mark.parametrize("module", ["make_bands", "make_boxes"])
def test_the_generator_of_circuits_makes_its_samples_again(module):
    maker = import_module(f"sample_sweeps.{module}")
    for name in maker.scenes():
        made = np.loadtxt(maker.touchstone_text(name).splitlines(), comments=("!", "#"))
        np.testing.assert_allclose(made, np.loadtxt(SAMPLES / f"{name}.s1p", comments=("!", "#")), atol=2e-6)


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
def test_the_generator_makes_every_committed_outing_again():
    pytest.importorskip("PyNEC")
    from sample_sweeps.make_outings import OUTINGS as MADE
    from sample_sweeps.make_outings import scenes, setup_text
    from sample_sweeps.make_samples import touchstone_text

    assert sorted(MADE) == [folder.name for folder in OUTINGS]
    for folder in OUTINGS:
        assert (folder / "setup.toml").read_text() == setup_text(folder.name)
        made = {f"{stem}.s1p": touchstone_text(stem, scene) for stem, scene in scenes(folder.name)}
        assert made.keys() == {path.name for path in folder.glob("*.s1p")}
        for name, text in made.items():
            points = np.loadtxt(text.splitlines(), comments=("!", "#"))
            kept = np.loadtxt(folder / name, comments=("!", "#"))
            np.testing.assert_allclose(points, kept, atol=2e-6, err_msg=name)


@pytest.mark.slow
def test_the_generator_makes_a_committed_model_table_again():
    pytest.importorskip("PyNEC")
    from tests.models.make_tables import TABLES as MODELS
    from tests.models.make_tables import read_table, table_z_ohm

    f_hz, z_ohm = read_table("dipole_40m")
    np.testing.assert_allclose(table_z_ohm(MODELS["dipole_40m"], f_hz[::40]), z_ohm[::40], rtol=1e-4)
