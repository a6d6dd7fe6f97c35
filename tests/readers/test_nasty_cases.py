"""Files made to be read wrongly are read right or refused in words that help."""

import numpy as np
import pytest

from sweepkit.errors import NeedsHint, NotASweep, SweepkitError, UnreadableFile
from sweepkit.readers import read_sweep
from tests.readers.nasty_cases import F_HZ, GAMMA, NASTY, SWR


def read(folder, case):
    path = folder / "sweep.csv"
    path.write_text(case.text, encoding="utf-8")
    return read_sweep(path, **case.hints)


REFUSED = [name for name, case in NASTY.items() if case.expected.startswith(("refuse", "hint", "none"))]


@pytest.mark.parametrize("name", REFUSED)
def test_is_refused_in_words_that_help(tmp_path, name):
    kind, _, words = NASTY[name].expected.partition(" ")
    with pytest.raises(SweepkitError) as caught:
        read(tmp_path, NASTY[name])
    error = caught.value
    assert words in error.text
    assert ";" in error.text
    assert isinstance(error, NotASweep) == (kind == "none")
    if kind.startswith("hint:"):
        assert isinstance(error, NeedsHint)
        assert error.hint == kind.removeprefix("hint:")
    if isinstance(error, UnreadableFile):
        assert error.line is not None


@pytest.mark.parametrize("name", [name for name in NASTY if name not in REFUSED])
def test_is_read_right(tmp_path, name):
    kind, _, finding = NASTY[name].expected.partition(" ")
    sweep = read(tmp_path, NASTY[name])
    codes = {one.code for one in sweep.findings}
    assert not finding.startswith("+") or finding[1:] in codes
    assert not finding.startswith("-") or finding[1:] not in codes
    if kind == "75":
        assert sweep.reference_ohm == 75
        assert "reference-assumed" not in codes
    if kind == "open":
        assert np.abs(sweep.gamma - 1).max() < 1e-3
    if kind in ("read", "swr", "mag"):
        np.testing.assert_allclose(sweep.f_hz, F_HZ, rtol=1e-5)
        np.testing.assert_allclose(sweep.gamma_abs, np.abs(GAMMA), atol=0.005)
    if kind == "read":
        np.testing.assert_allclose(sweep.gamma, GAMMA, atol=0.005)
    if kind == "swr":
        assert (1 + sweep.gamma_abs) / (1 - sweep.gamma_abs) == pytest.approx(SWR, rel=0.01)


def test_a_hole_is_shown_once_with_the_answer(tmp_path, run):
    case = NASTY["two rows lost from an even grid"]
    (tmp_path / "a.csv").write_text(case.text, encoding="utf-8")
    shown = run("review", "a.csv", cwd=tmp_path).stdout
    assert shown.count("2 points missing from a grid of") == 1
    (tmp_path / "b.csv").write_text(NASTY["an even grid"].text, encoding="utf-8")
    assert "missing" not in run("review", "b.csv", cwd=tmp_path).stdout


def test_two_references_are_refused_at_the_line_of_the_second(tmp_path):
    case = NASTY["a reference below against one above"]
    with pytest.raises(NeedsHint) as caught:
        read(tmp_path, case)
    assert caught.value.line == case.text.count("\n")
