"""What the logbook knows of an antenna at its other setups: how it answered to its length there."""

import numpy as np
import pytest

from sweepkit.kit.known import KnownAntenna
from sweepkit.logbook import open_logbook
from sweepkit.logbook.adding import NewSetup, NewSweep, add_sweeps
from sweepkit.records.past import past_of
from sweepkit.sweep import Sweep

SLOPE = -0.95


def curve(length_m, site_factor=1.0):
    """A dipole whose dip follows its length with one slope everywhere, not quite as the kind does."""
    dip_mhz = 7.1 * site_factor * (length_m / 10.0) ** SLOPE
    f_mhz = np.linspace(6.2, 7.8, 161)
    z_ohm = 62 * (1 + 11j * (f_mhz / dip_mhz - dip_mhz / f_mhz))
    return f_mhz, (z_ohm - 50) / (z_ohm + 50)


def s1p(*state):
    rows = [f"{f:.5f} {g.real:.6f} {g.imag:.6f}" for f, g in zip(*curve(*state), strict=True)]
    return ("# MHZ S RI R 50\n" + "\n".join(rows) + "\n").encode()


def sweep_of(*state):
    f_mhz, gamma = curve(*state)
    return Sweep.from_gamma(f_mhz * 1e6, gamma)


@pytest.fixture
def log(tmp_path, monkeypatch):
    monkeypatch.setattr("sweepkit.logbook.store.SYNCHRONOUS", "OFF")
    with open_logbook(tmp_path / "log.sqlite", create=True, tell=lambda text: None) as opened:
        yield opened


def keep(log, site, lengths, factor=1.0, *, by="cut", kind="dipole", **changed):
    new = [
        NewSweep(
            f"{site}{length_m}.s1p",
            s1p(length_m, factor),
            {"measured_at": "feedpoint", "length_m": length_m}
            | ({"by": by, "change_m": length_m - lengths[k - 1]} if k else {})
            | (changed if k else {}),
        )
        for k, length_m in enumerate(lengths)
    ]
    add_sweeps(log, new, setup=NewSetup({"antenna": "wire", "site": site, "kind": kind}))


def own(log, setup="S9", **facts):
    known = KnownAntenna(logged={"kind": "dipole", **facts}, setup=setup)
    return past_of(log, known, sweep_of(10.3), antenna="wire", length_m=10.3, by="cut").own


def test_two_lengths_at_another_site_tell_the_answer(log):
    keep(log, "ridge", [10.6, 10.3, 10.1], 1.01)
    (answer,) = own(log)
    assert answer.slope == pytest.approx(SLOPE, abs=0.005)
    assert answer.sweeps == 3
    assert 0 < answer.sigma < 0.06


def test_its_own_setup_is_not_another(log):
    keep(log, "ridge", [10.6, 10.1])
    assert own(log, setup="S1") == ()


@pytest.mark.parametrize(
    "told",
    [{"by": "fold"}, {"changed": "other radials"}, {"kind": "inverted-vee"}],
    ids=["folds", "something else changed", "another kind"],
)
def test_what_says_nothing_of_a_cut_is_left_out(log, told):
    keep(log, "ridge", [10.6, 10.1], **told)
    assert own(log) == ()


def test_a_step_too_small_and_an_answer_no_antenna_gives_are_left_out(log):
    keep(log, "ridge", [10.12, 10.1])
    assert own(log) == ()
