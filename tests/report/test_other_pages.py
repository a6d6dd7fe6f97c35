"""Pages of trim, feedline, repeats and setups: what stands on them, in which order, and what a name cannot do."""

from __future__ import annotations

import json
import re

import numpy as np
import pytest

from sweepkit.cautions import ONE_WAY, POWER_OFF
from sweepkit.quantities import length_text
from sweepkit.report.page import Grid
from sweepkit.report.page_html import page_html
from sweepkit.report.page_markdown import page_markdown
from tests.report.conftest import HOSTILE
from tests.report.pages import (
    measured,
    one_setup,
    page_of_comparison,
    page_of_diagnosis,
    page_of_line,
    page_of_radials,
    page_of_review,
    page_of_trim,
    repeated,
    trimmed,
)

SPOOL = ("spool_open.s1p", "spool_short.s1p")
BROKEN = ("broken_line.s1p",)


def in_order(text: str, words: list[str]) -> bool:
    places = [text.index(word) for word in words]
    return places == sorted(places)


def test_a_trim_page_says_the_move_first_then_the_steps_and_the_figures():
    answer, _ = trimmed()
    text = page_html([page_of_trim()])
    assert answer.plan.action == "shorten"
    assert in_order(
        text,
        [
            "FOLD ",
            "Next steps</h2>",
            "Pictures</h2>",
            "Figures</h2>",
            "Before you touch it",
            "Where this comes from",
        ],
    )
    first = page_of_trim()
    assert first.steps[0] == POWER_OFF
    assert length_text(abs(answer.plan.first_move.m)) in first.verdicts[0].word


def test_a_trim_page_has_every_sweep_it_rests_on_with_its_hash():
    answer, earlier = trimmed()
    text = page_html([page_of_trim()])
    for sweep in (answer.review.sweep, *earlier):
        assert sweep.source.sha256 in text
    (grid,) = [table for table in page_of_trim().tables if isinstance(table, Grid)]
    assert [row[0] for row in grid.rows] == ["meadow_vertical_1.s1p", "now"]
    assert grid.rows[0][1] == length_text(5.3)


def test_a_cut_says_fold_first_and_that_it_cannot_be_undone():
    text = page_markdown([page_of_trim(by="cut", pictures=False)])
    assert in_order(text, ["Radio off and disconnected", "Fold the same length first"])
    assert re.sub(r"\\(.)", r"\1", text).count(ONE_WAY) >= 1


def test_the_readout_of_a_line_is_what_is_drawn():
    line, _, _ = measured(*SPOOL)
    text = page_html([page_of_line(*SPOOL)])
    readout = json.loads(re.search(r'id="readout-1-0">(.*?)</script>', text)[1])
    distance_m, size_db = np.array(readout["distance_m"]), np.array(readout["size_db"][0])
    assert (np.diff(distance_m) > 0).all()
    assert distance_m[readout["start"]] == pytest.approx(line.reflections[-1].distance_m.value, abs=0.1)
    assert distance_m[size_db.argmax()] == pytest.approx(line.length_m.value, abs=line.resolution_m)


def test_a_line_page_has_length_losses_the_block_and_each_file():
    line, _, sweeps = measured(*SPOOL)
    page = page_of_line(*SPOOL)
    text = page_html([page])
    assert page.verdicts[0].word == "NOTHING WRONG FOUND"
    assert f"{line.length_m.value:.2f} m" in text
    losses = next(table for table in page.tables if table.title.startswith("Loss"))
    assert [float(row[0]) for row in losses.rows] == pytest.approx(line.loss_hz / 1e6, abs=0.006)
    assert page.blocks[0].text.startswith("[lines.")
    assert all(sweep.source.sha256 in text for sweep in sweeps)
    assert page.cautions[0] == POWER_OFF


def test_a_broken_line_says_so_first():
    page = page_of_line(*BROKEN)
    word, at = page.verdicts[0].word.split(" AT ")
    assert word == "ENDS OPEN"
    assert float(at.removesuffix(" m")) == pytest.approx(11.0, rel=0.02)  # where the sample was made to break
    assert page.verdicts[0].tone == "fair"  # a warning: nobody told how long the line is
    assert "NOTHING WRONG" not in page_html([page])


def test_what_cannot_be_said_has_the_same_sign_as_on_other_pages():
    first = page_of_line("valley_dipole_rg58.s1p", pictures=False).verdicts[0]
    assert (first.sign, first.word, first.tone) == ("?", "CANNOT SAY", "unknown")


def test_a_page_of_repeats_says_how_well_they_repeat_and_names_every_file():
    answer = repeated()
    page = page_of_review(answer)
    text = page_html([page])
    assert page.title == "ridge_dipole_40m.s1p and 2 more"
    assert page.subtitle.startswith("3 repeats; the first: ")
    assert page.tables[0].title == "How well it repeats"
    rows = {row.name: row.value for row in page.tables[0].rows}
    assert rows["repeats"] == "3"
    assert rows["standard deviation of the dip"] == f"{answer.repeatability.dip_hz_sd / 1e3:.3g} kHz"
    assert page.pictures[0].title == "SWR at the feedpoint, mean of 3 repeats, each a thin line"
    for sweep in answer.sweeps:
        assert sweep.source.sha256 in text
        assert sweep.source.path in text


def test_a_page_of_a_setup_has_pictures_and_provenance_of_each_sweep():
    answer = one_setup()
    page = page_of_review(answer)
    assert page.title == "ridge_dipole_40m.s1p and 1 more"
    assert page.subtitle.startswith("2 sweeps of one setup; the first: ")
    assert len(page.pictures) == 6
    assert {picture.readout for picture in page.pictures} == {0, 1}
    assert [readout["f_hz"][0] for readout in page.readouts] == [6.5e6, 12.6e6]
    files = [value for name, value in page.provenance if name == "sha256"]
    assert files == [sweep.source.sha256 for sweep in answer.sweeps]
    names = [verdict.name for verdict in page.verdicts]
    assert {"40 m", "20 m"} <= set(", ".join(names).split(", "))


def test_a_comparison_page_says_the_verdict_first_and_what_it_does_not_say():
    page = page_of_comparison()
    (verdict,) = page.verdicts
    assert verdict.word == "DIFFERENT: meadow_vertical_1.s1p and meadow_vertical_3.s1p"
    assert verdict.why[0].startswith("dip MOVED")
    assert in_order(page_markdown([page]), ["DIFFERENT", "held against", "neither efficiency", "sha256"])


def test_a_page_by_radials_draws_one_outing_and_says_what_each_did():
    page = page_of_radials()
    assert {verdict.word.split(":")[0] for verdict in page.verdicts} == {"DIFFERENT"}
    assert [table.title for table in page.tables[:2]] == ["By radials", "What each radial did"]
    assert sum("for each" in row[0] for row in page.tables[1].rows) == 9
    assert "up to 8 radials" in page.pictures[0].description


def test_a_diagnosis_page_says_the_test_before_the_causes():
    text = page_markdown([page_of_diagnosis(pictures=False)])
    assert in_order(text, ["CHANGED", "TEST:", "Radio off and disconnected", "For it:", "sha256"])


@pytest.mark.parametrize(
    "make",
    [
        lambda pictures: page_of_trim(HOSTILE, pictures=pictures),
        lambda pictures: page_of_line(*SPOOL, path=HOSTILE, pictures=pictures),
        lambda pictures: page_of_review(repeated(HOSTILE), pictures=pictures),
        lambda pictures: page_of_comparison(HOSTILE, pictures=pictures),
        lambda pictures: page_of_diagnosis(HOSTILE, pictures=pictures),
    ],
    ids=["trim", "line", "repeats", "comparison", "diagnosis"],
)
def test_a_hostile_name_is_text(make):
    text = page_html([make(True)])
    assert text.count("<script>") == 1
    assert "<img" not in text
    assert "\u202e" not in text
    bad = page_markdown([make(False)])
    assert "<script" not in bad
    assert "<img" not in bad
    assert "\u202e" not in bad
