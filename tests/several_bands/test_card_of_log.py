"""The band-change card: settings of an antenna from the logbook."""

import json
import re

import numpy as np
import pytest

import sweepkit
from sweepkit.writers import sweep_text
from tests.several_bands.circuits import fan_z_ohm, linked_z_ohm, swept
from tests.several_bands.test_whip import dip_of, sweep_at

FEW = 100  # draws
KIT = """region = 1
[antennas.stick]
kind = "loaded-whip"
turns = 40
coil_diameter = "52 mm"
coil_pitch = "2.4 mm"
whip_range = ["1.5 m", "3.6 m"]
radials = 4
radial_length = "4 m"
places = ["40 m", "30 m", "20 m"]
weights = {"30 m" = 2}
choke_at = "0 m"
transformer = "1:1"
"""


@pytest.fixture(scope="module")
def outing(run, tmp_path_factory):
    """A whip logged at two taps, on two days; with its kit."""
    folder = tmp_path_factory.mktemp("outing")
    log, kit = folder / "log.sqlite", folder / "kit.toml"
    kit.write_text(KIT, encoding="utf-8")
    for number, tap in enumerate((24, 8), start=1):
        path = folder / f"tap{tap}.s1p"
        path.write_text(sweep_text(sweep_at(tap, 2.4, tap), "touchstone"), encoding="utf-8")
        add_to(
            run,
            log,
            path,
            f"kind=loaded-whip|tap={tap}|length=2.4 m|radials=4",
            f"2026-05-0{number}",
            "stick",
        )
    return folder, ("--antenna", "stick", "--log", log, "--kit", kit)


def add_to(run, log, path, facts, day, antenna):
    words = [word for fact in facts.split("|") for word in ("--set", fact)]
    place = ("--site", "hill", "--antenna", antenna, "--measured-at", "feedpoint", "--when", day)
    done = run("log", "add", path, *place, *words, "--log", log)
    assert done.returncode == 0, done.stderr


@pytest.fixture(scope="module")
def card(run, outing):
    """What the logbook tells before a sweep of today."""
    return json.loads(run("trim", *outing[1], "--json", "--draws", FEW).stdout)


def test_python_gives_the_card_of_the_command(card, outing):
    folder, _ = outing
    log, kit = folder / "log.sqlite", folder / "kit.toml"
    answer = sweepkit.plan_bands(antenna="stick", log=log, kit=kit, draws=FEW)
    assert answer.to_json() == card
    assert list(answer.to_frame("settings")["band"]) == ["40 m", "30 m", "20 m"]


def test_a_row_for_each_place_of_the_kit_with_tap_whip_and_dip(card):
    answer = card
    assert (answer["schema"], answer["action"], answer["files"]) == ("sweepkit/trim-bands/1", "retune", [])
    assert [row["band"] for row in answer["settings"]] == ["40 m", "30 m", "20 m"]
    for row in answer["settings"]:
        true = dip_of(row["tap"], row["whip_m"])
        assert row["dip_hz"]["low"] < true < row["dip_hz"]["high"]
        assert true == pytest.approx(row["dip_hz"]["value"], rel=0.01)
        # one erection of a whip moves it by 1.5 %, so 95 % is 3 % to each side, and more for the formula
        assert 0.05 < (row["dip_hz"]["high"] - row["dip_hz"]["low"]) / row["dip_hz"]["value"] < 0.12
    assert [row["weight"] for row in answer["bands"]] == [1.0, 2.0, 1.0]


def test_a_setting_that_was_used_is_given_again_with_its_day(run, outing):
    _, known = outing
    words = ("--target", f"{dip_of(8, 2.4):.0f} Hz", "--target", "7.1 MHz")
    rows = json.loads(run("trim", *known, *words, "--json").stdout)["settings"]
    last = next(row for row in rows if row["target_hz"] > 10e6)
    assert (last["tap"], last["whip_m"]) == (8, 2.4)
    assert last["last"]["setup"] == "S2"
    assert last["last"]["when"].startswith("2026-05-02")
    assert last["last"]["dip_hz"] == pytest.approx(dip_of(8, 2.4), rel=0.002)


def test_one_sweep_of_today_moves_all_rows_together(run, outing, card):
    folder, known = outing
    path = folder / "today.s1p"
    f0 = dip_of(24, 2.4)
    f_hz = np.linspace(0.93 * f0, 1.05 * f0, 201)
    from tests.several_bands.circuits import whip_z_ohm

    path.write_text(sweep_text(swept(f_hz, whip_z_ohm(f_hz / 0.98, 24, 2.4)), "touchstone"), encoding="utf-8")
    words = (
        "trim",
        path,
        *known,
        "--tap",
        "24",
        "--length",
        "2.4 m",
        "--measured-at",
        "feedpoint",
        "--draws",
        FEW,
    )
    today = json.loads(run(*words, "--json").stdout)
    assert [each["code"] for each in today["findings"]][:1] == ["today-differs"]
    shifted = dip_of(today["settings"][2]["tap"], today["settings"][2]["whip_m"]) * 0.98
    assert shifted == pytest.approx(today["settings"][2]["dip_hz"]["value"], rel=0.01)
    width = [
        each["settings"][0]["dip_hz"]["high"] - each["settings"][0]["dip_hz"]["low"] for each in (today, card)
    ]
    assert width[0] < width[1]
    lower = re.match(r"Today all dips lie ([\d.]+)% lower", run(*words).stdout)
    assert float(lower.group(1)) == pytest.approx(2.0, abs=0.3)


def test_the_card_has_a_line_a_place_by_weight(run, outing):
    _, known = outing
    lines = run("trim", *known, "--card").stdout.splitlines()
    assert [line.split(":")[0] for line in lines] == ["30 m", "40 m", "20 m"]
    assert all("TAP" in line and "WHIP" in line and len(line) <= 40 for line in lines)


def test_one_setting_on_record_is_too_few(run, outing, tmp_path):
    folder, _ = outing
    log = tmp_path / "log.sqlite"
    add_to(run, log, folder / "tap24.s1p", "kind=loaded-whip|tap=24|length=2.4 m", "2026-05-01", "stick")
    done = run("trim", "--antenna", "stick", "--log", log, "--band", "40 m", "--json")
    answer = json.loads(done.stdout)
    assert (done.returncode, answer["action"], answer["settings"]) == (0, "cannot_say", [])
    assert "tap 12 with the same whip" in answer["reason"]


def test_an_earlier_sweep_beside_no_sweep_of_now_is_asked(run, outing):
    folder, words = outing
    done = run("trim", *words, "--earlier", f"tap 8={folder / 'tap8.s1p'}")
    assert done.returncode == 2
    assert "--earlier goes with a sweep of the antenna as it stands now" in done.stderr


def test_links_without_records_say_what_to_log(run, outing, tmp_path):
    folder, _ = outing
    log = tmp_path / "log.sqlite"
    add_to(run, log, folder / "tap24.s1p", "kind=loaded-whip|tap=24|length=2.4 m", "2026-05-01", "stick")
    kit = tmp_path / "kit.toml"
    kit.write_text('[antennas.links]\nkind = "linked"\nplaces = ["40 m", "20 m"]\n', encoding="utf-8")
    done = run("trim", "--antenna", "links", "--kit", kit, "--log", log, "--json")
    answer = json.loads(done.stdout)
    assert answer["findings"][0]["next_step"].endswith("--set lengths=...")


def test_no_sweep_and_no_logbook_is_asked(run, outing, tmp_path):
    folder, _ = outing
    done = run("trim", "--antenna", "stick", "--kit", folder / "kit.toml", cwd=tmp_path)
    assert done.returncode == 2
    assert "there is no logbook" in done.stderr


def test_links_are_told_with_the_dip_of_each_place(run, tmp_path):
    log = tmp_path / "log.sqlite"
    for name, leg_m, day in (("40", 10.2, "2026-05-01"), ("20", 5.1, "2026-05-02")):
        f0 = 0.2415 * 299_792_458 / leg_m
        f_hz = np.linspace(0.95 * f0, 1.05 * f0, 101)
        path = tmp_path / f"{name}.s1p"
        path.write_text(sweep_text(swept(f_hz, linked_z_ohm(f_hz, leg_m)), "touchstone"), encoding="utf-8")
        add_to(run, log, path, "kind=linked|lengths=40 m=10.2 m, 20 m=5.1 m", day, "links")
    done = run("trim", "--antenna", "links", "--log", log, "--band", "40 m", "--band", "20 m", "--json")
    answer = json.loads(done.stdout)
    assert [row["lengths"] for row in answer["settings"]] == [{"40 m": 10.2, "20 m": 5.1}] * 2
    assert [row["last"]["setup"] for row in answer["settings"]] == ["S1", "S2"]
    assert answer["settings"][0]["dip_hz"]["low"] < 7.098e6 < answer["settings"][0]["dip_hz"]["high"]


def fan_sweep(path, legs_m, seed):
    f_hz = np.linspace(5e6, 16e6, 301)
    path.write_text(sweep_text(swept(f_hz, fan_z_ohm(f_hz, legs_m), seed), "touchstone"), encoding="utf-8")
    return "kind=fan|lengths=" + ", ".join(f"{name}={leg_m} m" for name, leg_m in legs_m.items())


def test_a_fan_needs_two_settings_however_often_one_was_swept(run, tmp_path):
    """The deepest dip of one setting is now that of one pair, now that of the other."""
    log, path = tmp_path / "log.sqlite", tmp_path / "fan.s1p"
    asked = ("trim", "--antenna", "fan", "--log", log, "--json")
    answers = []
    for day, legs_m in enumerate(
        ({"40 m": 10.6, "20 m": 5.3},) * 2 + ({"40 m": 10.4, "20 m": 5.3},), start=1
    ):
        add_to(run, log, path, fan_sweep(path, legs_m, day), f"2026-05-0{day}", "fan")
        answers.append(json.loads(run(*asked).stdout))
    assert [each["action"] for each in answers] == ["cannot_say", "cannot_say", "retune"]
    assert "one setting is on record (40 m 10.60 m, 20 m 5.30 m), two are needed" in answers[1]["reason"]
    assert [row["band"] for row in answers[2]["settings"]] == ["40 m", "20 m"]
    assert answers[2]["settings"][0]["lengths"] == {"40 m": 10.4, "20 m": 5.3}


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("turns = 0", "turns is 0"),
        ('whip_range = ["4 m", "1 m"]', "does not rise"),
        ('whip_range = ["4 m"]', "a shortest and a longest whip"),
        ('choke_at = "-1 m"', "choke_at is '-1 m'"),
        ('transformer = "49"', "like 49:1"),
        ('lengths = {"40 m" = "10.6"}', "has no unit"),
    ],
)
def test_a_kit_that_cannot_be_is_refused_with_its_line(run, outing, tmp_path, line, words):
    kit = tmp_path / "kit.toml"
    kit.write_text(f'[antennas.stick]\nkind = "loaded-whip"\n{line}\n', encoding="utf-8")
    done = run("trim", "--antenna", "stick", "--kit", kit, "--band", "40 m")
    assert done.returncode == 2
    assert words in done.stderr
    assert "kit.toml:3" in done.stderr


def test_the_card_of_a_dipole_speaks_of_its_legs(run, samples, tmp_path):
    log = tmp_path / "log.sqlite"
    asked = ("trim", "--antenna", "ridge", "--log", log, "--band", "40 m")
    states = (("ridge_dipole_40m_long.s1p", "10.58 m"), ("ridge_dipole_40m.s1p", "10.30 m"))
    pages = []
    for day, (name, length) in enumerate(states, start=1):
        add_to(run, log, samples / name, f"kind=dipole|length={length}", f"2026-05-0{day}", "ridge")
        done = run(*asked)
        assert done.returncode == 0, done.stderr
        pages.append(" ".join(done.stdout.split()))
    assert "(leg 10.58 m), two are needed; sweep it at a leg 10 % longer or shorter next" in pages[0]
    assert "40 m: LEG 10.30 m." in pages[1]
    assert not any("whip" in page.lower() for page in pages)
