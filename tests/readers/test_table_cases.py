"""Every hand-made table comes out as it must, and damage to any of them is refused or harmless."""

from __future__ import annotations

import random

import numpy as np
import pytest

from sweepkit.errors import NeedsHint, SweepkitError, UnreadableFile
from sweepkit.readers import read_sweep
from sweepkit.sweep import Sweep
from tests.readers.table_cases import CASES, F_HZ, GAMMA, POINTS, Z_OHM

PRINTED_REFLECTION = 2e-3  # what printing R and X to 0.1 ohm leaves of the reflection
PRINTED_SIZE = 2e-2  # of files that print SWR to 0.01 or R beside |Z|


def read(folder, content: bytes, **hints) -> Sweep:
    path = folder / "sweep.csv"
    path.write_bytes(content)
    return read_sweep(path, **hints)


def check_values(sweep: Sweep, expected: str) -> None:
    """Frequencies, and whatever of the reflection the file tells."""
    factor = 10 if "ten times" in expected else 1
    assert sweep.f_hz.size == POINTS
    np.testing.assert_allclose(sweep.f_hz, factor * F_HZ, rtol=1e-5)
    reference = sweep.reference_ohm
    gamma = GAMMA if "gamma at" in expected else (Z_OHM - reference) / (Z_OHM + reference)
    if sweep.gamma is not None:
        np.testing.assert_allclose(sweep.gamma, gamma, atol=PRINTED_REFLECTION)
    if sweep.gamma_folded is not None:
        folded = np.where(gamma.imag < 0, gamma.conj(), gamma)
        np.testing.assert_allclose(sweep.gamma_folded, folded, atol=0.05)
    np.testing.assert_allclose(sweep.gamma_abs, np.abs(gamma), atol=PRINTED_SIZE)


READ = [name for name, case in CASES.items() if not case.expected.startswith(("refuse", "hint", "either"))]
REFUSED = [name for name, case in CASES.items() if case.expected.startswith(("refuse", "hint"))]
PHASES = {
    "gamma at 75": "signed",
    "gamma at 75 none": "none",
    "swr at 75": "none",
    "signed ten times": "signed",
}


@pytest.mark.parametrize("name", READ)
def test_is_read_right(tmp_path, name):
    case = CASES[name]
    sweep = read(tmp_path, case.content, **case.hints)
    assert sweep.phase == PHASES.get(case.expected, case.expected)
    assert sweep.reference_ohm == (75 if "75" in case.expected else case.reads_at)
    if (
        case.expected != "gamma at 75 none"
    ):  # a made-up pair of SWR and reference: only the reference is asked
        check_values(sweep, case.expected)


@pytest.mark.parametrize("name", REFUSED)
def test_is_refused_with_its_line_and_a_cure(tmp_path, name):
    case = CASES[name]
    with pytest.raises(SweepkitError, match=r";.*(expected|must be|correct|name|pass|export)") as caught:
        read(tmp_path, case.content, **case.hints)
    kind, _, line = case.expected.partition("@")
    if line:
        assert caught.value.line == int(line)
    if kind.startswith("hint:"):
        assert isinstance(caught.value, NeedsHint)
        assert caught.value.hint == kind.removeprefix("hint:")
        assert f"--{caught.value.hint}" in caught.value.text
    if isinstance(caught.value, UnreadableFile):
        assert caught.value.line is not None


@pytest.mark.parametrize("name", [name for name, case in CASES.items() if case.expected == "either"])
def test_is_read_right_or_refused(tmp_path, name):
    case = CASES[name]
    try:
        sweep = read(tmp_path, case.content, **case.hints)
    except SweepkitError:
        return
    if sweep.f_hz.size == POINTS and "clip" not in name:
        check_values(sweep, case.expected)


DAMAGE = 'x#!%?;,."eé|_/'
SEEDS = [
    "plain",
    "semicolon comma",
    "quoted commas",
    "thousands quoted",
    "units in cells",
    "swr only",
    "pipe",
]


@pytest.mark.parametrize("name", SEEDS)
def test_one_wrong_character_is_refused_or_said_or_harmless(tmp_path, name):
    # A sign or a digit that another digit or a blank replaces leaves a valid table: nobody could tell.
    text = CASES[name].content.decode()
    whole = read(tmp_path, text.encode())
    said = {finding.code for finding in whole.findings}
    first = min(at for at in (text.find("13.9"), text.find("13,9"), len(text)) if at > 0)
    dice = random.Random(name)
    for at in dice.sample(range(first, len(text)), 40):
        for wrong in dice.sample(DAMAGE, 4):
            if text[at] in "\n-+ ":
                continue
            damaged = text[:at] + wrong + text[at + 1 :]
            try:
                sweep = read(tmp_path, damaged.encode())
            except UnreadableFile as error:
                assert error.line is not None, damaged
                continue
            if {finding.code for finding in sweep.findings} - said:
                continue
            assert sweep.f_hz.size == whole.f_hz.size, damaged
            np.testing.assert_allclose(sweep.f_hz, whole.f_hz, rtol=1e-4, err_msg=damaged)
            np.testing.assert_allclose(sweep.gamma_abs, whole.gamma_abs, atol=0.02, err_msg=damaged)


def test_the_first_of_rows_that_disagree_in_a_long_table_is_named_and_all_are_counted(tmp_path):
    lines = [
        "Frequency (Hz),R (ohm),X (ohm),SWR",
        *(f"{f},75.0,0.0,1.50" for f in range(7_000_000, 7_036_000)),
    ]
    path = tmp_path / "long.csv"
    path.write_text("\n".join(lines) + "\n")
    assert read_sweep(path).f_hz.size == 36_000
    for at in (20_000, 20_001, 35_000):
        lines[at] = lines[at].replace("1.50", "1.80")
    path.write_text("\n".join(lines) + "\n")
    with pytest.raises(
        UnreadableFile, match=r":20001: column SWR says 1.8, .* give 1.5 \(3 of 36000 rows disagree\)"
    ):
        read_sweep(path)
