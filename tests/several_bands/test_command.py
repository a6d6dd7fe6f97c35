"""``sweepkit trim`` for several places as a user runs it."""

import json

import numpy as np
import pytest

from sweepkit.writers import sweep_text
from tests.several_bands.circuits import fan_z_ohm
from tests.several_bands.circuits import swept as fan_swept
from tests.several_bands.test_one_wire import F_HZ, WIRES, swept
from tests.several_bands.test_parts import LONG
from tests.several_bands.test_whip import sweep_at

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
    known = ("--kind", "end-fed", "--length", length, "--measured-at", "feedpoint", "--draws", "50")
    return ("trim", path, *known, *more)


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
    assert lines[1].strip().startswith("SWR on 40 m ")
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


def test_a_told_box_that_loses_half_keeps_places_from_being_used(run, wide, tmp_path):
    path, length = wide
    kit = tmp_path / "kit.toml"
    for loss_db, verdicts in ((3.4, {"no"}), (0.4, {"direct", "tuner"})):
        kit.write_text(
            f'[boxes.mine]\nratio = "49:1"\nloss_db = [[3.5, {loss_db}]]\n[tuner]\nmax_swr = 10\n'
            f'[antennas.a]\nkind = "end-fed"\nlength = "{length}"\ntransformer = "mine"\n'
        )
        told = (
            "--antenna",
            "a",
            "--kit",
            kit,
            "--line",
            "none",
            "--band",
            "40 m",
            "--band",
            "20 m",
            "--json",
        )
        answer = json.loads(run("trim", path, *told).stdout)
        assert {row["after"]["verdict"] for row in answer["bands"]} <= verdicts
        words = [finding["text"] for finding in answer["findings"] if finding["code"] == "box-loss"]
        assert bool(words) == (loss_db > 3)
        assert (
            not words or "loses up to 3.4 dB (54 % of the power), whatever the wire: 40 m, 20 m" in words[0]
        )


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


@pytest.fixture(scope="module")
def parts(tmp_path_factory):
    folder = tmp_path_factory.mktemp("parts")
    sweeps = {
        "fan": fan_swept(np.linspace(5e6, 31e6, 601), fan_z_ohm(np.linspace(5e6, 31e6, 601), LONG)),
        "tap24": sweep_at(24, 2.4),
        "tap8": sweep_at(8, 2.4, 2),
    }
    for name, sweep in sweeps.items():
        (folder / f"{name}.s1p").write_text(sweep_text(sweep, "touchstone"), encoding="utf-8")
    return folder


FAN = ("--kind", "fan", "--draws", "50", "--length", "40 m=10.764 m", "--length", "20 m=5.339 m")
WHIP = (
    "--kind", "loaded-whip", "--length", "2.4 m", "--tap", "24", "--turns", "40", "--coil-diameter", "52 mm",
    "--coil-pitch", "2.4 mm", "--whip-range", "1.5-3.6 m", "--radials", "4", "--radial-length", "4 m", "--draws", "50",
)  # fmt: skip


def test_the_legs_of_a_fan_one_line_each(run, parts):
    done = run(
        "trim",
        parts / "fan.s1p",
        *FAN,
        "--target",
        "40 m=7.1 MHz",
        "--target",
        "20 m=14.175 MHz",
        "--by",
        "cut",
    )
    first, second = done.stdout.splitlines()[:2]
    assert first.startswith("LEGS FOR 40 m: CUT ")
    assert " EACH. THEN SWEEP " in first
    assert second.strip().startswith("LEGS FOR 20 m: CUT ")


def test_settings_of_a_whip_one_line_each_with_kilohertz(run, parts):
    earlier = ("--earlier", f"tap 8={parts / 'tap8.s1p'}")
    words = (
        "trim",
        parts / "tap24.s1p",
        *WHIP,
        "--band",
        "40 m",
        "--band",
        "20 m",
        *earlier,
    )
    done = run(*words, "--measured-at", "feedpoint")
    assert done.stdout.startswith("40 m: TAP ")
    assert "kHz/cm" in done.stdout
    answer = json.loads(run(*words, "--measured-at", "feedpoint", "--json").stdout)
    low, high = (answer["settings"][0]["dip_hz"][end] / 1e6 for end in ("low", "high"))
    assert f"({low:.3f}-{high:.3f})" in done.stdout
    assert list(answer) == KEYS
    assert answer["action"] == "retune"
    assert [list(each) for each in answer["settings"]] == [SETTING] * len(answer["settings"])
    assert answer["learned_from"] == 1


SETTING = [
    "band", "target_hz", "low_hz", "high_hz", "tap", "whip_m", "dip_hz", "best_swr", "loss_db", "hz_per_m",
    "hz_per_turn", "last",
]  # fmt: skip


def test_one_place_with_a_tapped_coil_has_a_setting(run, parts):
    done = run("trim", parts / "tap24.s1p", *WHIP, "--target", "7.1 MHz", "--json")
    assert json.loads(done.stdout)["schema"] == "sweepkit/trim-bands/1"


def test_a_random_wire_says_what_to_keep_away_from(run, wide):
    path, _ = wide
    words = (
        "trim",
        path,
        "--kind",
        "random-wire",
        "--length",
        "12.5 m",
        "--counterpoise",
        "5 m",
        "--band",
        "40 m",
        "--band",
        "20 m",
    )
    answer = json.loads(run(*words, "--json").stdout)
    assert (answer["action"], answer["moves"]) == ("leave", [])
    spans = [(each["low_m"], each["high_m"]) for each in answer["avoid"] if each["part"] == "wire"]
    assert any(low < 20.3 < high for low, high in spans)  # half a wave on 40 m
    assert all(6.25 <= low < high <= 25.0 for low, high in spans)
    clear = [(each["low_m"], each["high_m"]) for each in answer["clear"] if each["part"] == "wire"]
    assert any(low < 15.0 < high for low, high in clear)
    assert {each["part"] for each in answer["avoid"]} == {"wire", "counterpoise"} or answer["clear"]


def test_a_counterpoise_of_half_a_wave_is_said(run, wide):
    words = (
        "trim",
        wide[0],
        "--kind",
        "random-wire",
        "--length",
        "12.5 m",
        "--band",
        "40 m",
        "--band",
        "20 m",
    )
    said = {
        length: json.loads(run(*words, "--counterpoise", length, "--json").stdout)["reason"]
        for length in ("10.1 m", "7 m")
    }
    assert "its counterpoise is near half waves of 20 m: take a clear length" in said["10.1 m"]
    assert "near half waves" not in said["7 m"]


def test_a_card_has_the_moves_of_both_pairs_where_they_fit(run, parts):
    words = (*FAN, "--target", "40 m=7.1 MHz", "--target", "20 m=14.175 MHz")
    lines = run("trim", parts / "fan.s1p", *words, "--card").stdout.splitlines()
    assert len(lines) <= 8
    assert max(map(len, lines)) <= 40
    assert [line[:14] for line in lines if line.startswith("LEGS")] == ["LEGS FOR 40 m:", "LEGS FOR 20 m:"]
    assert not any("more" in line for line in lines)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ((*FAN, "--target", "40 m=7.1 MHz"), "not among the places named"),
        (("--kind", "fan", "--length", "40 m=10.7 m", "--band", "40 m"), "and one is named"),
        (
            ("--kind", "fan", "--length", "40 m=10.7 m", "--band", "40 m", "--band", "20 m"),
            "20 m has no length",
        ),
        (
            ("--kind", "fan", "--length", "10.7 m", "--band", "40 m", "--band", "20 m"),
            "write it like '40 m=10.61 m'",
        ),
        (
            (
                *["--kind", "fan", "--band"],
                "40 m",
                "--band",
                "20 m",
                "--length",
                "40 m=5.3 m",
                "--length",
                "20 m=10.7 m",
            ),
            "are two exchanged?",
        ),
        ((*WHIP[:4], "--tap", "41", "--turns", "40", "--band", "40 m"), "not on a coil of 40 turns"),
        ((*WHIP[:4], "--tap", "3.5", "--turns", "40", "--band", "40 m"), "between the steps"),
        ((*WHIP[:4], "--whip-range", "3-4 m", "--band", "40 m"), "outside its range"),
        ((*WHIP[:4], "--whip-range", "4-3 m", "--band", "40 m"), "shorter first"),
        ((*WHIP, "--band", "40 m", "--earlier", "tap=x.s1p"), "tap"),
    ],
)
def test_what_cannot_be_of_parts_is_asked_with_exit_2(run, parts, words, says):
    name = "fan" if "fan" in words else "tap24"
    done = run("trim", parts / f"{name}.s1p", *words)
    assert done.returncode == 2
    assert says in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize("ending", ["html", "md"])
def test_the_report_holds_the_answer_and_its_picture(run, wide, tmp_path, ending):
    path = tmp_path / f"report.{ending}"
    done = run(*asked(wide, "--band", "40 m", "--band", "20 m", "--report", path))
    assert done.returncode == 0, done.stderr
    text = path.read_text(encoding="utf-8")
    assert "OF THE WIRE" in text
    assert ("SWR of each place over the length" in text) is (ending == "html")


def test_earlier_lengths_of_one_wire_come_from_the_logbook(run, wide, tmp_path):
    """As for one place: what the wire answered then, as if told with ``--earlier``."""
    wire, (first, _) = WIRES[0], wide
    lengths_m = [round(factor * wire.spec["wire_m"], 2) for factor in (1.05, 1.02)]
    second, log = tmp_path / "second.s1p", tmp_path / "log.sqlite"
    second.write_text(sweep_text(swept(wire, lengths_m[1], F_HZ, seed=2), "touchstone"), encoding="utf-8")
    for number, (path, length_m) in enumerate(zip((first, second), lengths_m, strict=True)):
        own = ("by=cut",) if number else ("kind=end-fed",)
        told = [word for fact in (f"length={length_m} m", *own) for word in ("--set", fact)]
        told += ["--measured-at", "feedpoint", *(("--setup", "last") if number else ("--site", "s"))]
        when = ("--when", f"2026-05-02T0{number}:00+00:00", "--log", log)
        added = run("log", "add", path, "--antenna", "w", *told, *when)
        assert added.returncode == 0, added.stderr
    places = ("--band", "40 m", "--band", "20 m", "--by", "cut", "--draws", "50", "--json")
    logged = run("trim", second, "--antenna", "w", *places, "--log", log)
    assert "earlier sweeps of this setup, from the logbook: sweep 1" in logged.stderr
    known = ("--kind", "end-fed", "--length", f"{lengths_m[1]} m", "--measured-at", "feedpoint")
    by_hand = run("trim", second, *known, "--earlier", f"cut:{lengths_m[0]} m={first}", *places)
    assert json.loads(logged.stdout)["learned_from"] == 1
    assert json.loads(logged.stdout) == json.loads(by_hand.stdout)
