"""``--antenna`` and ``--log``: what the options leave open comes from the kit, then the logbook, and is said."""

from __future__ import annotations

import json
import shlex

import pytest

KIT = '[lines.spool]\ntype = "RG-58"\nlength = "15 m"\n'


@pytest.fixture(scope="module")
def log(run, samples, tmp_path_factory):
    """A logbook with one dipole, whose line is named in the kit that was kept with it."""
    folder = tmp_path_factory.mktemp("log")
    (folder / "kit.toml").write_text(KIT, encoding="utf-8")
    words = ("--antenna", "ridge", "--site", "hill", "--line", "spool", "--measured-at", "radio")
    words = (*words, "--kit", folder / "kit.toml", "--log", folder / "log.sqlite")
    done = run("log", "add", samples / "ridge_dipole_40m_long.s1p", *words)
    assert done.returncode == 0, done.stderr
    return folder / "log.sqlite"


def answer(done):
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


FEW = ("--draws", "0", "--json")


def test_the_line_comes_from_the_last_setup_and_that_is_said(run, samples, log):
    sweep = samples / "ridge_dipole_40m.s1p"
    done = run("review", sweep, "--antenna", "ridge", "--log", log, *FEW)
    assert done.stderr.splitlines() == ["sweepkit: note: not stated, so from setup S1: line = spool"]
    told = run("review", sweep, "--line", "RG-58 15 m", "--measured-at", "radio", *FEW)
    assert answer(done)["planes"] == answer(told)["planes"]
    assert answer(told)["planes"]["feedpoint"]["dips"]


def test_options_go_before_the_kit_and_the_kit_before_the_logbook(run, samples, log, tmp_path):
    sweep, kit = samples / "ridge_dipole_40m.s1p", tmp_path / "kit.toml"
    kit.write_text('[antennas.ridge]\nkind = "dipole"\nline = "RG-213 20 m"\n', encoding="utf-8")
    named = ("--antenna", "ridge", "--log", log, "--kit", kit)
    from_kit = run("review", sweep, *named, *FEW)
    assert "so from the kit: line = RG-213 20 m" in from_kit.stderr
    told = run("review", sweep, "--line", "RG-213 20 m", "--measured-at", "radio", *FEW)
    assert answer(from_kit)["planes"] == answer(told)["planes"]
    options = ("--line", "RG-58 12 m", "--measured-at", "feedpoint")
    by_option = run("review", sweep, *named, *options, *FEW)
    assert by_option.stderr == ""
    assert answer(by_option)["planes"] == answer(run("review", sweep, *options, *FEW))["planes"]


def test_where_it_was_measured_comes_only_from_the_record_of_the_sweep_itself(run, samples, log):
    """The last sweep may have been taken elsewhere; a logged sweep's own record is no guess."""
    asked = ("--kind", "dipole", "--length", "10.3 m", "--target", "7.1 MHz", "--by", "cut", *FEW)
    named = ("--antenna", "ridge", "--log", log)
    own = run("trim", samples / "ridge_dipole_40m_long.s1p", *named, *asked)
    assert "so from setup S1: measured_at = radio" in own.stderr
    other = run("trim", samples / "ridge_dipole_40m.s1p", *named, *asked)
    assert "measured_at" not in other.stderr
    told = run("trim", samples / "ridge_dipole_40m.s1p", "--line", "RG-58 15 m", *asked)
    assert answer(other)["now_hz"] == answer(told)["now_hz"]


def test_a_name_that_nobody_knows_is_refused(run, samples, log):
    done = run("review", samples / "ridge_dipole_40m.s1p", "--antenna", "pole", "--log", log)
    assert done.returncode == 2
    assert "antenna 'pole' is not in the kit" in done.stderr
    assert done.stdout == ""


@pytest.fixture
def changed(run, samples, tmp_path):
    """A logbook where the dipole's leg was cut between two sweeps."""
    log = (
        "--antenna",
        "ridge",
        "--site",
        "hill",
        "--measured-at",
        "feedpoint",
        "--log",
        tmp_path / "log.sqlite",
    )
    first = ("--set", "kind=dipole", "--set", "length=10.7 m")
    for name, more in (("ridge_dipole_40m_long", first), ("ridge_dipole_40m", ("--set", "length=10.2 m"))):
        done = run("log", "add", samples / f"{name}.s1p", *log, *more)
        assert done.returncode == 0, done.stderr
    return ("--antenna", "ridge", "--log", tmp_path / "log.sqlite")


@pytest.mark.parametrize("joined", ["--setup", "--repeats"])
def test_one_answer_of_several_takes_the_antenna_as_it_stood_at_each(run, samples, changed, tmp_path, joined):
    before, after = samples / "ridge_dipole_40m_long.s1p", samples / "ridge_dipole_40m.s1p"
    done = run("review", before, after, joined, *changed, *FEW)
    assert done.returncode == 2
    assert "ridge_dipole_40m.s1p: the antenna stood otherwise at this sweep than at the first" in done.stderr
    again = tmp_path / "again.s1p"
    again.write_bytes(before.read_bytes())
    assert run("review", before, again, joined, *changed, *FEW).returncode == 0


@pytest.fixture
def glade(run, samples, tmp_path):
    """A fan in the logbook, and another sweep of it in a file of its own."""
    log = ("--antenna", "glade", "--log", tmp_path / "log.sqlite", "--measured-at", "feedpoint")
    told = ("--set", "kind=fan", "--set", "lengths=40 m=10.72 m, 20 m=5.34 m", "--site", "glade")
    added = run("log", "add", samples / "glade_fan.s1p", *told, *log)
    assert added.returncode == 0
    assert "not known yet: when;" in added.stderr
    again = tmp_path / "again.s1p"
    again.write_text((samples / "glade_fan.s1p").read_text(encoding="utf-8") + "! again\n", encoding="utf-8")
    return again, log


def test_an_antenna_of_several_dipoles_is_held_against_its_last_sweep(run, glade):
    again, log = glade
    reviewed = answer(run("review", again, *log, "--site", "glade", "--json", "--draws", "100"))
    codes = {finding["code"] for finding in reviewed["findings"]}
    assert codes >= {"inside-usual", "nothing-wrong-since"}


def test_an_antenna_of_several_dipoles_is_refused_nowhere(run, samples, glade):
    """Causes of every kind are weighed, and trim is asked for all its bands."""
    again, log = glade
    lines = run("review", again, *log, "--draws", "0").stdout.replace("\\\n", " ").splitlines()
    [line] = [shlex.split(line) for line in lines if "sweepkit trim" in line]
    assert [line[at + 1] for at, word in enumerate(line) if word == "--band"] == ["40 m", "20 m"]
    assert run(*line[1:], "--draws", "0").returncode == 0
    compared = run("compare", samples / "glade_fan.s1p", again, "--kind", "trap", "--draws", "0")
    assert compared.returncode == 0, compared.stderr
    words = ("--baseline", samples / "glade_fan.s1p", "--kind", "linked", "--draws", "0", "--explain")
    found = run("diagnose", again, *words)
    assert found.returncode == 0, found.stderr
    assert "but not a link that is open or closed where it should not be" in " ".join(found.stdout.split())
    refused = run("diagnose", again, "--kind", "lnked")
    assert "did you mean linked" in refused.stderr
