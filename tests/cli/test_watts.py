"""Watts and the unplugged antenna on the command line: options, words, refusals."""

from __future__ import annotations

import json

import pytest

DIPOLE = "ridge_dipole_40m.s1p"


@pytest.fixture
def kit(tmp_path):
    path = tmp_path / "kit.toml"
    path.write_text(
        "[radio]\npower_w = 50\npower_at_swr = [[3.0, 1.0]]\npower_at_volts = [[13.8, 1.0], [11.5, 0.8]]\n"
    )
    return path


def band_of(done):
    return next(band for band in json.loads(done.stdout)["bands"] if band["name"] == "40 m")


def test_the_battery_lowers_the_watts_and_the_ledger_says_where(run, samples, kit):
    told = ("review", samples / DIPOLE, "--line", "RG-58 15 m", "--kit", kit, "--draws", "0", "--json")
    full, low = band_of(run(*told)), band_of(run(*told, "--volts", "11.5 V"))
    assert low["power_to_antenna_w"]["value"] == pytest.approx(0.8 * full["power_to_antenna_w"]["value"])
    assert [row["where"] for row in full["power"]] == ["radio", "line", "box", "coil", "ground"]
    assert [row["told"] for row in full["power"]] == [True, True, False, False, False]
    more_db = low["power"][0]["loss_db"]["value"] - full["power"][0]["loss_db"]["value"]
    assert more_db == pytest.approx(0.969, abs=0.001)  # 10 log10(1/0.8)
    lost_db = sum(row["loss_db"]["value"] for row in full["power"][:2])
    assert full["power_to_antenna_w"]["value"] == pytest.approx(50 * 10 ** (-lost_db / 10))


def test_text_and_card_say_that_the_watts_leave_the_coax(run, samples, kit):
    told = (
        "review",
        samples / DIPOLE,
        "--line",
        "RG-58 15 m",
        "--kit",
        kit,
        "--draws",
        "0",
        "--band",
        "40 m",
    )
    text = run(*told).stdout
    assert "Leaves the coax:" in " ".join(text.split())
    assert " of 100 W" not in text
    untold = run(*(part for part in told if part not in ("--kit", kit))).stdout
    assert " W of 100 W." in " ".join(untold.split())
    assert "antenna" not in run(*told, "--card").stdout
    assert "leaves coax" in run(*told, "--card").stdout.splitlines()[-1]


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (("--volts", "12"), "'12' has no unit; write it like 12.2 V"),
        (("--volts", "12 V"), "the kit does not say what the radio gives at it; write power_at_volts"),
        (("--test", "antenna-unplugged"), "--test antenna-unplugged is given without --test-sweep"),
        (("--test-sweep", "SAMPLE"), "--test-sweep is given without --test"),
        (("--test", "antenna-unplugged", "--test-sweep", "SAMPLE"), "is the sweep that is reviewed"),
        (("--test", "wiggled", "--test-sweep", "SAMPLE"), "--test is 'wiggled'"),
    ],
)
def test_what_cannot_be_is_said_in_one_line(run, samples, more, words):
    told = [samples / DIPOLE if word == "SAMPLE" else word for word in more]
    done = run("review", samples / DIPOLE, "--draws", "0", *told)
    assert done.returncode == 2
    assert words in done.stderr
