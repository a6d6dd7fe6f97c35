"""Where nobody tells what lies between two sweeps each rung says what it says when it is told, and is asked for; what
nobody thought of pays as nothing wrong does."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sweepkit.diagnosis.acting.act import Acted, taken_for_other
from sweepkit.diagnosis.acting.evidence import Fitted, Judge
from sweepkit.diagnosis.acting.healthy import Slid, list_conditions, widest_sigmas
from sweepkit.diagnosis.acting.scene import scene_with_baseline
from sweepkit.diagnosis.acting.stories import OTHER, Told, _as_healthy
from sweepkit.diagnosis.answer import Diagnosis
from sweepkit.diagnosis.signatures import ELSE
from sweepkit.kit import Analyzer
from sweepkit.report.diagnose_page import diagnose_page
from tests.diagnosis.faults import setups
from tests.diagnosis.laboratory import act

RUNGS = {"swept-again": "--kept", "joined-anew": "--rejoined", "put-up-again": "--put-up-again"}
F_HZ = np.linspace(6.5e6, 7.7e6, 60)


def case_of(truth, kind, seed):
    fitting = [one for one in setups() if one.kind == kind and (truth in one.states or truth == "nothing")]
    return act(truth, fitting[1], "joined-anew", (seed,))


def shares_said(answer: Diagnosis) -> dict[str, float]:
    """Per cent that nothing wrong weighs on each rung, out of the words of the answer."""
    words = (answer.cannot_say or "").replace(",", "").split()
    return {word: float(words[at - 3]) for at, word in enumerate(words) if word in RUNGS.values()}


@pytest.fixture(scope="module")
def longer():
    case = case_of("length-changed", "dipole", 6)
    return case, case.diagnosed(told=False)


def test_each_rung_says_what_it_says_when_it_is_told(longer):
    case, untold = longer
    said = shares_said(untold)
    assert said.keys() == set(RUNGS.values())
    for rung, option in RUNGS.items():
        told = replace(case, rung=rung).diagnosed(told=True)
        assert said[option] == pytest.approx(100 * told.nothing_wrong, abs=5.0)
    assert min(said.values()) < 10 < 40 < max(said.values())  # or nothing was asked


def test_the_rung_is_asked_for_beside_the_test_of_the_cause(longer):
    case, untold = longer
    assert untold.changed == "cannot_say"
    assert untold.asks_rung
    assert untold.hypotheses[0].code == "length-changed"
    verdict, missing = diagnose_page(untold, [case.before, case.now]).verdicts
    assert verdict.why[-1].startswith("TEST: ")
    assert "nobody told" in missing.why[0]
    assert "asks_rung" not in untold.to_json()


@pytest.mark.identity
def test_a_change_of_no_size_weighs_what_nothing_wrong_does():
    """So that what nobody thought of pays for the slide beside it as nothing wrong does."""
    gamma = (lambda z: (z - 50) / (z + 50))(60 * (1 + 24j * np.log(F_HZ / 7.1e6)))
    moved = (lambda z: (z - 50) / (z + 50))(60 * (1 + 24j * np.log(F_HZ / 7.13e6)))
    scene = scene_with_baseline(
        F_HZ,
        moved,
        (F_HZ, gamma),
        None,
        end="antenna",
        reference_ohm=50.0,
        sigmas=widest_sigmas("wire", None),
    )
    still = Slid(0 * gamma, 0.0, 0 * gamma)
    conditions = list_conditions(
        F_HZ, gamma, 0 * gamma, still, np.full(60, 1e-3), body="wire", rung=None, analyzer=Analyzer()
    )
    judge = Judge(moved, conditions, bands=1.0)
    (peak,) = (found := judge.fit(scene.healthy, np.zeros((1, 0)))).peaks
    assert judge.with_added(peak, np.zeros((60, 60))) == pytest.approx(found.by_rung, abs=1e-6)
    assert judge.rungs == tuple(RUNGS)
    assert judge.rung_chances == pytest.approx([0.3, 0.4, 0.3])
    assert found.by_rung[0] < found.by_rung[1] < found.by_rung[2]  # a slide of 0.4 %


@pytest.mark.identity
def test_what_no_cause_explains_is_given_to_another_antenna_once():
    """Two stories have that code."""
    weights = ((ELSE, 0.4), (OTHER, 0.3), (OTHER, 0.1), ("radial-off", 0.2))
    none = Fitted(np.zeros(1), (), np.zeros(0), (), 1.0)
    told = [Told(_as_healthy(code, 1.0), weight, none, np.zeros(1)) for code, weight in weights]
    left = taken_for_other(Acted(None, (), tuple(told))).told
    assert sum(one.weight for one in left) == pytest.approx(1.0)
    assert sum(one.weight for one in left if one.story.code == OTHER) == pytest.approx(0.8)
