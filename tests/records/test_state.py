"""How an antenna is set: what the logbook was told of it goes before the kit's nominal length."""

from __future__ import annotations

import json

import pytest

from sweepkit.kit import AntennaNote, Kit
from sweepkit.logbook import open_logbook
from sweepkit.logbook.adding import NewSetup, NewSweep, add_sweeps
from sweepkit.records.antenna import known_antenna

KIT = Kit(antennas={"wire": AntennaNote("dipole", length_m=10.7, radials=2)})
WHIP = Kit(antennas={"wire": AntennaNote("loaded-whip", length_m=2.4, whip_range_m=(1.8, 3.6))})
DATA = b"# MHZ S RI R 50\n7.0 0.1 0.2\n7.1 0.1 0.1\n7.2 0.1 0.0\n"


@pytest.fixture
def log(tmp_path, monkeypatch):
    monkeypatch.setattr("sweepkit.logbook.store.SYNCHRONOUS", "OFF")
    with open_logbook(tmp_path / "log.sqlite", create=True, tell=lambda text: None) as opened:
        yield opened


def keep(log, *states):
    """Sweeps of one setup: facts of each, and what was taken over."""
    new = [
        NewSweep(f"{k}.s1p", DATA + b"7.3 0.1 0.%d\n" % k, facts, taken_over)
        for k, (facts, taken_over) in enumerate(states)
    ]
    return add_sweeps(log, new, setup=NewSetup({"antenna": "wire", "site": "hill", "radials": 4}))


FROM_KIT = ({}, {"length_m": 10.7})
FOLDED = ({"by": "fold", "change_m": -0.54}, {"length_m": 10.16})


@pytest.mark.parametrize(
    ("states", "length_m"),
    [
        ([], 10.7),
        ([({}, {})], 10.7),
        ([({}, {"length_m": 10.5})], 10.7),  # taken over from a kit that has been corrected since
        ([FROM_KIT, FOLDED], 10.16),
        ([FROM_KIT, FOLDED, ({}, {"length_m": 10.16})], 10.16),
        ([({"length_m": 10.3}, {})], 10.3),
    ],
    ids=["no sweep", "no length", "from an older kit", "folded", "folded before", "stated"],
)
def test_the_logbook_goes_before_the_kit_where_it_was_told_of_a_change(log, states, length_m):
    keep(log, *states)
    known = known_antenna(log, "wire", kit=KIT)
    assert known.facts["length_m"] == length_m
    assert known.note(KIT, "wire").length_m == length_m
    assert known.outdated == ({} if length_m == 10.7 else {"length_m": 10.7})
    assert known.source("length_m") == ("the kit" if length_m == 10.7 else "setup S1")
    assert known.facts["radials"] == 2  # no state: the kit's


def test_a_logged_sweep_is_judged_with_the_length_it_had(log):
    keep(log, FROM_KIT, FOLDED)
    hashes = list(known_antenna(log, "wire", kit=KIT).own)
    lengths = [known_antenna(log, "wire", kit=KIT, present=one).facts["length_m"] for one in hashes]
    assert sorted(lengths) == [10.16, 10.7]
    assert [known_antenna(log, "wire", kit=KIT).of_sweep(one).facts["length_m"] for one in hashes] == lengths
    assert known_antenna(log, "wire", kit=KIT).of_sweep("another").facts["length_m"] == 10.16


def test_a_whip_that_slides_has_a_length_of_logged_sweeps_only(log):
    assert known_antenna(None, "wire", kit=WHIP).note(WHIP, "wire").length_m is None
    keep(log, ({}, {"length_m": 2.4}), ({"length_m": 3.42}, {}), ({"length_m": 3.58}, {}))
    known = known_antenna(log, "wire", kit=WHIP)
    assert known.note(WHIP, "wire").length_m is None
    own = [known.of_sweep(one).note(WHIP, "wire").length_m for one in known.own]
    assert own == [None, 3.42, 3.58]  # the first was only taken over from the kit
    assert "length_m" not in known.facts_then(WHIP, "wire")
    assert known.facts["length_m"] == 3.58  # where it stands, for trimming


def test_trim_after_a_logged_fold_is_the_same_with_the_kit(run, samples, tmp_path):
    long, now = samples / "ridge_dipole_40m_long.s1p", samples / "ridge_dipole_40m.s1p"
    kit, log = tmp_path / "kit.toml", tmp_path / "log.sqlite"
    kit.write_text('[antennas.ridge]\nkind = "dipole"\nlength = "10.58 m"\n', encoding="utf-8")
    told = ("--log", log, "--kit", kit)
    place = ("--antenna", "ridge", "--site", "hill", "--measured-at", "feedpoint")
    moved = ("--setup", "S1", "--set", "by=fold", "--set", "change=-25 cm")
    for file, words in ((long, place), (now, moved)):
        done = run("log", "add", file, *words, "--when", f"2026-05-02T1{len(words)}:00+00:00", *told)
        assert done.returncode == 0, done.stderr
    asked = ("trim", now, "--antenna", "ridge", "--target", "7.1 MHz", "--draws", "50", "--json")
    with_kit, without = run(*asked, *told), run(*asked, "--log", log)
    assert json.loads(with_kit.stdout) == json.loads(without.stdout)
    assert (
        "length = 10.33 m, from setup S1, newer than the kit, which has length = 10.58 m" in with_kit.stderr
    )
    assert "newer than the kit" not in without.stderr
