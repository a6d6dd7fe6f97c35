"""``sweepkit trim`` for several places as a user runs it."""

import json

import numpy as np
import pytest

from sweepkit.writers import sweep_text
from tests.several_bands.test_one_wire import F_HZ, WIRES, swept

KEYS = [
    "schema", "files", "kind", "aim", "action", "reason", "loss_now_db", "loss_after_db", "loss_least_db", "moves",
    "bands", "other_aim", "settings", "sensitivities", "feed_end", "avoid", "clear", "learned_from", "next_sweeps",
    "findings", "cautions",
]  # fmt: skip
STATE = ["dip_hz", "dip_swr", "best_hz", "best_swr", "loss_db", "share_within_limit", "verdict"]
ROW = ["name", "low_hz", "high_hz", "target_hz", "weight", "now", "after", "effect", "moved_by", "why"]
MOVE = ["part", "parts", "by", "m", "full_m", "sweep_next", "disturbs"]


@pytest.fixture(scope="module")
def wide(tmp_path_factory):
    wire = WIRES[0]
    path = tmp_path_factory.mktemp("wide") / "wide.s1p"
    path.write_text(sweep_text(swept(wire, 1.05 * wire.spec["wire_m"], F_HZ), "touchstone"), encoding="utf-8")
    return path, f"{1.05 * wire.spec['wire_m']:.2f} m"


def asked(wide, *more):
    path, length = wide
    return ("trim", path, "--kind", "end-fed", "--length", length, "--measured-at", "feedpoint", *more)


def test_json_has_what_was_promised(run, wide):
    done = run(*asked(wide, "--band", "40 m", "--band", "20 m", "--weight", "40 m=2", "--json"))
    assert done.returncode == 0, done.stderr
    answer = json.loads(done.stdout)
    assert list(answer) == KEYS
    assert answer["schema"] == "sweepkit/trim-bands/1"
    assert list(answer["bands"][0]) == ROW
    assert list(answer["bands"][0]["now"]) == STATE
    assert list(answer["moves"][0]) == MOVE
    assert [row["weight"] for row in answer["bands"]] == [2.0, 1.0]


def test_text_says_the_move_then_what_it_gives_then_a_row_a_place(run, wide):
    done = run(*asked(wide, "--band", "20 m", "--band", "40 m", "--band", "30 m"))
    lines = done.stdout.splitlines()
    assert lines[0].startswith("FOLD ")
    assert lines[0].endswith(" OF THE WIRE.")
    assert lines[1].strip().startswith("40 m ")
    assert "->" in lines[1]
    table = lines.index(next(line for line in lines if "SWR now" in line))
    assert [line.split()[0] for line in lines[table + 1 : table + 4]] == ["40", "30", "20"]
    assert (
        done.stdout.index("SWR now")
        < done.stdout.index("30 m: not by the wire.")
        < done.stdout.index("Intervals")
    )


def test_the_card_is_at_most_eight_lines_of_forty_columns(run, wide):
    bands = [
        word
        for band in ("80 m", "40 m", "30 m", "20 m", "17 m", "15 m", "12 m", "10 m")
        for word in ("--band", band)
    ]
    lines = run(*asked(wide, *bands, "--weight", "20 m=5", "--card")).stdout.splitlines()
    assert len(lines) == 8
    assert max(map(len, lines)) <= 40
    assert lines[0].startswith("FOLD") or "LEAVE" in lines[0]
    assert "20 m" in lines[1]
    assert lines[-1].strip() == "+2 more"


def test_one_place_is_answered_as_before(run, wide):
    answer = json.loads(run(*asked(wide, "--target", "7.1 MHz", "--json")).stdout)
    assert answer["schema"] == "sweepkit/trim/1"


def test_the_card_for_one_place(run, wide):
    lines = run(*asked(wide, "--target", "7.1 MHz", "--card")).stdout.splitlines()
    assert lines[0].startswith("FOLD")
    assert len(lines) <= 8
    assert max(map(len, lines)) <= 40


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (("--band", "40 m", "--band", "40m"), "is named twice"),
        (("--band", "40 m", "--band", "20 m", "--weight", "15 m=2"), "not among the places named"),
        (("--band", "40 m", "--band", "20 m", "--aim", "best"), "it is mean or worst"),
        (("--band", "40 m", "--band", "20 m", "--length", "3 m"), "--length is given twice"),
        (("--band", "40 m", "--band", "20 m", "--start"), "--start is for one place"),
        (("--band", "40 m", "--band", "20 m", "--choke-at", "-2 m"), "--choke-at is"),
        (("--aim", "mean"), "no place is named"),
    ],
)
def test_what_cannot_be_is_asked_with_exit_2(run, wide, more, words):
    done = run(*asked(wide, *more))
    assert done.returncode == 2
    assert words in done.stderr
    assert "Traceback" not in done.stderr


def test_no_sweep_is_asked(run):
    done = run("trim", "--kind", "end-fed", "--length", "20 m", "--band", "40 m", "--band", "20 m")
    assert done.returncode == 2
    assert "no sweep is named" in done.stderr


def test_places_outside_all_sweeps_stop_with_exit_0(run, tmp_path):
    path = tmp_path / "low.s1p"
    path.write_text(
        sweep_text(swept(WIRES[0], 20.0, np.linspace(6e6, 8e6, 101)), "touchstone"), encoding="utf-8"
    )
    words = ("--kind", "end-fed", "--length", "20 m", "--band", "15 m", "--band", "10 m", "--json")
    done = run("trim", path, *words)
    answer = json.loads(done.stdout)
    assert done.returncode == 0
    assert (answer["action"], answer["moves"]) == ("cannot_say", [])
    assert ("not-covered", "stop") in [(each["code"], each["level"]) for each in answer["findings"]]
    assert answer["next_sweeps"]
