"""``sweepkit kit try``: what another value would change, and nothing is written."""

from __future__ import annotations

from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
LONG = str(ROOT / "sample_sweeps" / "ridge_dipole_40m_long.s1p")


def test_a_wider_tuner_widens_what_it_matches_and_the_review_says_the_same(run, tmp_path):
    done = run("kit", "try", LONG, "--measured-at", "feedpoint", "--tuner-swr", "10", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    text = " ".join(done.stdout.split())
    assert "tuner: a tuner that matches up to SWR 3 -> a tuner that matches up to SWR 10" in text
    before = run("review", LONG, "--measured-at", "feedpoint", cwd=tmp_path).stdout
    assert "usable from 7.000 to 7.068 MHz" in " ".join(before.split())
    assert "TUNER, with the tuner 7.000 to 7.068 MHz -> TUNER, with the tuner 7.000 to 7.200 MHz" in text
    assert list(tmp_path.iterdir()) == []


def test_what_changes_nothing_is_said_to_be_the_same(run, tmp_path):
    done = run("kit", "try", LONG, "--measured-at", "feedpoint", "--power", "5 W", cwd=tmp_path)
    assert "radio: 100 W, direct up to SWR 2 -> 5 W, direct up to SWR 2" in " ".join(done.stdout.split())
    assert "the same with both" in " ".join(done.stdout.split())


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((), "nothing to try"),
        (("--power", "10"), 'a power with its unit was expected; write it like "10 W"'),
        (("--tuner-swr", "0.4"), "it must be 1 to"),
        (("--region", "7"), "--region"),
    ],
)
def test_what_cannot_be_tried_is_refused_in_one_line(run, tmp_path, words, said):
    done = run("kit", "try", LONG, *words, cwd=tmp_path)
    assert done.returncode == 2
    assert said in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1
