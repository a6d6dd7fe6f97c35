"""``sweepkit bench``: JSON, text, the block, bad input."""

from __future__ import annotations

import json
import tomllib

import numpy as np
import pytest

F_HZ = np.linspace(3e6, 30e6, 101)


@pytest.fixture
def files(tmp_path):
    """A 49:1 transformer with 700 ohm of core across 50 ohm, into a resistor, open and short."""
    for name, y in (("load", 1 / 50 + 1 / 700), ("open", 1 / 700), ("short", 1e6)):
        g = (1 / y - 50) / (1 / y + 50)
        turned = g * np.exp(-0.002j * F_HZ / 1e6)  # a few centimetres of plug
        rows = [f"{f:.0f} {x.real:.9f} {x.imag:.9f}" for f, x in zip(F_HZ, turned, strict=True)]
        (tmp_path / f"{name}.s1p").write_text("# Hz S RI R 50\n" + "\n".join(rows) + "\n")
    return tmp_path


def command(run, files, *more, names=("load", "open", "short"), ends=("2450 ohm", "open", "short")):
    words = [
        word for name, end in zip(names, ends, strict=True) for word in (files / f"{name}.s1p", "--into", end)
    ]
    return run("bench", *words, "--ratio", "49:1", "--name", "mine", *more)


# 1/700 beside 1/50 S takes 50/750 of the power: 0.3 dB less the load, 10 log10(1 + 50/700) = 0.300 dB.
def test_the_loss_comes_with_interval_and_block(run, files):
    done = command(run, files, "--json")
    assert (done.returncode, done.stderr) == (0, "")
    answer = json.loads(done.stdout)
    assert answer["schema"] == "sweepkit/bench/1"
    assert answer["exact"] is True
    for row in answer["loss_db"]:
        assert row["value"] == pytest.approx(10 * np.log10(1 + 50 / 700), abs=1e-3)
        assert row["low"] <= row["value"] <= row["high"]
    block = tomllib.loads(answer["kit"])["boxes"]["mine"]
    assert block["ratio"] == "49:1"
    assert block["loss_db"][0] == [3.0, 0.3]
    assert answer["findings"] == []


def test_the_text_says_the_loss_first(run, files):
    lines = command(run, files).stdout.splitlines()
    assert lines[0].startswith("LOSES 0.30 (0.1")
    assert "[boxes.mine]" in "".join(lines)
    end = next(number for number, line in enumerate(lines) if line.startswith("loss_tolerance_db"))
    block = end + 1 - lines.index("[boxes.mine]")
    assert len(lines) - block <= 16  # beside the block that is to be copied
    assert "Over frequency" in command(run, files, "--explain").stdout


@pytest.mark.parametrize(
    ("more", "ends", "words"),
    [
        ((), ("2450 ohm", "open", "2450"), "--into is '2450'; open, short or a resistance was expected"),
        (
            ("--box", "coil"),
            ("2450 ohm", "open", "short"),
            "--box is 'coil'; one of transformer, pair, choke, adapter",
        ),
        ((), ("50 ohm", "open", "short"), "is made for 2450 ohm, and was told to be swept into 50 ohm"),
    ],
)
def test_what_cannot_be_is_said_in_one_line(run, files, more, ends, words):
    done = command(run, files, *more, ends=ends)
    assert done.returncode == 2
    assert words in done.stderr
    assert done.stderr.count("\n") == 1
    assert done.stdout == ""


def test_each_file_needs_its_end(run, files):
    done = run("bench", files / "load.s1p", files / "open.s1p", "--into", "open")
    assert done.returncode == 2
    assert "2 files and 1 --into; each file needs one" in done.stderr


@pytest.mark.parametrize(
    ("box", "write"),
    [
        (("--box", "choke"), "write FILE --into short"),
        (("--box", "adapter"), "write FILE --into '50 ohm' FILE --into open FILE --into short"),
        (("--ratio", "49:1"), "write FILE --into '2450 ohm' FILE --into open FILE --into short"),
        (("--ratio", "9:1"), "write FILE --into '450 ohm' FILE --into open FILE --into short"),
    ],
)
def test_an_end_that_is_not_told_is_named_for_this_box(run, files, box, write):
    done = run("bench", files / "load.s1p", *box)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.rstrip().endswith(write)


@pytest.mark.parametrize("command", ["review --report", "bench --name", "log add --set"])
def test_an_option_without_its_value_names_the_help_of_its_command(run, command):
    name = command.rsplit(" ", 1)[0]
    assert run(*command.split()).stderr.rstrip().endswith(f"see sweepkit {name} --help")
