"""The first words of a plan."""

import pytest

from sweepkit.antennas.catalogue import kind_named
from sweepkit.report.trim_page import headline
from sweepkit.trim.plan import plan_from_dips
from sweepkit.trim.wish import Wish
from tests.trim.antennas_by_law import dip, dip_hz


def plan(length_m, **changes):
    wish = {"kind": kind_named("dipole"), "length_m": length_m, "target_hz": 7.1e6, "by": "fold"}
    return plan_from_dips((dip(dip_hz(length_m), sigma=1e-4),), Wish(**(wish | changes)), span_hz=(6e6, 8e6))


@pytest.mark.parametrize(
    ("length_m", "changes", "says"),
    [
        (10.4, {"by": "cut"}, "CUT 28 cm off each leg."),
        (10.4, {"by": "fold", "lies": "contact"}, "FOLD 42 cm on each leg."),
        (9.85, {"by": "fold"}, "ADD 15 cm to each leg."),
        (9.85, {"by": "fold", "tail_m": 0.3, "lies": "contact"}, "UNFOLD 16 cm on each leg."),
        (10.001, {}, "LEAVE IT AS IT IS."),
    ],
)
def test_the_move_stands_first(length_m, changes, says):
    assert headline(plan(length_m, **changes)) == says


def test_a_whip_is_slid():
    whip = {"kind": kind_named("loaded-whip"), "by": "slide", "length_m": 2.6}
    answer = plan_from_dips((dip(6.9e6, sigma=1e-4),), Wish(target_hz=7.1e6, **whip), span_hz=(6e6, 8e6))
    assert headline(answer).startswith("SLIDE IN ")
    assert headline(answer).endswith(" at the whip above its coil.")
