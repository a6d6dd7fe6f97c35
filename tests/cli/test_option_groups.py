"""A group stands for its options, and shared options stand in one order in every help."""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import combinations
from typing import Annotated

import pytest
import typer
from typer.testing import CliRunner

from sweepkit.cli.help import GROUPS
from sweepkit.cli.main import COMMANDS
from sweepkit.cli.option_groups import Drawn, OptionGroup, Reading, with_groups

SHARED = {f"--{name}" for names in GROUPS.values() for name in names}
MANY = [name for name in COMMANDS if name not in ("kit", "log")]


@dataclass(frozen=True, kw_only=True)
class Size(OptionGroup):
    """Two options."""

    wide: Annotated[float, typer.Option("--wide")] = 1.0
    high: Annotated[float | None, typer.Option("--high")] = None


def asked(*words):
    """What a command with a group and an option of its own is called with."""
    seen = {}

    @with_groups
    def command(*, size: Size, name: Annotated[str, typer.Option("--name")] = "own"):
        seen.update(size=size, name=name)

    app = typer.Typer()
    app.command()(command)
    done = CliRunner().invoke(app, words)
    assert done.exit_code == 0, done.output
    return seen


def test_a_group_holds_what_was_given_and_defaults_for_the_rest():
    assert asked() == {"size": Size(), "name": "own"}
    assert asked("--high", "3", "--name", "x") == {"size": Size(high=3.0), "name": "x"}


def test_hints_hold_what_was_told_alone():
    assert Reading().told() == {}
    assert Reading(columns="f,r,x", recover_sign=True, reference_ohm=0.5).told() == {
        "columns": "f,r,x",
        "recover_sign": True,
        "reference_ohm": 0.5,
    }
    assert Drawn(draws=0).both() == {"draws": 0, "seed": 0}


@pytest.fixture(scope="module")
def shared_in(run):
    """The shared options of each command in the order of its help."""
    helps = {name: run(name, "--help", columns="80").stdout for name in MANY}
    found = {name: re.findall(r"^ {2}(?:-\w, )?(--[\w-]+)", text, re.M) for name, text in helps.items()}
    return {name: [option for option in options if option in SHARED] for name, options in found.items()}


def test_shared_options_stand_in_one_order_in_every_help(shared_in):
    assert all(len(options) >= 8 for options in shared_in.values())
    for (one, first), (two, second) in combinations(shared_in.items(), 2):
        common = set(first) & set(second)
        order = [[option for option in options if option in common] for options in (first, second)]
        assert order[0] == order[1], (one, two)
