"""The nearest earlier sweep of an antenna, and the one line that is said of a new one."""

from __future__ import annotations

import numpy as np
import pytest

from sweepkit.comparison.gather import setups_of
from sweepkit.logbook import find_sweep, list_sweeps, open_logbook
from sweepkit.logbook.adding import NewSetup, NewSweep, add_sweeps
from sweepkit.records.nearest import differing, find_nearest, say_against

pytestmark = pytest.mark.usefixtures("each_review_once")
RIDGE = {"antenna": "wire", "site": "ridge", "kind": "dipole", "ground": "dry"}


def s1p(dip_mhz, r_ohm=62):
    """A dipole as a file, with the dip there."""
    f_mhz = np.linspace(6.6, 7.6, 101)
    z_ohm = r_ohm + 682j * (f_mhz / dip_mhz - dip_mhz / f_mhz)
    gamma = (z_ohm - 50) / (z_ohm + 50)
    rows = [f"{f:.5f} {g.real:.6f} {g.imag:.6f}" for f, g in zip(f_mhz, gamma, strict=True)]
    return ("# MHZ S RI R 50\n" + "\n".join(rows) + "\n").encode()


@pytest.fixture
def log(tmp_path, monkeypatch):
    monkeypatch.setattr("sweepkit.logbook.store.SYNCHRONOUS", "OFF")
    with open_logbook(tmp_path / "log.sqlite", create=True, tell=lambda text: None) as opened:
        yield opened


def keep(log, *dips, facts=None, sweep=None, setup=None):
    """A setup with its sweeps, or more sweeps of one; the number of the last."""
    told = {"measured_at": "feedpoint", **(sweep or {})}
    new = [
        NewSweep(f"{dip}.s1p", s1p(dip), told if k == 0 else {"measured_at": "feedpoint"})
        for k, dip in enumerate(dips)
    ]
    add_sweeps(log, new, setup=setup or NewSetup({**RIDGE, **(facts or {})}))
    return max(each.id for each in list_sweeps(log))


def nearest(log, facts=None, **more):
    near = find_nearest(log, {**RIDGE, **(facts or {})}, **more)
    return None if near is None else (near.sweep.id, near.rung, near.differs)


def test_nothing_without_a_name_or_an_earlier_sweep(log):
    keep(log, 7.1)
    assert find_nearest(log, {"site": "ridge"}) is None
    assert nearest(log, {"antenna": "another"}) is None
    assert nearest(log, before=1) is None


def test_the_same_setup_goes_first_then_the_site_then_such_ground(log):
    keep(log, 7.1)
    keep(log, 7.08, facts={"site": "valley"})
    keep(log, 7.0, facts={"site": "marsh", "ground": "wet"})
    assert nearest(log) == (1, "put-up-again", ())
    assert nearest(log, setup="S2") == (2, "joined-anew", ())
    assert nearest(log, {"site": "beach"}) == (2, "another-site", ())
    assert nearest(log, {"site": "beach", "ground": "wet"}) == (3, "another-site", ())
    assert nearest(log, {"site": "beach", "ground": "sand"})[1] == "other-ground"


def test_the_state_goes_before_the_place(log):
    keep(log, 7.1, facts={"site": "valley"}, sweep={"length_m": 10.2})
    keep(log, 6.9, sweep={"length_m": 10.6})
    assert nearest(log, {"length_m": 10.2}) == (1, "another-site", ())
    assert nearest(log, {"length_m": 10.6}) == (2, "put-up-again", ())
    assert nearest(log, {"length_m": 11.0}) == (2, "put-up-again", ("length_m",))
    assert nearest(log) == (2, "put-up-again", ()), "what nobody told is no difference"


def test_own_file_and_what_was_set_aside_do_not_count(log):
    keep(log, 7.1)
    keep(log, 7.2, sweep={"set_aside": "wrong cable"})
    assert nearest(log) == (1, "put-up-again", ())
    assert nearest(log, without={find_sweep(log, 1).sha256}) is None


def test_before_a_told_change_is_another_state(log):
    keep(log, 7.1)
    keep(log, 6.95, setup=1, sweep={"changed": "longer tails"})
    keep(log, 6.951, setup=1)
    assert nearest(log, setup="S1", before=3) == (2, "joined-anew", ())


@pytest.mark.parametrize(
    ("second", "facts", "said"),
    [
        (7.101, None, "no more than putting up again explains"),
        (6.9, None, "200 kHz below sweep 1: more than putting up again explains; log edit 2 --set"),
        (
            7.3,
            {"site": "marsh", "ground": "wet"},
            "200 kHz above sweep 1: no more than another ground or height explains",
        ),
        (6.5, None, "setup 2: no dip inside the sweep"),
    ],
)
def test_one_line_says_what_a_new_sweep_is(log, second, facts, said):
    keep(log, 7.1)
    number = keep(log, second, facts=facts)
    line = say_against(log, find_sweep(log, number))
    assert line.startswith("sweep 2, setup 2: ")
    assert said in line
    assert "\n" not in line


def test_one_percent_in_a_setup_that_stands_is_more_than_joining_anew(log):
    """Planted shifts of 0.5 and 1 %; swept again without any it is not."""
    keep(log, 7.1)
    for share, more in ((0.0002, False), (0.005, True), (0.01, True)):
        number = keep(log, 7.1 * (1 - share), setup=1)
        line = say_against(log, find_sweep(log, number))
        assert ("more than joining anew explains" in line and "no more" not in line) == more, line


def with_r(log, r_ohm, **facts):
    """One more sweep of the first setup, its dip at 7.1 MHz."""
    told = {"measured_at": "feedpoint", **facts}
    add_sweeps(log, [NewSweep(f"{r_ohm}.s1p", s1p(7.1, r_ohm), told)], setup=1)
    return max(each.id for each in list_sweeps(log))


@pytest.mark.parametrize(("r_ohm", "more"), [(63.0, False), (77.0, True), (47.0, True)])
def test_r_that_moved_is_said_and_not_averaged(log, r_ohm, more):
    keep(log, 7.1)
    number = with_r(log, r_ohm, since="kept")
    line = say_against(log, find_sweep(log, number))
    assert ("but R 6" in line and "ohm: more than joining anew explains; log edit 2" in line) == more, line
    (setup,) = setups_of(log, ["wire"])
    assert [odd.quantity for odd in setup.disagree] == (["r_ohm"] if more else [])
    assert len(setup.sweeps) == (1 if more else 2)


def test_other_lengths_that_were_told_are_a_change_that_was_told(log):
    keep(log, 6.9, sweep={"lengths": "40 m=10.6 m, 20 m=5.05 m"})
    number = keep(log, 7.2, setup=1, sweep={"lengths": "40 m = 10.05 m, 20 m = 5.10 m"})
    line = say_against(log, find_sweep(log, number))
    assert line.endswith("kHz above sweep 1, which had another set of lengths")
    (setup,) = setups_of(log, ["wire"])
    assert (len(setup.sweeps), setup.disagree) == (1, ())


def test_settings_written_otherwise_are_the_same():
    a, b = ({"lengths": text} for text in ("40 m=10.6 m,20 m=5.05 m", "40 m = 10.60 m, 20 m=505 cm"))
    assert differing(a, b, ["lengths"]) == ()
