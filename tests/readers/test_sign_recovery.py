"""The sign of a reactance: found where the sweep tells it, refused where it does not, marked in the result."""

from __future__ import annotations

import numpy as np
import pytest

from sweepkit.conversions import gamma_from_z, z_from_gamma
from sweepkit.errors import UnreadableFile
from sweepkit.readers import read_sweep
from sweepkit.readers.sign_recovery import recover_sign, turning_rad

F_HZ = np.linspace(13.9e6, 14.5e6, 101)


def resonator(f_hz, r_ohm, q, f0_hz, parallel=False):
    turn = 1 + 1j * q * (f_hz / f0_hz - f0_hz / f_hz)
    return r_ohm / turn if parallel else r_ohm * turn


def folded(z_ohm):
    return gamma_from_z(z_ohm.real + 1j * np.abs(z_ohm.imag), 50.0)


def right_share(gamma, z_ohm):
    clear = np.abs(z_ohm.imag) > 2
    return float((np.sign(gamma.imag) == np.sign(z_ohm.imag))[clear].mean())


NARROW = {  # in-band sweeps: the area swept about the origin is positive where R is above 50 ohm
    "series, R above 50": resonator(F_HZ, 95.0, 10.0, 14.2e6),
    "series, R below 50": resonator(F_HZ, 31.0, 18.0, 14.15e6),
    "parallel, R above 50": resonator(F_HZ, 80.0, 12.0, 14.25e6, parallel=True),
    "no crossing, capacitive": resonator(F_HZ, 60.0, 10.0, 14.9e6),
    "no crossing, inductive": resonator(F_HZ, 60.0, 10.0, 13.5e6),
}


@pytest.mark.parametrize("name", NARROW)
def test_a_narrow_clean_sweep_tells_its_sign(name):
    z_ohm = np.round(NARROW[name], 2)
    found = recover_sign(F_HZ, folded(z_ohm))
    assert found.gamma is not None, found.why_not
    assert right_share(found.gamma, z_ohm) > 0.99
    assert found.crossings == (0 if "no crossing" in name else 1)


def test_noisy_rounded_sweeps_behind_line_are_right_or_refused():
    # 60 sweeps of one to four widths, half of them behind up to 25 m of line; X printed to 0.1 ohm.
    dice, recovered = np.random.default_rng(7), 0
    for _ in range(60):
        f0_hz, q, width = dice.uniform(3e6, 30e6), dice.uniform(5, 60), dice.uniform(0.5, 4)
        centre = f0_hz * (1 + dice.uniform(-0.3, 0.3) * width / q)
        f_hz = centre * (1 + np.linspace(-0.5, 0.5, 201) * width / q)
        gamma = gamma_from_z(resonator(f_hz, dice.uniform(15, 120), q, f0_hz, dice.random() < 0.5), 50.0)
        gamma *= np.exp(-4j * np.pi * f_hz * dice.choice([0, dice.uniform(0, 25)]) / 2e8)
        gamma += 0.001 * (dice.normal(size=201) + 1j * dice.normal(size=201)) / np.sqrt(2)
        z_ohm = np.round(z_from_gamma(gamma, 50.0), 1)
        found = recover_sign(f_hz, folded(z_ohm))
        if found.gamma is not None:
            recovered += 1
            assert right_share(found.gamma, z_ohm) > 0.99
    assert recovered > 30


def test_a_reactance_that_grazes_zero_in_the_noise_is_refused():
    dice = np.random.default_rng(3)
    z_ohm = 50 + 3 * dice.normal(size=101) + 1j * np.abs(3 * dice.normal(size=101))
    found = recover_sign(F_HZ, folded(z_ohm))
    assert found.gamma is None
    assert "near zero" in found.why_not or "turns" in found.why_not


@pytest.mark.identity
@pytest.mark.parametrize("name", NARROW)
def test_a_passive_locus_turns_clockwise(name):
    assert turning_rad(gamma_from_z(NARROW[name], 50.0)) < 0
    assert turning_rad(gamma_from_z(NARROW[name], 50.0).conj()) > 0


def table(folder, columns, head):
    path = folder / "sweep.csv"
    rows = (",".join(f"{value:.4f}" for value in row) for row in zip(*columns, strict=True))
    path.write_text("\n".join([head, *rows]) + "\n")
    return path


def test_it_is_asked_for_marked_and_refused_by_name(tmp_path):
    z_ohm = NARROW["series, R above 50"]
    path = table(tmp_path, (F_HZ / 1e6, z_ohm.real, np.abs(z_ohm.imag)), "Frequency (MHz),R (ohm),|X| (ohm)")
    assert read_sweep(path).phase == "unsigned"
    sweep = read_sweep(path, recover_sign=True)
    assert sweep.phase == "signed"
    assert [(one.code, one.level) for one in sweep.findings] == [("sign-recovered", "warning")]
    assert right_share(sweep.gamma, z_ohm) > 0.99
    path = table(tmp_path, (F_HZ / 1e6, np.full(101, 1.5)), "Frequency (MHz),SWR")
    with pytest.raises(UnreadableFile, match=r"sweep\.csv: the file holds no reactance"):
        read_sweep(path, recover_sign=True)


def test_a_signed_file_stays_as_it_is(tmp_path):
    z_ohm = NARROW["series, R above 50"]
    path = table(tmp_path, (F_HZ / 1e6, z_ohm.real, z_ohm.imag), "Frequency (MHz),R (ohm),X (ohm)")
    np.testing.assert_array_equal(read_sweep(path, recover_sign=True).gamma, read_sweep(path).gamma)


@pytest.mark.parametrize(("name", "level"), [("no crossing, inductive", "note"), ("dip inside", "warning")])
def test_a_reactance_that_is_never_negative_is_doubted_aloud(tmp_path, name, level):
    dip = 52 + 3e4 * (F_HZ / 14.2e6 - 1) ** 2 + 15j  # inductive, with a dip where R is nearest to 50 ohm
    z_ohm = {"dip inside": dip, **NARROW}[name]
    path = table(tmp_path, (F_HZ / 1e6, z_ohm.real, z_ohm.imag), "Frequency (MHz),R (ohm),X (ohm)")
    sweep = read_sweep(path)
    assert [(one.code, one.level) for one in sweep.findings] == [("x-never-negative", level)]
