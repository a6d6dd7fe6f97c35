"""Sweeps in the logbook share line and calibration where that is told, or one day shows it."""

from __future__ import annotations

import numpy as np
import pytest

from sweepkit.comparison.gather import setups_from_log
from sweepkit.logbook import edit_sweep, find_sweep, list_lines, refresh_figures, sharing, summary_of
from sweepkit.logbook.adding import NewSetup, NewSweep, add_sweeps
from sweepkit.logbook.reading import read_logged_sweep
from sweepkit.logbook.sharing import MOST_SHARED
from sweepkit.records.nearest import say_apart
from sweepkit.reviews import review, summarise
from sweepkit.reviews.outing import learn_outing
from tests.test_outing import F_HZ, swept

LINE = ["RG-58 18 m"]
KNOWN = {"lines": LINE, "measured_at": "radio"}


def raw(antenna, calibration=0):
    """One of many states of an antenna, behind one line."""
    gamma = swept(antenna, 0, calibration).gamma
    rows = [f"{f_hz:.0f} {one.real:.6f} {one.imag:.6f}" for f_hz, one in zip(F_HZ, gamma, strict=True)]
    return "\n".join(["# Hz S RI R 50", *rows, ""]).encode()


def keep(log, *sweeps, day="2026-05-02", setup=None, **facts):
    """Sweeps given as antenna and calibration; their numbers."""
    new = [
        NewSweep(
            f"{antenna}_{calibration}.s1p",
            raw(antenna, calibration),
            {"measured_at": "radio", "when": f"{day}T10:{antenna:02d}:00+00:00"},
        )
        for antenna, calibration in sweeps
    ]
    setup = setup or NewSetup({"antenna": "ridge", "kind": "dipole", "line": LINE, **facts})
    return [added.id for added in add_sweeps(log, new, setup=setup)]


def figures(log, number):
    """The kept ones in plain types."""
    return summary_of(log, find_sweep(log, number)).to_json()


def dip_of(summary):
    return summary["planes"]["feedpoint"][0]["dip_hz"]


def expected(log, *numbers, together=True):
    """Those of a review of the first, with what all tell."""
    sweeps = [read_logged_sweep(log, find_sweep(log, number)) for number in numbers]
    outing = learn_outing(sweeps, **KNOWN) if together else None
    return summarise(review(sweeps[0], **KNOWN, outing=outing)).to_json()


def assert_same_dip(one, other):
    assert dip_of(one) == {key: pytest.approx(value, rel=1e-12) for key, value in dip_of(other).items()}


def test_sweeps_of_one_setup_and_day_rest_on_what_both_tell(log):
    first, second = keep(log, (0, 0), (1, 0))
    assert_same_dip(figures(log, first), expected(log, first, second))
    assert dip_of(figures(log, first)) != dip_of(expected(log, first, together=False))


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ({}, {"day": "2026-05-04", "setup": 1}),
        ({}, {}),
        ({"calibrated": "may"}, {"calibrated": "june"}),
        ({"calibrated": "may"}, {"calibrated": "may", "line": ["RG-58 18.1 m"]}),
        ({"calibrated": "may"}, {"calibrated": "may", "piece": "spool"}),
    ],
    ids=["another day", "another setup", "another calibration", "another line", "a piece by itself"],
)
def test_others_do_not_share(log, one, other):
    (first,) = keep(log, (0, 0), **one)
    keep(log, (1, 0), **other)
    assert_same_dip(figures(log, first), expected(log, first, together=False))


def test_a_told_calibration_is_shared_over_setups_and_days(log):
    (first,) = keep(log, (0, 0), calibrated="may")
    (second,) = keep(log, (1, 0), day="2026-05-04", calibrated="may")
    assert_same_dip(figures(log, second), expected(log, second, first))


def test_those_that_disagree_are_kept_apart_and_it_is_said(log):
    first, second = keep(log, (0, 0), (1, 50))
    alone, now = expected(log, first, together=False), figures(log, first)
    assert_same_dip(now, alone)
    assert now["findings"] == ["outing-disagrees", *alone["findings"]]
    assert "each is reviewed by itself" in say_apart(log, find_sweep(log, second))
    assert [setup.amiss for setup in setups_from_log(log)] == [None]


def test_a_told_calibration_that_is_not_so_is_named_where_setups_are_compared(log):
    keep(log, (0, 0), calibrated="may")
    (second,) = keep(log, (1, 50), day="2026-05-04", calibrated="may")
    assert "what was told of line and analyzer is kept" in say_apart(log, find_sweep(log, second))
    assert [setup.amiss.code for setup in setups_from_log(log)] == ["outing-disagrees"] * 2


def test_sweeps_that_agree_have_nothing_said_of_them(log):
    first, _ = keep(log, (0, 0), (1, 0), calibrated="may")
    assert say_apart(log, find_sweep(log, first)) is None
    assert [setup.amiss for setup in setups_from_log(log)] == [None]


def test_a_later_sweep_makes_the_figures_of_its_outing_new_and_no_others(log):
    (first,) = keep(log, (0, 0))
    (away,) = keep(log, (4, 0))
    before = dip_of(figures(log, first))
    keep(log, (1, 0), setup=1)
    assert list_lines(log)[0].dip_hz == before["value"]  # a listing goes on showing what was seen
    done = {one.sweep.id: one.is_new for one in refresh_figures(log)[1]}
    assert done == {first: True, 3: True, away: True}
    assert dip_of(figures(log, first)) != before
    assert not any(one.is_new for one in refresh_figures(log)[1])
    edit_sweep(log, 3, {"set_aside": "rain"})
    assert dip_of(figures(log, first)) == {k: pytest.approx(v, rel=1e-12) for k, v in before.items()}


def test_few_share_so_that_one_more_leaves_most_alone(log):
    numbers = keep(log, *((k, 0) for k in range(MOST_SHARED)))
    assert sum(one.is_new for one in refresh_figures(log)[1]) == MOST_SHARED
    (last,) = keep(log, (MOST_SHARED, 0), setup=1)
    assert {one.sweep.id for one in refresh_figures(log)[1] if one.is_new} == {last}
    assert len(numbers) == MOST_SHARED


def test_a_name_that_stands_for_many_costs_no_more_than_a_few(log, monkeypatch):
    numbers = keep(log, *((k, 0) for k in range(2 * MOST_SHARED + 1)), calibrated="may")
    looked_at, as_ever = [], sharing.sweeps_where

    def counted(connection, wanted):
        looked_at.extend(wanted["sweep.id"])
        return as_ever(connection, wanted)

    monkeypatch.setattr(sharing, "sweeps_where", counted)
    with log.reading() as connection:
        outings = sharing.outings_of(connection, {numbers[0]: find_sweep(log, numbers[0])})
        last = sharing.outings_of(connection, {numbers[-1]: find_sweep(log, numbers[-1])})
    assert [one.id for one in outings[numbers[0]]] == numbers[:MOST_SHARED]
    assert not last
    assert len(looked_at) == MOST_SHARED - 1


def test_a_damaged_neighbour_is_left_out(log, monkeypatch):
    first, second, third = keep(log, (0, 0), (1, 0), (2, 0))
    both = expected(log, first, third)
    hit = find_sweep(log, second).sha256
    from sweepkit.logbook import reading

    as_ever = reading.raw_bytes

    def damaged(opened, sweep):
        if sweep.sha256 == hit:
            raise reading.UnreadableFile("hit")
        return as_ever(opened, sweep)

    monkeypatch.setattr(reading, "raw_bytes", damaged)
    assert_same_dip(figures(log, first), both)


def test_without_phase_nothing_is_shared(log):
    keep(log, (0, 0))
    f_hz = np.linspace(13e6, 15e6, 101)
    rows = "\n".join(f"{f:.0f},{1.2 + abs(f / 14e6 - 1) * 20:.3f}" for f in f_hz)
    facts = {"measured_at": "radio", "when": "2026-05-02T10:30:00+00:00"}
    (added,) = add_sweeps(log, [NewSweep("swr.csv", f"frequency_hz,swr\n{rows}\n".encode(), facts)], setup=1)
    assert figures(log, added.id)["phase"] == "none"
    assert_same_dip(figures(log, 1), expected(log, 1, together=False))
