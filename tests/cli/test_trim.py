"""``sweepkit trim`` as a user runs it."""

import json
import re

import pytest

DIPOLE = ("--kind", "dipole", "--length", "10.58 m", "--target", "7.1 MHz", "--draws", "100")
KEYS = [
    "schema",
    "file",
    "action",
    "reason",
    "now_hz",
    "target_hz",
    "parts",
    "change_m",
    "first_move",
    "after_first_move_hz",
    "sensitivity_hz_per_m",
    "learned_from",
    "next_sweeps",
    "findings",
    "cautions",
]


def one(run, *words):
    done = run("trim", *words)
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_json_has_what_was_promised(run, samples):
    answer = json.loads(
        one(run, samples / "ridge_dipole_40m_long.s1p", *DIPOLE, "--measured-at", "feedpoint", "--json")
    )
    assert list(answer) == KEYS
    assert answer["schema"] == "sweepkit/trim/1"
    assert answer["file"]["points"] == 201
    assert answer["action"] == "shorten"
    assert answer["parts"] == 2
    assert answer["first_move"]["by"] == "fold"
    assert answer["change_m"]["low"] < answer["change_m"]["value"] < answer["change_m"]["high"] < 0
    assert answer["sensitivity_hz_per_m"]["value"] < 0


def test_a_bare_line_is_said_first_with_the_connectors_to_look_at(run, samples):
    told = ("--kind", "dipole", "--length", "10 m", "--target", "7.1 MHz", "--line", "RG-58 10 m")
    text = one(run, samples / "broken_line.s1p", *told)
    assert re.match(r"CANNOT SAY how much: the line is open [0-9.]+ m away[.]\n", text)
    assert "1. Radio off and disconnected: look at the connectors" in text
    assert text.count("look at the connectors") == 1


def test_a_line_in_a_sweep_told_as_at_the_feedpoint_is_the_warning(run, samples):
    told = ("--kind", "dipole", "--length", "10 m", "--target", "7.1 MHz", "--measured-at", "feedpoint")
    first, *others = json.loads(one(run, samples / "valley_dipole_rg58.s1p", *told, "--json"))["findings"]
    assert first["code"] == "wrong-plane"
    assert first["text"].endswith("the move rests on the dip as it was swept")
    assert "kind-unlikely" not in [found["code"] for found in others]


def test_text_says_the_move_first_and_fits_a_small_screen(run, samples, monkeypatch):
    text = one(run, samples / "ridge_dipole_40m_long.s1p", *DIPOLE, "--by", "cut")
    assert text.splitlines()[0] == "CUT 31 cm off each leg."
    assert "Radio off and disconnected" in text
    assert "A cut cannot be undone" in text
    assert len(text.splitlines()) <= 17
    folded = one(run, samples / "ridge_dipole_40m_long.s1p", *DIPOLE)
    assert len(folded.splitlines()) <= 15
    assert "kHz per cm" in one(run, samples / "ridge_dipole_40m_long.s1p", *DIPOLE, "--explain")


def test_inches_on_request(run, samples):
    text = one(
        run, samples / "ridge_dipole_40m_long.s1p", *DIPOLE, "--by", "cut", "--units", "imperial", "--explain"
    )
    assert text.splitlines()[0] == "CUT 31 cm (1 ft 0.5 in) off each leg."
    assert "kHz per inch" in text


def test_nominal_values_only(run, samples):
    answer = json.loads(
        one(run, samples / "ridge_dipole_40m_long.s1p", *DIPOLE[:-2], "--draws", "0", "--by", "cut", "--json")
    )
    assert answer["change_m"]["low"] is None
    assert answer["change_m"]["value"] == pytest.approx(-0.44, abs=0.03)


def test_kind_length_and_line_come_from_the_kit(run, samples, tmp_path):
    kit = tmp_path / "kit.toml"
    kit.write_text(
        '[antennas.meadow]\nkind = "vertical"\nlength = "5.62 m"\nradials = 3\nline = ["RG-58 12 m"]\n',
        encoding="utf-8",
    )
    sweep = samples / "meadow_vertical_1.s1p"
    from_kit = one(run, sweep, "--antenna", "meadow", "--kit", kit, "--target", "14.15 MHz", "--json")
    told = one(
        run,
        sweep,
        *("--kind", "vertical", "--length", "5.62 m", "--radials", "3", "--line", "RG-58 12 m"),
        *("--target", "14.15 MHz", "--json"),
    )
    assert from_kit == told


def test_a_name_in_front_of_the_one_target_or_segment_changes_nothing(run, samples):
    asked = (samples / "ridge_dipole_40m_long.s1p", *DIPOLE[:4], "--measured-at", "feedpoint", "--draws", 50)
    plain = json.loads(one(run, *asked, "--target", "7.1 MHz", "--json"))
    assert json.loads(one(run, *asked, "--target", "40 m=7.1 MHz", "--json")) == plain
    plain = one(run, *asked, "--segment", "7000-7074 kHz", "--json")
    assert one(run, *asked, "--segment", "40 m cw=7000-7074 kHz", "--json") == plain


def test_the_transformer_comes_from_kit_or_logbook(run, samples, tmp_path):
    """An end-fed without its box answers to length by more than one with it."""
    sweep, asked = samples / "ridge_dipole_40m.s1p", ("--target", "7.15 MHz", "--draws", 50, "--json")
    told = ("--kind", "end-fed", "--length", "20.6 m", "--measured-at", "feedpoint")
    kit, log = tmp_path / "kit.toml", tmp_path / "mine.sqlite"
    text = '[antennas.long]\nkind = "end-fed"\nlength = "20.6 m"\ntransformer = "1:1"\n'
    kit.write_text(text, encoding="utf-8")
    facts = ("kind=end-fed", "length=20.6 m", "transformer=1:1", "measured_at=feedpoint")
    settings = [word for fact in facts for word in ("--set", fact)]
    assert run("log", "add", sweep, "--antenna", "long", "--log", log, *settings).returncode == 0

    def slope(*words):
        return json.loads(one(run, sweep, *words, *asked))["sensitivity_hz_per_m"]

    wanted = slope(*told, "--transformer", "1:1")
    for words in (("--kit", kit, "--measured-at", "feedpoint"), ("--log", log)):
        assert slope("--antenna", "long", *words) == wanted
    assert slope(*told) != wanted
    other = run("trim", sweep, *told, "--transformer", "1:49", *asked)
    assert other.returncode == 2
    assert "--transformer: '1:49' is not an impedance ratio" in other.stderr


def test_a_told_choke_and_height_of_radials_sharpen(run, samples):
    def width(sweep, *words):
        found = json.loads(one(run, samples / sweep, *words, "--by", "cut", "--json"))["sensitivity_hz_per_m"]
        return (found["high"] - found["low"]) / abs(found["value"])

    end_fed = ("crag_end_fed.s1p", "--kind", "end-fed", "--length", "20.3 m", "--target", "7.1 MHz")
    assert width(*end_fed, "--counterpoise", "1 m", "--choke-at", "0 m") < width(*end_fed)
    vertical = ("meadow_vertical_1.s1p", "--kind", "vertical", "--length", "5.62 m", "--radials", "3")
    vertical += ("--target", "14.15 MHz")
    assert width(*vertical, "--radial-height", "2 m") < width(*vertical)
    wrong = run("trim", samples / vertical[0], *vertical[1:], "--radial-height", "-1 m")
    assert wrong.returncode == 2
    assert "radial_height is '-1 m'; 0 to 10000 m was expected" in wrong.stderr


def test_an_antenna_of_the_logbook_is_known_too(run, samples, tmp_path):
    log = tmp_path / "mine.sqlite"
    sweep = samples / "meadow_vertical_1.s1p"
    facts = {"kind": "vertical", "length": "5.62 m", "radials": "3", "line": "RG-58 12 m"}
    settings = [word for name, value in facts.items() for word in ("--set", f"{name}={value}")]
    added = run("log", "add", sweep, "--site", "meadow", "--antenna", "mast", "--log", log, *settings)
    assert added.returncode == 0, added.stderr
    asked = ("--target", "14.15 MHz", "--json")
    from_log = one(run, sweep, "--antenna", "mast", "--log", log, *asked)
    told = one(
        run,
        sweep,
        *("--kind", "vertical", "--length", "5.62 m", "--radials", "3", "--line", "RG-58 12 m"),
        *asked,
    )
    assert from_log == told
    unknown = run("trim", sweep, "--antenna", "pole", "--log", log, *asked)
    assert unknown.returncode == 2
    assert "antenna 'pole' is not in the kit" in unknown.stderr


def test_earlier_sweeps_are_learned_from(run, samples):
    answer = json.loads(
        one(
            run,
            samples / "meadow_vertical_2.s1p",
            *("--kind", "vertical", "--length", "5.40 m", "--target", "14.15 MHz", "--by", "cut"),
            *("--earlier", f"+22 cm={samples / 'meadow_vertical_1.s1p'}", "--line", "RG-58 12 m", "--json"),
        )
    )
    assert answer["learned_from"] == 1
    assert answer["first_move"]["m"] == pytest.approx(0.9 * answer["change_m"]["value"], rel=1e-6)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--kind", "dipole", "--length", "10.58 m"), "with one of --target, --band and --segment"),
        (("--length", "10.58 m", "--target", "7.1 MHz"), "the kind of antenna is not told; add --kind"),
        (("--kind", "dipole", "--target", "7.1 MHz"), "the length is not told; add --length"),
        (("--kind", "dipole", "--length", "10.58", "--target", "7.1 MHz"), "'10.58' has no unit"),
        (
            ("--kind", "dipole", "--length", "21.16 m", "--target", "7.1 MHz"),
            "give one leg, --length 10.58 m",
        ),
        (("--kind", "dipole", "--length", "34.7 m", "--target", "7.1 MHz"), "write --length '34.7 ft'"),
        (("--kind", "dipole", "--length", "10.58 m", "--target", "14.1 MHz"), "a target within 30%"),
        (("--kind", "beam", "--length", "10.58 m", "--target", "7.1 MHz"), "kind 'beam' is not known"),
        (
            ("--kind", "dipole", "--length", "10.58 m", "--band", "40 m", "--band", "40m"),
            "40 m is named twice",
        ),
        ((*DIPOLE, "--by", "saw"), "--by is 'saw'; it is one of fold, cut, slide"),
        ((*DIPOLE, "--tail-lies", "loose"), "or say contact or taped"),
        ((*DIPOLE, "--units", "miles"), "--units is 'miles'; it is metric or imperial"),
        ((*DIPOLE, "--earlier", "10.8 m"), "write length then and file"),
        ((*DIPOLE, "--earlier", "10.8 m=none.s1p"), "none.s1p"),
    ],
)
def test_what_cannot_be_is_one_line_and_exit_2(run, samples, words, says):
    done = run("trim", samples / "ridge_dipole_40m_long.s1p", *words)
    assert done.returncode == 2
    assert done.stdout == ""
    assert says in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1
    assert done.stderr.startswith("sweepkit: ")


def test_a_margin_for_rain_is_folded_and_aims_higher(run, samples):
    asked = (samples / "ridge_dipole_40m_long.s1p", *DIPOLE, "--json")
    dry, wet = (json.loads(one(run, *asked, *more)) for more in ((), ("--must-work", "wet")))
    assert wet["target_hz"] == pytest.approx(1.0035 * dry["target_hz"])
    assert wet["change_m"]["value"] < dry["change_m"]["value"] < 0
    assert "wet-margin" in [finding["code"] for finding in wet["findings"]]
    cut = run("trim", *asked, "--must-work", "wet", "--by", "cut")
    assert cut.returncode == 2
    assert "is folded, not cut" in cut.stderr


def test_the_length_to_begin_with_needs_no_sweep(run, samples):
    done = run("trim", "--kind", "dipole", "--target", "7.1 MHz", "--start")
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("CUT each leg to 10.7")
    data = json.loads(run("trim", "--kind", "dipole", "--target", "7.1 MHz", "--start", "--json").stdout)
    assert data["schema"] == "sweepkit/trim-start/1"
    assert data["start_m"] >= data["length_m"]["high"]
    both = run("trim", samples / "ridge_dipole_40m_long.s1p", *DIPOLE, "--start")
    assert both.returncode == 2
    none = run("trim", *DIPOLE)
    assert none.returncode == 2
    assert "no sweep is named" in none.stderr


def test_a_random_wire_gets_an_honest_answer_without_a_length(run, samples):
    text = one(run, samples / "ridge_dipole_40m_long.s1p", "--kind", "random-wire", "--target", "7.1 MHz")
    assert text.splitlines()[0] == "LEAVE IT AS IT IS."


def test_help_and_the_whole_way_load_nothing_heavy(run, samples):
    import subprocess
    import sys

    code = """
import sys
from sweepkit.cli.main import app
try:
    app(["trim", sys.argv[1], "--kind", "dipole", "--length", "10.58 m", "--target", "7.1 MHz", "--json"])
except SystemExit as done:
    assert done.code in (0, None), done.code
heavy = {"skrf", "pandas", "matplotlib", "scipy"} & set(sys.modules)
assert not heavy, heavy
"""
    command = [sys.executable, "-c", code, str(samples / "ridge_dipole_40m_long.s1p")]
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=60)
    assert done.returncode == 0, done.stderr
