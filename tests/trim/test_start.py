"""The length to begin with, and the margin for rain."""

import numpy as np
import pytest

from sweepkit.antennas.catalogue import KINDS
from sweepkit.antennas.wires_used import ToldWire
from sweepkit.errors import BadInput
from sweepkit.trim.aim import Aim
from sweepkit.trim.start import start_length
from tests.models.length_answers import read_rows


# Common practice: half a wave is about 143/f metres, and one starts 2 to 5 % longer.
def test_a_dipole_starts_longer_than_the_rule_of_thumb():
    start = start_length(KINDS["dipole"], 7.1e6)
    leg_m = 143 / 7.1 / 2
    assert start.length_m.low < leg_m < start.length_m.high
    assert 1.02 * leg_m < start.start_m < 1.08 * leg_m
    assert start.start_m >= start.length_m.high


def test_its_own_sweeps_go_before_what_is_usual():
    # Insulated wire: 4 % shorter than usual.
    usual, own = (
        start_length(KINDS["dipole"], 7.1e6, own_wavelengths=w) for w in ((), (0.232, 0.233, 0.231))
    )
    assert own.length_m.value == pytest.approx(0.232 * 299_792_458 / 7.1e6)
    assert own.start_m < usual.start_m
    assert own.known_from == "this antenna's own 3 sweeps in the logbook"


@pytest.mark.parametrize("family", ["dipole", "inverted-vee", "loop"])
def test_a_told_bare_wire_narrows_the_length_and_holds_modelled_antennas(family):
    rows = read_rows()
    there = rows["wavelengths"][rows["family"] == family]
    usual = start_length(KINDS[family], 7.1e6)
    bare = start_length(KINDS[family], 7.1e6, wire=ToldWire(None, 1.0))
    assert bare.length_m.high - bare.length_m.low < 0.8 * (usual.length_m.high - usual.length_m.low)
    low, high = (end * 7.1e6 / 299_792_458 for end in (bare.length_m.low, bare.length_m.high))
    assert np.mean((there > low) & (there < high)) > 0.92
    assert bare.known_from == "what is usual for the kind and bare wire"


# Source: trade reports, 3 to 7 % by type, negligible to some; wire models of others, 2.2 to 3.5 %.
@pytest.mark.derived
def test_told_insulation_shortens_it_by_what_it_does():
    bare, sleeved = (
        start_length(KINDS["dipole"], 7.1e6, wire=wire).length_m.value
        for wire in (ToldWire(None, 1.0), ToldWire(None, None))
    )
    assert 0.022 < bare / sleeved - 1 < 0.035


@pytest.mark.parametrize("name", ["loaded-whip", "random-wire"])
def test_what_does_not_follow_from_frequency_is_refused(name):
    with pytest.raises(BadInput, match=r"does not follow from its frequency; .* was expected"):
        start_length(KINDS[name], 7.1e6)


def test_a_margin_for_rain_is_half_of_what_water_does_and_said():
    raised = Aim(7.1e6, None, ()).raised_for_rain()
    assert raised.target_hz == pytest.approx(7.1e6 * 1.0035)
    assert [finding.code for finding in raised.findings] == ["wet-margin"]
