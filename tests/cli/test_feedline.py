"""What ``sweepkit feedline`` promises: JSON, streams, exit codes, bad input."""

from __future__ import annotations

import json
import re
import tomllib

import numpy as np
import pytest

from tests.feedline.table_of_errors import GEOMETRIES
from tests.feedline.test_through import between_ports, written

KEYS = {
    "schema", "length_m", "velocity_factor", "z0_ohm", "resolution_m", "range_m", "loss_db", "reflections",
    "compared_with", "kit", "findings",
}  # fmt: skip


def no_constant(name):
    raise AssertionError(f"{name} is no JSON")


def answer(done):
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    return json.loads(done.stdout, parse_constant=no_constant)


@pytest.fixture(scope="module")
def both(run, samples):
    words = [samples / "spool_open.s1p", "--end", "open", samples / "spool_short.s1p", "--end", "short"]
    return answer(run("feedline", *words, "--type", "RG-58", "--json"))


def test_everything_promised_is_there(both):
    assert set(both) == KEYS
    assert both["schema"] == "sweepkit/feedline/1"
    for name in ("length_m", "velocity_factor", "z0_ohm"):
        figure = both[name]
        assert figure["low"] <= figure["value"] <= figure["high"]
    assert all(set(row) == {"f_hz", "value", "low", "high"} for row in both["loss_db"])
    assert [row["f_hz"] for row in both["loss_db"]] == sorted(row["f_hz"] for row in both["loss_db"])
    assert set(both["reflections"][0]) == {"distance_m", "size_db", "looks_like"}
    assert both["compared_with"]["type"] == "RG-58"
    assert both["compared_with"]["loss_excess_db"]["value"] == pytest.approx(0, abs=0.03)
    assert both["findings"] == []


def test_the_figures_are_those_of_the_spool(both):
    assert both["length_m"]["value"] == pytest.approx(15.0, rel=2e-3)
    assert both["z0_ohm"]["value"] == pytest.approx(50.0, abs=0.3)
    assert both["resolution_m"] == pytest.approx(1.677, abs=0.001)


def test_the_kit_block_is_toml_and_goes_back_in_as_the_record(both, run, samples, tmp_path):
    assert "velocity_factor_at" in tomllib.loads(both["kit"])["lines"]["measured"]
    kit = tmp_path / "kit.toml"
    kit.write_text(both["kit"], encoding="utf-8")
    words = ["--end", "open", "--type", "measured", "--kit", kit, "--json"]
    again = answer(run("feedline", samples / "spool_open.s1p", *words))
    assert again["length_m"]["value"] == pytest.approx(15.0, rel=2e-3)
    assert again["compared_with"]["type"] == "measured"
    assert again["findings"] == []


@pytest.mark.parametrize(
    ("words", "codes"),
    [
        (("broken_line.s1p", "--type", "RG-58"), ["open-line"]),
        (("broken_line.s1p", "--end", "open", "--length", "20 m"), ["open-line", "length-contradicts-delay"]),
        (("mixed_chain_open.s1p", "--end", "open", "--type", "RG-58"), ["wrong-impedance-piece"]),
        (("wet_line_open.s1p", "--end", "open", "--type", "RG-58"), ["line-loss"]),
        (("valley_dipole_rg58.s1p", "--type", "RG-58"), ["far-end-not-bare"]),
        (("spool_open.s1p", "--end", "open"), ["velocity-factor-unknown"]),
    ],
)
def test_faults_of_the_samples(run, samples, words, codes):
    document = answer(run("feedline", samples / words[0], *words[1:], "--json"))
    assert [finding["code"] for finding in document["findings"]] == codes


def test_text_without_json(run, samples):
    done = run("feedline", samples / "broken_line.s1p", "--type", "RG-58", "--units", "imperial")
    assert done.returncode == 0
    assert done.stdout.startswith("ENDS OPEN AT 11.00 m\n  The line ends open at 11.00 m")
    assert "(36 ft 1" in done.stdout
    assert "For your kit.toml:" in done.stdout
    told = ("--end", "open", "--length", "20 m", "--type", "RG-58")
    broken = run("feedline", samples / "broken_line.s1p", *told)
    assert "For your kit.toml:" not in broken.stdout  # nobody wants more of a broken line
    assert all(len(line) <= 110 for line in done.stdout.splitlines())


def test_a_length_that_rests_on_a_guess_says_so_in_the_first_sentence(run, samples):
    words = (samples / "spool_open.s1p", "--end", "open", "--draws", "50")
    first, told = (
        " ".join(run("feedline", *words, *more).stdout.split()) for more in ((), ("--type", "RG-58"))
    )
    low, high = re.search(
        r"one line of [0-9.]+ m, or ([0-9.]+) m to ([0-9.]+) m, since no type", first
    ).groups()
    assert float(low) < 15.0 < float(high)  # as long as the spool is
    assert "since no type is told" not in told


def test_the_first_words_are_short_and_the_tables_one_option_away(run, samples):
    words = (samples / "spool_open.s1p", "--end", "open", "--type", "RG-58", "--draws", "50")
    first, whole = (run("feedline", *words, *more).stdout for more in ((), ("--explain",)))
    assert first.startswith("NOTHING WRONG FOUND\n  The sweep is that of one line of 15.0")
    assert re.search(r"it loses 0\.5\d dB at 7\.1 MHz,\s+1\.\d\d dB at 28\.5 MHz", first)
    figures = first.partition("For your kit.toml:")[0]
    assert len(figures.splitlines()) <= 14
    assert "Loss, one way" not in first
    assert first.endswith("More: --explain.\n")
    assert "Loss, one way, matched" in whole
    assert "Reflections, from the near end" in whole


def test_places_inside_a_line_are_listed_at_once(run, samples):
    shown = run("feedline", samples / "mixed_chain_open.s1p", "--end", "open", "--draws", "0").stdout
    assert "step up from 50 to 75 ohm" in shown


# A line of the kit has no published figures to be off; its table still stands in columns of 72.
def test_a_line_of_the_kit_is_compared_with_its_own_figures(both, run, samples, tmp_path):
    kit = tmp_path / "kit.toml"
    kit.write_text(both["kit"], encoding="utf-8")
    words = (samples / "spool_open.s1p", "--end", "open", "--draws", "50")
    own = run("feedline", *words, "--type", "measured", "--kit", kit, "--explain", columns="80").stdout
    assert "LOSS AS IN YOUR KIT" in own
    assert "published" not in own
    assert "Loss, one way, matched; expected: measured of this length\n  frequency, MHz  loss, dB" in own
    typed = run("feedline", *words, "--type", "RG-58", columns="80").stdout
    assert "RG-58 LOSS AS EXPECTED" in typed
    assert "not clearly off the published figures" in " ".join(typed.split())
    checked = run("kit", "check", kit).stdout
    assert "line measured: 50" in checked
    assert "None" not in checked


def test_resolution_means_the_same_in_text_and_json(both, run, samples):
    words = (samples / "spool_open.s1p", "--end", "open", "--type", "RG-58", "--draws", "0")
    text = " ".join(run("feedline", *words, "--explain").stdout.split())
    assert (
        f"resolution {both['resolution_m']:.2f} m" in text
        or f"resolution: {both['resolution_m']:.2f} m" in text
    )
    assert "(twice that parts two places)" in text


@pytest.mark.parametrize(
    ("words", "text"),
    [
        (("spool_open.s1p", "--length", "15"), "'15' has no unit"),
        (("spool_open.s1p", "--length", "-15 m"), "length is -15; it must be above 0 and at most 10000 m"),
        (
            ("spool_open.s1p", "--velocity-factor", "1.2"),
            "--velocity-factor is 1.2; it must be 0.01 to 1",
        ),
        (("spool_open.s1p", "--length", "15 m", "--velocity-factor", "0.66"), "give one of them"),
        (("spool_open.s1p", "--end", "opn"), "open, short or unknown was expected"),
        (("spool_open.s1p", "--end", "open", "--end", "short"), "1 sweep and 2 far ends"),
        (("spool_open.s1p", "--type", "RG-59C"), "near it are RG-59"),
        (("no_such_file.s1p",), "no_such_file.s1p"),
        (("ridge_dipole_40m.s1p", "--length", "5 m"), "too narrow for 5.00 m of line"),
    ],
)
def test_what_cannot_be_run_exits_2_in_one_line(run, samples, words, text):
    done = run("feedline", samples / words[0], *words[1:])
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.startswith("sweepkit: ")
    assert text in done.stderr
    assert done.stderr.count("\n") == 1


def test_a_two_port_file_is_measured_through(run, tmp_path):
    s, _ = between_ports(GEOMETRIES[0], 15.0, np.random.default_rng(4))
    path = written(tmp_path, s)
    told = answer(run("feedline", path, "--end", "through", "--type", "RG-58", "--json", "--draws", "50"))
    assert told["length_m"]["value"] == pytest.approx(15.0, rel=0.02)
    assert told == answer(run("feedline", path, "--type", "RG-58", "--json", "--draws", "50"))
    said = " ".join(run("feedline", path, "--draws", "50").stdout.split())
    assert "between two ports in jumper" in said
    two = run("feedline", path, "--end", "through", path, "--end", "open")
    assert two.returncode == 2
    assert "through for one two-port file alone" in two.stderr


def test_swapped_ends(run, samples):
    words = [samples / "spool_open.s1p", "--end", "short", samples / "spool_short.s1p", "--end", "open"]
    done = run("feedline", *words)
    assert done.returncode == 2
    assert "swap the two --end" in done.stderr


def test_the_same_seed_gives_the_same_answer(run, samples):
    words = (
        "feedline",
        samples / "spool_open.s1p",
        "--type",
        "RG-58",
        "--json",
        "--seed",
        "5",
        "--draws",
        "50",
    )
    assert run(*words).stdout == run(*words).stdout


@pytest.mark.parametrize("words", [("feedline", "broken_line.s1p"), ("trim", "ridge_dipole_40m.s1p")])
def test_other_units_are_refused(run, samples, words):
    command, name = words
    done = run(command, samples / name, "--units", "inches")
    assert done.returncode == 2
    assert done.stderr == "sweepkit: --units is 'inches'; it is metric or imperial\n"
