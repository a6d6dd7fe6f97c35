"""Told wires, and what their insulation does."""

import numpy as np
import pytest

from sweepkit.antennas.catalogue import KINDS
from sweepkit.antennas.kind import Known, Seen, known_beside
from sweepkit.antennas.wires_used import ToldWire, Wires, draw_wires
from sweepkit.errors import BadInput

N = 4000


@pytest.mark.parametrize(
    ("text", "radius_m", "ratio"),
    [
        ("1 mm", 0.5e-3, 1.0),
        ("1 mm in 2.2 mm", 0.5e-3, 2.2),
        ("0.04 in in 0.08 in", 0.508e-3, 2.0),
        ("bare", None, 1.0),
        ("insulated", None, None),
    ],
)
def test_a_wire_is_read(text, radius_m, ratio):
    wire = ToldWire.of(text)
    assert wire.radius_m == (None if radius_m is None else pytest.approx(radius_m))
    assert wire.ratio == (None if ratio is None else pytest.approx(ratio))


@pytest.mark.parametrize("text", ["thin", "1 m", "2 mm in 1 mm", "1 mm in", "0.001 mm"])
def test_what_is_no_wire_is_refused(text):
    with pytest.raises(BadInput, match=r"wire is .*; .*1 mm in 2\.2 mm"):
        ToldWire.of(text)


def test_what_is_told_goes_before_what_is_on_record():
    assert known_beside({"wire": "bare"}).wire == ToldWire(None, 1.0)
    assert known_beside({"wire": "bare"}, wire="1 mm").wire == ToldWire(0.5e-3, 1.0)


# Radius, sleeve and permittivity, and by how much longer the bare quarter wave is: NEC-2, on 3.6, 14.1 and 28 MHz.
@pytest.mark.frozen
@pytest.mark.parametrize(
    ("mhz", "radius_m", "ratio", "permittivity", "longer"),
    [
        (3.6, 0.96e-3, 2.014, 3.469, 0.0291),
        (14.1, 0.66e-3, 2.483, 2.820, 0.0394),
        (28.0, 0.38e-3, 2.130, 3.116, 0.0349),
    ],
)
def test_insulation_shortens_as_in_wire_models(mhz, radius_m, ratio, permittivity, longer):
    outer_m, charge_m = radius_m * ratio, radius_m * ratio ** (1 - 1 / permittivity)
    wire = Wires(*(np.array([size_m]) for size_m in (radius_m, outer_m, charge_m)))
    assert wire.slowing(299.792458 / mhz)[0] - 1 == pytest.approx(longer, rel=0.04)


@pytest.mark.identity
def test_a_bare_wire_is_slowed_by_nothing():
    wires = draw_wires(N, np.random.default_rng(0), ToldWire(None, 1.0))
    np.testing.assert_array_equal(wires.slowing(40.0), 1.0)


def test_a_told_wire_tells_how_much_of_an_end_fed_the_box_holds():
    one = np.ones(N)
    seen = Seen(14.1e6 * one, 9.6 * one, 1.4 * one, 9.0 * one)

    def middle(wire):
        answer = KINDS["end-fed"].answer(seen, Known(wire=wire), np.random.default_rng(0))
        weights = np.exp(answer.log_weight - answer.log_weight.max())
        return weights @ answer.slope / weights.sum()

    # as short a wire of bare copper has more of its tuning in the box
    assert middle(ToldWire(None, 1.0)) > middle(ToldWire(0.5e-3, 2.5)) + 0.005
