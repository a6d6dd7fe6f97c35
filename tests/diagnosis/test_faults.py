"""A few faults of the laboratory; its tables are in docs/diagnose.md."""

from __future__ import annotations

import numpy as np
import pytest

from tests.diagnosis.faults import setups
from tests.diagnosis.laboratory import act

RUNGS = ("swept-again", "joined-anew", "put-up-again")
# One of each, plain ones: what the whole table shows of hard ones is for the table.
PLAIN = (
    ("open-line", 3),
    ("series joint", 8),
    ("line-loss", 12),
    ("wrong-plane", 6),
    ("poor-calibration", 10),
    ("leg-off", 7),
)


def test_whips_of_the_models_have_no_jumps():
    """R of a whip runs on smoothly where NEC-2 fails over low radials; make_faults.py mends such points."""
    for setup in setups():
        if setup.kind == "loaded-whip":
            for impedance in setup.states.values():
                r = impedance(np.linspace(setup.f_hz[0], setup.f_hz[-1], 33)).real
                assert np.abs(np.diff(r, 2)).max() < 0.02 * np.median(r)


@pytest.fixture(scope="module")
def answers():
    found = []
    for number, (truth, which) in enumerate([*PLAIN, ("nothing", 2), ("nothing", 9), ("nothing", 15)]):
        fitting = [setup for setup in setups() if truth in setup.states] or list(setups())
        case = act(truth, fitting[which % len(fitting)], RUNGS[number % 3], (31, number))
        found.append((case, case.diagnosed(told=True)))
    return found


def test_nothing_wrong_is_not_called_changed(answers):
    assert {answer.changed for case, answer in answers if case.truth == "nothing"} == {"no"}


def test_plain_faults_are_mostly_first(answers):
    hits = [case.code == answer.hypotheses[0].code for case, answer in answers if case.truth != "nothing"]
    assert sum(hits) >= len(PLAIN) - 1


def test_answers_keep_their_form(answers):
    for case, answer in answers:
        weights = [one.weight for one in answer.hypotheses]
        assert weights == sorted(weights, reverse=True)
        assert sum(weights) + answer.nothing_wrong == pytest.approx(1.0)
        for one in answer.hypotheses:
            assert one.next_step.startswith("radio off and disconnected: ")
            assert one.evidence_for
        named = {one.code for one in answer.hypotheses}
        assert not (case.setup.kind == "dipole" and named & {"radial-off", "wrong-tap", "no-counterpoise"})
        assert not (case.setup.kind == "loaded-whip" and "leg-off" in named)
