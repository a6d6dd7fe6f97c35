"""What is kept of a review: the review's own figures, unchanged by a way through JSON."""

from __future__ import annotations

import json
from importlib import import_module
from pathlib import Path

import pytest

from sweepkit.errors import UnreadableFile
from sweepkit.readers import read_sweep
from sweepkit.reviews import Summary, review, summarise

SAMPLES = Path(__file__).parents[2] / "sample_sweeps"
DIPOLE = SAMPLES / "ridge_dipole_40m.s1p"


def test_it_holds_the_figures_of_the_review():
    answer = review(read_sweep(DIPOLE), measured_at="feedpoint", draws=50)
    kept = summarise(answer)
    (dip,) = kept.planes["feedpoint"]
    assert list(kept.planes) == ["feedpoint"]
    assert dip.dip_hz == answer.feedpoint.dips[0].f_hz
    assert dip.r_ohm == answer.feedpoint.dips[0].r_ohm
    assert dip.q == answer.feedpoint.resonances[0].q
    assert dip.bandwidth_hz in [
        width.bandwidth_hz for width in answer.feedpoint.swr_bandwidths if width.limit_swr == 2
    ]
    assert kept.bands["40 m"].best_swr == answer.bands[0].best_swr
    assert kept.step_hz == pytest.approx(answer.planes.measured.step_hz)


def test_a_band_is_kept_as_the_review_describes_it_without_the_rest_of_its_figures(monkeypatch):
    answer = review(read_sweep(SAMPLES / "valley_dipole_rg58.s1p"), lines=["RG-58 15 m"], draws=50)
    with monkeypatch.context() as patched:  # whoever describes one fails
        patched.setattr(import_module("sweepkit.reviews.review"), "describe_band", None)
        kept = summarise(answer).bands
    assert kept
    for band in answer.bands:
        figures = kept[band.name]
        assert figures.covered == band.covered
        assert figures.best_hz == band.best_hz
        assert figures.best_swr == band.best_swr
        assert figures.line_loss_db == band.line_loss_db


def test_each_plane_is_kept_under_its_own_name():
    sweep = read_sweep(SAMPLES / "valley_dipole_rg58.s1p")
    behind_line = summarise(review(sweep, lines=["RG-58 15 m"], draws=20))
    assert set(behind_line.planes) == {"feedpoint", "radio"}
    assert behind_line.planes["radio"][0].q.value is None
    assert behind_line.planes["feedpoint"][0].q.value is not None
    untold = summarise(review(sweep, draws=20))
    assert list(untold.planes) == ["unknown"]
    assert "feedpoint" in untold.planes["unknown"][0].q.reason


def test_json_gives_the_same_back():
    kept = summarise(review(read_sweep(DIPOLE), measured_at="feedpoint", draws=50))
    assert Summary.from_json(json.loads(json.dumps(kept.to_json(), allow_nan=False))) == kept


@pytest.mark.parametrize(
    "damage",
    [
        lambda document: document.pop("planes"),
        lambda document: document.update(schema="another/1"),
        lambda document: document.update(points="many"),
        lambda document: document["planes"]["feedpoint"][0].update(dip_hz=7.1e6),
        lambda document: document["planes"]["feedpoint"][0]["dip_hz"].update(low=9e9),
        lambda document: document["planes"].update(feedpoint=[{"dip_hz": {}}]),
    ],
)
def test_damaged_figures_are_refused(damage):
    document = summarise(review(read_sweep(DIPOLE), measured_at="feedpoint", draws=20)).to_json()
    damage(document)
    with pytest.raises(UnreadableFile, match="damaged"):
        Summary.from_json(document)
