"""Listing, adding and comparing speak of the same dip of an antenna, whichever of its dips is the deepest today."""

import json
import re
from itertools import pairwise

import numpy as np
import pytest

from sweepkit.writers import sweep_text
from tests.several_bands.circuits import swept

# Dips of a wire on three days [Hz, ohm]: the lower one is the deepest on the first day, the upper one later.
DAYS = [((6.998e6, 51), (13.906e6, 70)), ((6.971e6, 60), (13.788e6, 51)), ((6.945e6, 60), (13.70e6, 66))]


@pytest.fixture(scope="module")
def said(run, tmp_path_factory):
    """The logbook with what adding said of each day."""
    folder = tmp_path_factory.mktemp("days")
    log, lines = folder / "log.sqlite", []
    f_hz = np.linspace(6e6, 16e6, 401)
    for day, dips in enumerate(DAYS, start=1):
        path = folder / f"day{day}.s1p"
        y = sum(1 / (r * (1 + 11j * (f_hz / f0 - f0 / f_hz))) for f0, r in dips)
        path.write_text(sweep_text(swept(f_hz, 1 / y), "touchstone"), encoding="utf-8")
        facts = ("--set", "kind=dipole", "--set", "site=hill", "--set", f"when=2026-05-0{day}")
        place = ("--antenna", "wire", "--measured-at", "feedpoint")
        done = run("log", "add", path, *place, *facts, "--log", log)
        assert done.returncode == 0, done.stderr
        lines.append(next(line for line in done.stderr.splitlines() if ": dip " in line))
    return log, lines


def dips_mhz(text):
    return [float(found) for found in re.findall(r"([\d.]+) MHz", text)]


def test_the_listing_shows_the_same_dip_of_every_sweep(run, said):
    assert dips_mhz(run("log", "list", "--log", said[0]).stdout) == pytest.approx([7.0, 6.97, 6.94], abs=0.03)
    one = run("log", "show", "S2", "--log", said[0]).stdout
    assert dips_mhz(one)[0] == pytest.approx(6.97, abs=0.03)


def test_adding_holds_that_dip_against_the_one_before_and_comparing_names_it(run, said):
    log, lines = said
    answer = json.loads(run("compare", "--antenna", "wire", "--log", log, "--json").stdout)
    compared = [setup["dip_hz"]["value"] / 1e6 for setup in answer["setups"]]
    assert [dips_mhz(line)[0] for line in lines] == pytest.approx(compared, abs=6e-4)
    for (before, now), line in zip(pairwise(compared), lines[1:], strict=True):
        assert float(re.search(r"(\d+) kHz below", line).group(1)) == pytest.approx(
            1e3 * (before - now), abs=1
        )
