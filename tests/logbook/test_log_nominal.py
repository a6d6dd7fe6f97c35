"""Without draws logged sweeps go through together: the figures of a review without draws, and nothing is kept."""

from pathlib import Path

import pytest
from log_files import s1p

import sweepkit
from sweepkit.logbook import list_lines
from sweepkit.logbook.adding import NewSetup, NewSweep, add_sweeps
from sweepkit.logbook.nominal import nominal_summaries
from sweepkit.logbook.reviewed import summaries
from sweepkit.readers import read_sweep
from sweepkit.reviews import review, summarise

SAMPLES = Path(__file__).resolve().parents[2] / "sample_sweeps"
RIDGE = SAMPLES / "ridge_dipole_40m.s1p"
KIT = b'[lines.spool]\ntype = "RG-58"\nlength = "15 m"\n'
pytestmark = pytest.mark.usefixtures("each_review_once")


@pytest.fixture
def several(log):
    """Behind a line, one again by a name of its kit, a table with hints, one whose line nobody knows, in that order."""
    rows = "\n".join(f"{7 + n / 1000:.3f};{50 + n},0;{n - 40},0" for n in range(80))
    hints = {"columns": "f,r,x", "unit": "MHz", "decimal": "comma"}
    for day, (name, data, hint, facts, kit) in enumerate(
        (
            ("a.s1p", RIDGE.read_bytes(), {}, {"line": ["RG-58 15 m"]}, None),
            ("b.s1p", b"! again\n" + RIDGE.read_bytes(), {}, {"line": ["spool"]}, KIT),
            ("c.csv", f"f;r;x\n{rows}\n".encode(), hints, {}, None),
            ("d.s1p", s1p(1), {}, {"line": ["no such line"]}, None),
        ),
        1,
    ):
        swept = NewSweep(name, data, {"measured_at": "radio", "when": f"2026-05-0{day}"}, hints=hint)
        add_sweeps(log, [swept], setup=NewSetup({"antenna": "ridge", **facts}, kit=kit))
    return log


def test_figures_are_those_of_a_review_without_draws_and_nothing_is_kept(several):
    found = {sweep.name: figures for sweep, figures in nominal_summaries(several)}
    assert list(found) == ["a.s1p", "b.s1p", "c.csv", "d.s1p"]
    alone = summarise(review(read_sweep(RIDGE), lines=["RG-58 15 m"], measured_at="radio", draws=0))
    dip, expected = found["a.s1p"].planes["feedpoint"][0].dip_hz, alone.planes["feedpoint"][0].dip_hz
    assert dip.value == pytest.approx(expected.value, rel=1e-12)
    assert (dip.low, dip.high) == (None, None)
    assert found["b.s1p"].planes == found["a.s1p"].planes
    assert found["c.csv"] is not None
    assert found["d.s1p"] is None
    assert [line.dip_hz for line in list_lines(several)] == [None] * 4


def test_what_is_kept_changes_no_nominal_figure(several):
    before = [figures for _, figures in nominal_summaries(several)]
    assert len(list(summaries(several))) == 4
    assert [figures for _, figures in nominal_summaries(several)] == before


def test_a_damaged_file_is_left_out_by_name(several):
    with several.writing() as connection:
        connection.execute(
            "UPDATE raw SET packed = x'00' WHERE sha256 = (SELECT sha256 FROM sweep WHERE id = 1)"
        )
    assert [sweep.name for sweep, _ in nominal_summaries(several)] == ["b.s1p", "c.csv", "d.s1p"]
    assert any("sweep 1" in text for text in map(str, several.left_out))


def test_compare_without_draws_has_no_intervals(several):
    answer = sweepkit.compare(log=several.path, by="setup", draws=0)
    assert len(answer.setups) == 3
    dips = [dip.dip_hz for setup in answer.setups for dips in setup.sweeps[0].planes.values() for dip in dips]
    assert dips
    assert all(dip.low is None and dip.high is None for dip in dips)
