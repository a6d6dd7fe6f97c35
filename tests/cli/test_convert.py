"""``sweepkit convert``: round trips change no number, nothing is overwritten."""

from __future__ import annotations

import numpy as np
import pytest

from sweepkit.readers import read_sweep
from sweepkit.sweep import Sweep
from sweepkit.writers import sweep_text

DIPOLE = "ridge_dipole_40m.s1p"


def written(tmp_path, sweep, form, ending):
    path = tmp_path / f"again.{ending}"
    path.write_text(sweep_text(sweep, form), encoding="utf-8")
    return read_sweep(path)


@pytest.mark.parametrize(("form", "ending"), [("touchstone", "s1p"), ("touchstone-2", "ts"), ("csv", "csv")])
@pytest.mark.parametrize("reference_ohm", [50.0, 75.0, 33.3])
def test_a_round_trip_changes_no_number(tmp_path, form, ending, reference_ohm):
    dice = np.random.default_rng(1)
    f_hz = np.sort(dice.uniform(1e6, 30e6, 40))
    gamma = 0.9 * np.sqrt(dice.random(40)) * np.exp(2j * np.pi * dice.random(40))
    again = written(tmp_path, Sweep.from_gamma(f_hz, gamma, reference_ohm=reference_ohm), form, ending)
    np.testing.assert_array_equal(again.f_hz, f_hz)
    np.testing.assert_array_equal(again.gamma, gamma)
    assert again.reference_ohm == reference_ohm


def test_magnitudes_and_unsigned_reactance_go_through_csv(tmp_path):
    f_hz = np.linspace(7e6, 7.3e6, 31)
    magnitude = np.linspace(0.1, 0.6, 31)
    again = written(tmp_path, Sweep.from_magnitude(f_hz, magnitude), "csv", "csv")
    assert again.phase == "none"
    np.testing.assert_array_equal(again.gamma_abs, magnitude)
    z_ohm = np.linspace(30, 80, 31) + 1j * np.abs(np.linspace(-40, 50, 31))
    folded = Sweep.from_folded(f_hz, (z_ohm - 50) / (z_ohm + 50))
    again = written(tmp_path, folded, "csv", "csv")
    assert again.phase == "unsigned"
    np.testing.assert_allclose(again.gamma_folded, folded.gamma_folded, atol=1e-14)


def test_a_sweep_without_phase_is_no_touchstone(run, tmp_path):
    table = tmp_path / "swr.csv"
    table.write_text("Frequency (MHz),SWR\n7.0,1.8\n7.1,1.4\n7.2,1.9\n")
    done = run("convert", table, "--to", "touchstone")
    assert done.returncode == 2
    assert f"sweepkit: {table}: this sweep has no signed phase" in done.stderr


def test_one_file_goes_to_stdout_and_several_to_a_folder(run, samples, tmp_path):
    alone = run("convert", samples / DIPOLE, "--to", "csv")
    assert alone.returncode == 0
    assert alone.stdout.startswith("Frequency (Hz),Re(S11),Im(S11),Z0 (ohm)\n")
    both = (samples / DIPOLE, samples / "spit_whip_40m.s1p")
    assert run("convert", *both, "--to", "csv").returncode == 2
    missing = run("convert", *both, "--to", "csv", "-o", tmp_path / "new")
    assert missing.returncode == 2
    assert (
        f"{tmp_path / 'new'}: several sweeps go to a folder, and this is none; make it first"
        in missing.stderr
    )
    assert run("convert", *both, "--to", "csv", "-o", tmp_path).returncode == 0
    assert sorted(path.name for path in tmp_path.iterdir()) == ["ridge_dipole_40m.csv", "spit_whip_40m.csv"]
    again = run("convert", *both, "--to", "csv", "-o", tmp_path)
    assert again.returncode == 2
    assert "exists already" in again.stderr
    assert run("convert", samples / DIPOLE, "--to", "pdf").returncode == 2


def test_remarks_of_the_file_cannot_become_data(tmp_path):
    from sweepkit.sweep import Source

    source = Source(comments=("first\n7000000 1 0", "# Hz S RI R 1"))
    sweep = Sweep.from_gamma([7e6, 7.1e6], [0.1, 0.2], source=source)
    again = written(tmp_path, sweep, "touchstone", "s1p")
    assert again.f_hz.size == 2
    assert again.reference_ohm == 50.0


@pytest.mark.parametrize(
    ("to", "name", "named"), [("csv", "again.s1p", ".csv"), ("touchstone", "again.csv", ".s1p")]
)
def test_a_name_that_says_another_format_is_refused(run, samples, tmp_path, to, name, named):
    done = run("convert", samples / DIPOLE, "--to", to, "-o", tmp_path / name)
    assert done.returncode == 2
    assert f"name a file that ends in {named}" in done.stderr
    assert not (tmp_path / name).exists()


def test_a_touchstone_2_file_may_be_named_as_one_port(run, samples, tmp_path):
    done = run("convert", samples / DIPOLE, "--to", "touchstone-2", "-o", tmp_path / "again.s1p")
    assert done.returncode == 0
    assert read_sweep(tmp_path / "again.s1p").f_hz.size == read_sweep(samples / DIPOLE).f_hz.size
