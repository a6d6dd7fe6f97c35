"""From Python as on the command line: kit and logbook know a named antenna, a wire's past, a piece of line."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

import sweepkit
from sweepkit.answers.diagnosis import hold_against
from sweepkit.kit.known import KnownAntenna

SAMPLES = Path(__file__).resolve().parents[2] / "sample_sweeps"
DIPOLE, LONG = SAMPLES / "ridge_dipole_40m.s1p", SAMPLES / "ridge_dipole_40m_long.s1p"
SPOOL, WET = SAMPLES / "spool_open.s1p", SAMPLES / "wet_line_open.s1p"
DRAWS = 50


@pytest.fixture(scope="module")
def log(run, tmp_path_factory):
    """A dipole as it was too long, a vertical, and a spool by itself."""
    path = tmp_path_factory.mktemp("records") / "log.sqlite"
    for words in (
        [LONG, "--antenna", "ridge", "--site", "hill", "--line", "none", "--measured-at", "feedpoint",
         "--set", "kind=dipole", "--set", "length=10.58 m"],
        [SAMPLES / "meadow_vertical_1.s1p", "--antenna", "meadow", "--site", "meadow", "--line", "RG-58 12 m",
         "--measured-at", "radio", "--set", "kind=vertical"],
        [SPOOL, "--set", "piece=spool", "--set", "end=open"],
    ):  # fmt: skip
        done = run("log", "add", *words, "--log", path)
        assert done.returncode == 0, done.stderr
    return path


def said_by(done):
    assert done.returncode == 0, done.stderr
    return same_but_paths(json.loads(done.stdout))


def same_but_paths(document):
    return json.loads(re.sub(r'"path": "[^"]*[/\\]', '"path": "', json.dumps(document)))


ASKED = {
    "review": (
        lambda log: sweepkit.review(DIPOLE, antenna="ridge", log=log, site="hill", draws=DRAWS),
        ["review", DIPOLE, "--antenna", "ridge", "--site", "hill"],
    ),
    "trim": (
        lambda log: sweepkit.plan_trim(
            DIPOLE, length="10.4 m", target=7.1e6, by="cut", antenna="ridge", log=log, draws=DRAWS
        ),
        ["trim", DIPOLE, "--length", "10.4 m", "--target", "7.1 MHz", "--by", "cut", "--antenna", "ridge"],
    ),
    "diagnose": (
        lambda log: sweepkit.diagnose(
            SAMPLES / "meadow_vertical_2.s1p",
            antenna="meadow",
            log=log,
            site="marsh",
            measured_at="radio",
            draws=DRAWS,
        ),
        [
            *["diagnose", SAMPLES / "meadow_vertical_2.s1p", "--antenna", "meadow", "--site", "marsh"],
            *["--measured-at", "radio"],
        ],
    ),
    "diagnose, place of the record": (
        lambda log: sweepkit.diagnose(
            SAMPLES / "meadow_vertical_2.s1p", antenna="meadow", log=log, draws=DRAWS
        ),
        ["diagnose", SAMPLES / "meadow_vertical_2.s1p", "--antenna", "meadow"],
    ),
    "trim, earlier told": (
        lambda log: sweepkit.plan_trim(
            DIPOLE,
            length="10.14 m",
            target=7.05e6,
            antenna="ridge",
            log=log,
            earlier=[("10.58 m", LONG)],
            draws=DRAWS,
        ),
        [
            "trim",
            DIPOLE,
            "--length",
            "10.14 m",
            "--target",
            "7.05 MHz",
            "--antenna",
            "ridge",
            "--earlier",
            f"10.58 m={LONG}",
        ],
    ),
    "feedline": (
        lambda log: sweepkit.measure_line(
            WET, ends="open", type="RG-58", piece="spool", log=log, draws=DRAWS
        ),
        ["feedline", WET, "--end", "open", "--type", "RG-58", "--piece", "spool"],
    ),
    "compare": (
        lambda log: sweepkit.compare(
            SAMPLES / "meadow_vertical_2.s1p",
            log=log,
            antennas="meadow",
            told={"antenna": "meadow", "kind": "vertical", "line": ["RG-58 12 m"]},
            lines="RG-58 12 m",
            measured_at="radio",
            draws=DRAWS,
        ),
        ["compare", SAMPLES / "meadow_vertical_2.s1p", "--antenna", "meadow", "--measured-at", "radio"],
    ),
}


@pytest.mark.parametrize("name", ASKED)
def test_the_records_say_the_same_to_both(name, run, log):
    ask, words = ASKED[name]
    done = run(*words, "--log", log, "--draws", DRAWS, "--json")
    assert same_but_paths(ask(log).to_json()) == said_by(done)


def test_the_records_bear_on_the_answer(log):
    """Without them each answer is another one, so that the test above compares something."""
    assert sweepkit.review(DIPOLE, draws=0).feedpoint is None
    assert sweepkit.review(DIPOLE, antenna="ridge", log=log, draws=0).feedpoint is not None
    found = {one.code for one in sweepkit.review(DIPOLE, antenna="ridge", log=log, draws=0).findings}
    assert found & {"inside-usual", "outside-usual", "usual-unknown"}
    with pytest.raises(sweepkit.BadInput, match="the kind of antenna is not told; add --kind"):
        sweepkit.plan_trim(DIPOLE, length="10.4 m", target=7.1e6)
    first = sweepkit.measure_line(WET, ends="open", type="RG-58", draws=0)
    assert first.record is None
    assert sweepkit.measure_line(WET, ends="open", type="RG-58", piece="spool", log=log, draws=0).record


def test_what_goes_together_is_asked_for_together(log):
    with pytest.raises(sweepkit.BadInput, match="log is given without antenna"):
        sweepkit.review(DIPOLE, log=log)
    with pytest.raises(sweepkit.BadInput, match="piece and log go together"):
        sweepkit.measure_line(SPOOL, ends="open", piece="spool")
    with pytest.raises(sweepkit.BadInput, match="antenna 'nobody' is not in the kit"):
        sweepkit.review(DIPOLE, antenna="nobody", log=log)


def test_what_is_told_goes_before_setup_toml_and_no_line_is_told_too():
    now, good = (
        sweepkit.read_sweep(SAMPLES / "outings" / f"2026-{day}_ridge_dipole" / f"ridge_dipole_{name}.s1p")
        for day, name in (("08-08", "0808"), ("05-16", "0516"))
    )
    told = dict.fromkeys(("kind", "changed", "rung", "antenna", "site", "open_log"))
    for lines, said in (((), "kind, putting"), (None, "kind, line, putting")):
        held = hold_against(
            [now], good, KnownAntenna(), sweepkit.Kit(), lines=lines, measured_at="radio", **told
        )
        assert held.told["kind"] == "dipole"
        assert held.told["lines"] == () if lines == () else held.told["lines"]
        assert f"beside the files: {said} up again" in held.notes[0]
    kept = hold_against(
        [now],
        good,
        KnownAntenna(),
        sweepkit.Kit(),
        **told | {"lines": None, "measured_at": "radio", "rung": "swept-again"},
    )
    assert kept.told["rung"] == "swept-again"
    assert "putting up again" not in kept.notes[0]
