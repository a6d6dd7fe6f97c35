"""The tables that the weights rest on: whole, sourced, and with the signs of the trade."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from sweepkit.antennas.catalogue import KINDS as ANTENNAS
from sweepkit.diagnosis import signatures, told_words
from sweepkit.diagnosis.acting.stories import OTHER
from sweepkit.diagnosis.dip import Part
from sweepkit.diagnosis.proved import SEEN
from sweepkit.diagnosis.seen import Seen
from sweepkit.diagnosis.signatures import ELSE, KINDS, read_signatures, signatures_of
from sweepkit.diagnosis.spreads import usual_spread
from sweepkit.diagnosis.told_words import Told, read_told
from sweepkit.diagnosis.weigh import BESIDES, SHOWS, weigh_causes
from sweepkit.diagnosis.wording import CAUSES, step_of

NAMES = (Path(__file__).resolve().parents[2] / "docs" / "names.md").read_text(encoding="utf-8")
ROWS = read_signatures()
SPREAD = usual_spread("joined-anew", is_whip=False)


def shifted(f=None, r=None, q=None, loss=0.0, dip_kept=True, **more):
    """A shift at the feedpoint; quantities in per cent and dB."""
    told = {"f": f, "r": r, "q": q, "loss": loss, "turn": -0.5, **more}
    parts = {name: Part(value, 0.3) for name, value in told.items() if value is not None}
    return Seen(parts, dip_kept, (7.1e6, 7.1e6 if dip_kept else None), (1.5, 1.5), True)


def weighed(seen, kind, *, changed=None, findings=(), returned=None):
    told = read_told(changed)
    causes = weigh_causes(
        seen, kind=kind, told=told, spread=SPREAD, findings=set(findings), returned=returned
    )
    return {cause.code: cause.weight for cause in causes}


def test_every_row_has_a_source_and_sizes_that_can_be():
    with signatures.TABLE.open(encoding="utf-8") as stream:
        for row in csv.DictReader(stream):
            assert row["source"], row["code"]
            assert row["after"] or row["code"] == ELSE
    for row in ROWS:
        assert set(row.kinds) <= set(KINDS)
        assert all(spread > 0 for spread in row.spread.values())
        assert 0 < row.dip_kept < 1
        assert row.common > 0


def test_kinds_are_those_of_the_catalogue():
    assert set(KINDS) == set(ANTENNAS)


def test_every_cause_has_words_and_a_place_on_the_page_of_names():
    codes = {row.code for row in ROWS} | set(SHOWS) | {cause for cause, _, _ in SEEN.values()}
    codes |= {code for own, _ in BESIDES.values() for code in own}
    assert codes | {OTHER} == set(CAUSES)
    assert not {code for code in codes if f"`{code}`" not in NAMES}


def test_every_step_begins_with_the_radio_off():
    assert all(step_of(code).startswith("radio off and disconnected: ") for code in CAUSES)


def test_words_speak_for_causes_that_exist():
    with told_words.TABLE.open(encoding="utf-8") as stream:
        for row in csv.DictReader(stream):
            assert set(filter(None, row["codes"].split(";"))) <= set(CAUSES)
            assert float(row["odds"]) >= 1


def test_a_dipole_has_no_radials_and_a_whip_no_legs():
    assert "radial-off" not in {row.code for row in signatures_of("dipole")}
    assert "leg-off" not in {row.code for row in signatures_of("loaded-whip")}
    assert {row.code for row in signatures_of(None)} == {row.code for row in ROWS}


def test_every_kind_can_have_something_else():
    for kind in KINDS:
        assert ELSE in {row.code for row in signatures_of(kind)}


# Source of the shifts: table of the trade and wire-model trends of common practice, as named in
# sweepkit/data/signatures.csv; these are its middles, so the test guards the weighing, not the sizes.
@pytest.mark.parametrize(
    ("kind", "seen", "cause"),
    [
        ("loaded-whip", shifted(1.85, 12, -9), "radial-off"),
        ("loaded-whip", shifted(5.1, 25, -18), "radial-off"),
        ("loaded-whip", shifted(-3.0, 0, 0), "wrong-tap"),
        ("loaded-whip", shifted(0.2, 25, -20), "drier-soil"),
        ("loaded-whip", shifted(-0.2, -25, 22), "wetter-soil"),
        ("dipole", shifted(3.0, 1, 1), "length-changed"),
        ("dipole", shifted(dip_kept=False, ripple=3.0, end=0.9), "leg-off"),
        ("vertical", shifted(dip_kept=False, ripple=0.5, end=0.9), "open-line"),
        ("vertical", shifted(dip_kept=False, ripple=0.5, end=-0.9), "shorted-line"),
        ("dipole", shifted(0.05, 15, -20, loss=1.0, as_loss=-2.0), "line-loss"),
        ("dipole", shifted(0.0, 3, 3, turn=-2.5), "wrong-plane"),
    ],
)
def test_the_middle_of_a_signature_is_its_own(kind, seen, cause):
    weights = weighed(seen, kind)
    assert next(iter(weights)) == cause
    assert sum(weights.values()) == pytest.approx(1)


def test_what_no_row_describes_is_something_else():
    assert next(iter(weighed(shifted(9.0, 90, 60, loss=-2.0), "loop"))) == ELSE


def test_r_alone_tells_a_radial_from_a_tap():
    with_r, without_r = (
        weighed(shifted(2.4, 13, -10), "loaded-whip"),
        weighed(shifted(2.4, 0, 0), "loaded-whip"),
    )
    assert with_r["radial-off"] > with_r["wrong-tap"]
    assert without_r["wrong-tap"] > without_r["radial-off"]


def test_a_dip_that_moved_the_wrong_way_is_not_explained_by_a_trend_of_sure_sign():
    assert weighed(shifted(-1.8, 12, -9), "loaded-whip")["radial-off"] < 0.02
    assert weighed(shifted(+2.5, 0, 0), "dipole")["wet-wire"] < 0.01


def test_told_words_shift_the_odds_and_prove_nothing():
    seen = shifted(-0.7, 0, 0)
    silent, rain = (weighed(seen, "dipole", changed=words)["wet-wire"] for words in (None, "it rained"))
    assert silent < rain < 1
    far = weighed(shifted(6.0, 0, 0), "dipole", changed="it rained")
    assert far["wet-wire"] < 0.05


def test_sweeps_that_do_not_come_back_speak_for_a_joint():
    seen = shifted(0.3, 5, -5)
    steady, moving = (weighed(seen, "dipole", returned=back)["loose-joint"] for back in (True, False))
    assert moving > steady


def test_a_finding_speaks_for_the_cause_that_explains_it():
    plain, jump = (weighed(shifted(0.3, 5, -5), "dipole", findings=codes) for codes in ((), ("loose-joint",)))
    assert jump["loose-joint"] > 0.5 > plain["loose-joint"]


@pytest.mark.parametrize(
    ("text", "codes", "rung"),
    [
        (None, (), None),
        ("moved coax", ("common-mode",), None),
        ("Added choke", ("common-mode",), None),
        ("rain", ("wet-wire", "wetter-soil"), None),
        ("re-clipped radials", ("radial-off",), None),
        ("new tap", ("wrong-tap",), None),
        ("transmitted", ("hot-drift",), None),
        ("put up again at a new site", (), "another-site"),
        ("re-erected", (), "put-up-again"),
    ],
)
def test_words_are_understood(text, codes, rung):
    told = read_told(text)
    assert all(told.odds.get(code, 1) > 1 for code in codes)
    assert told.rung == rung
    assert told.unknown == ()


def test_unknown_words_are_said():
    assert read_told("moved the gizmo, gizmo and flange").unknown == ("gizmo", "flange")
    assert read_told("gizmo") == Told(unknown=("gizmo",))
