"""The pages as text: what is on them, and what hostile names cannot do."""

from __future__ import annotations

import json
import re
from dataclasses import replace

import numpy as np

from sweepkit.figures import Figure
from sweepkit.findings import Finding
from sweepkit.report.page import figure_row
from sweepkit.report.page_html import page_html
from sweepkit.report.page_markdown import page_markdown
from sweepkit.report.provenance import Made
from sweepkit.report.review_page import review_page, swr_row
from sweepkit.reviews import review
from sweepkit.sweep import Sweep


def test_the_verdict_comes_first_and_the_provenance_is_whole(dipole, dipole_page):
    made = Made(command="sweepkit review x.s1p", kit="kit.toml", kit_bytes=b"region = 1", draws=200, seed=3)
    from_here = review_page(dipole, made=made, pictures=False).provenance
    text = page_html([replace(dipole_page, provenance=from_here)])
    places = [
        text.index(word)
        for word in ("DIRECT", "Pictures</h2>", "Figures</h2>", "Before you key", "Where this comes from")
    ]
    assert places == sorted(places)
    for word in (
        dipole.sweep.source.sha256,
        "kit.toml (sha256 ",
        "200, 3",
        "sweepkit review x.s1p",
        "numpy ",
    ):
        assert word in text


def test_findings_stand_with_their_next_steps(dipole):
    finding = Finding("jagged", "stop", "the curve is torn", "sweep again with hands off")
    text = page_html([review_page(replace(dipole, findings=(finding,)), pictures=False)])
    assert "the curve is torn" in text
    assert "sweep again with hands off" in text
    assert text.index("STOP") < text.index("DIRECT")


def test_the_readout_holds_the_points_of_the_file(dipole, dipole_page):
    text = page_html([dipole_page])
    readout = json.loads(re.search(r'id="readout-1-0">(.*?)</script>', text)[1])
    assert readout["f_hz"] == list(dipole.sweep.f_hz)
    gamma_abs = dipole.sweep.gamma_abs
    assert np.allclose(readout["swr"][0], (1 + gamma_abs) / (1 - gamma_abs), rtol=1e-4)


def test_a_page_of_801_points_stays_below_a_megabyte():
    f_hz = np.linspace(1e6, 60e6, 801)
    rng = np.random.default_rng(1)
    gamma = 0.9 * np.exp(2j * np.pi * f_hz / 11e6) + 0.01 * rng.normal(size=801)
    sweep = Sweep(f_hz=f_hz, gamma=gamma, gamma_abs=np.abs(gamma))
    text = page_html([review_page(review(sweep, draws=100))])
    assert len(text.encode("utf-8")) < 1_000_000


def test_hostile_text_is_escaped(hostile):
    text = page_html([review_page(hostile)])
    assert "<img" not in text
    assert "<svg onload" not in text
    assert "\u202e" not in text
    assert text.count("<script>") == 1


def test_a_sweep_without_phase_has_no_impedance():
    f_hz = np.linspace(6.5e6, 7.7e6, 101)
    gamma_abs = np.clip(0.2 + np.abs(f_hz - 7.1e6) / 1e6, 0, 0.95)
    page = review_page(review(Sweep(f_hz=f_hz, gamma=None, gamma_abs=gamma_abs, phase="none"), draws=50))
    assert [picture.name for picture in page.pictures] == ["p1-1-swr", "p1-slide"]
    assert "r_ohm" not in page.readouts[0]


def test_markdown_has_the_verdict_tables_and_no_live_markup(dipole, hostile):
    text = page_markdown([review_page(dipole, pictures=False)])
    assert "**40 m DIRECT**" in text
    assert "| dip | 7.094 MHz | 7.086 to 7.099 |" in text
    bad = page_markdown([review_page(hostile, pictures=False)])
    assert "<script" not in bad
    assert "<img" not in bad
    assert "\u202e" not in bad
    assert re.search(r"(?<!\\)`", bad) is None


def test_no_answer_gives_its_reason():
    row = figure_row("dip", Figure.none("no dip inside the sweep"), "MHz", ".3f")
    assert (row.value, row.interval) == ("no answer", "no dip inside the sweep")


def test_zero_has_no_sign_and_huge_swr_no_digits():
    assert figure_row("X", Figure(0.4, -0.02, 0.9), "ohm", ".1f").interval == "0.0 to 0.9"
    assert swr_row("SWR", Figure(300.0, 120.0, 900.0)).value == "above 100"


def test_pages_fold_away_what_was_not_asked_and_follow_night_colours(dipole_page):
    text = page_html([dipole_page])
    folded = text.split("<details>")[1].split("</details>")[0]
    assert "More figures: Band 40 m" in folded
    assert "best SWR" in folded
    assert "best SWR" not in text.split("<details>")[0]
    assert "prefers-color-scheme: dark" in text
    assert "beforeprint" in text


def test_no_page_names_a_home_folder(dipole, monkeypatch):
    for name in ("HOME", "USERPROFILE"):
        monkeypatch.setenv(name, "/homes/someone")
    made = Made(
        command="sweepkit review /homes/someone/x.s1p", kit="/homes/someone/kit.toml", kit_bytes=b"region = 1"
    )
    text = page_html([review_page(dipole, made=made, pictures=False)])
    assert "/homes/someone" not in text
    assert "~/x.s1p" in text
    assert "~/kit.toml" in text
