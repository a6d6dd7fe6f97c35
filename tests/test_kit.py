"""kit.toml: what it gives, what stands in for what is left out, and what it refuses in which words."""

from __future__ import annotations

import re
from dataclasses import fields
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sweepkit.errors import BadInput
from sweepkit.facts import IN_KIT, KINDS
from sweepkit.kit import (
    Analyzer,
    AntennaNote,
    Box,
    Kit,
    Radio,
    Tuner,
    describe_fold_back,
    describe_tuner,
    list_assumptions,
    read_kit,
    resolve_antenna,
)
from sweepkit.kit.choosing import resolve_pieces
from sweepkit.kit.reading import KEYS
from sweepkit.kit.table import find_key_lines
from sweepkit.limits import LIMITS
from sweepkit.lines import catalogued_piece

FULL = """\
region = 2

[lines.spool]            # a catalogued type
type = "rg58"
length = "49 ft 2.5 in"
velocity_factor = 0.68
velocity_factor_at = "7 MHz"
loss_tolerance = 0.3
z0_tolerance = 0.02
scale_tolerance = 0.03

[lines."own line"]
z0_ohm = 75
z0_at = "10 MHz"
velocity_factor = 0.82
k1 = 1.04
k2 = 0.0146
length = "7.5 m"
length_tolerance = "5 cm"
velocity_factor_tolerance = 0.02

[analyzer]
directivity_db = 35
noise = 0.002
points = [201, 101]
spans = ["1 MHz", "200 kHz"]
tracking = 0.01
source_match_db = 30
columns = "f,r,x"
unit = "MHz"
decimal = "comma"
reference_ohm = 50

[radio]
power_w = 50
z0_ohm = 50
power_at_swr = [
    [1.5, 1.0],          # SWR, share
    [2.0, 0.75],
    [3.0, 0.4],
]
direct_swr = 1.8
power_at_volts = [[11.5, 0.8], [13.8, 1.0]]

[tuner]
r_ohm = [16, 150]
x_ohm = [-100, 100]
loss_db = 0.5
coil_q = 80

[antennas.ridge-dipole]
kind = "dipole"
length = "10.2 m"
line = ["spool", "RG-213 3 m"]

[antennas.whip]
kind = "loaded-whip"
length = "2.5 m"
line = "none"
radials = 4
radial_length = "5 m"
radial_height = "0 m"
counterpoise = "1.5 m"
coil = "11.3 uH"
transformer = "4:1"
lengths = {"40 m" = "10.61 m", "20 m" = "5.36 m"}
tap = 24
turns = 40
tap_step = 0.5
coil_diameter = "5 cm"
coil_pitch = "2.4 mm"
whip_range = ["1.8 m", "4.0 m"]
choke_at = "0 m"
choke = "bead"
wire = "1 mm in 2.2 mm"
places = ["40 m", "20 m"]
weights = {"40 m" = 3}

[antennas.sloper]
kind = "end-fed"
transformer = "mine"

[boxes.mine]
ratio = "49:1"
loss_db = [[3.6, 0.9], [7.1, 0.7]]
loss_tolerance_db = 0.2
[boxes.bead]
choke_ohm = [[3.6, 900, 1200], [7.1, 2100, -800]]
"""


@pytest.fixture
def write(tmp_path, monkeypatch):
    """Write a kit beside us and read it under its short name, as the operator does."""
    monkeypatch.chdir(tmp_path)

    def read(text: str) -> Kit:
        Path("kit.toml").write_text(text, encoding="utf-8")
        return read_kit("kit.toml")

    return read


def test_every_key_arrives_in_its_place(write):
    kit = write(FULL)
    assert kit.region == 2
    assert kit.path == "kit.toml"
    spool, own = kit.lines["spool"], kit.lines["own line"]
    assert (spool.name, spool.type, spool.velocity_factor, spool.loss_sigma) == ("spool", "RG-58", 0.68, 0.3)
    assert (spool.z0_sigma, spool.z0_at_hz, spool.scale_sigma) == (0.02, 200e6, 0.03)
    assert spool.length_m == pytest.approx(49 * 0.3048 + 2.5 * 0.0254)
    assert spool.velocity_factor_at_hz == 7e6
    assert (own.z0_ohm, own.k1_db_per_100m, own.k2_db_per_100m) == (75, 1.04, 0.0146)
    assert (own.length_m, own.length_sigma_m, own.velocity_factor_sigma) == (7.5, 0.05, 0.02)
    hints = ("f,r,x", "MHz", "comma", 50)
    assert kit.analyzer == Analyzer(35, 0.002, (101, 201), 0.01, 30, (200e3, 1e6), *hints)
    assert kit.radio == Radio(50, 50, ((1.5, 1.0), (2.0, 0.75), (3.0, 0.4)), 1.8, ((13.8, 1.0), (11.5, 0.8)))
    assert kit.tuner == Tuner(None, (16, 150), (-100, 100), 0.5, 80)
    assert kit.antennas["ridge-dipole"] == AntennaNote("dipole", 10.2, ("spool", "RG-213 3 m"))
    assert kit.antennas["whip"] == AntennaNote(
        "loaded-whip",
        2.5,
        ("none",),
        4,
        5.0,
        0.0,
        1.5,
        11.3e-6,
        4.0,
        lengths_m={"40 m": 10.61, "20 m": 5.36},
        tap=24.0,
        turns=40.0,
        tap_step=0.5,
        coil_diameter_m=0.05,
        coil_pitch_m=0.0024,
        whip_range_m=(1.8, 4.0),
        choke_at="0 m",
        choke="bead",
        wire="1 mm in 2.2 mm",
        places=("40 m", "20 m"),
        weights={"40 m": 3.0},
    )
    assert kit.antennas["sloper"] == AntennaNote("end-fed", transformer=49.0, box="mine")
    assert kit.boxes["mine"] == Box(49.0, ((3.6, 0.9), (7.1, 0.7)), 0.2)
    assert kit.boxes["bead"] == Box(1.0, (), choke_ohm=((3.6, 900.0, 1200.0), (7.1, 2100.0, -800.0)))
    assert kit.boxes["bead"].choke_at_ohm(5.35e6) == pytest.approx(1500 + 200j)  # half way
    assert kit.boxes["bead"].choke_at_ohm(1.8e6) == 900 + 1200j


def test_an_empty_file_is_the_defaults(write):
    kit = write("")
    assert (kit.region, dict(kit.lines), dict(kit.antennas)) == (None, {}, {})
    assert (kit.analyzer, kit.radio, kit.tuner) == (Analyzer(), Radio(), Tuner())


def test_a_catalogued_line_keeps_what_the_catalogue_knows_better(write):
    spool = write('[lines.spool]\ntype = "RG-58"\nlength = "15 m"').lines["spool"]
    known = catalogued_piece("RG-58", 15.0, name="spool")
    assert spool == known


def test_own_loss_of_a_catalogued_type_has_no_range_of_a_fit(write):
    spool = write('[lines.spool]\ntype = "RG-58"\nlength = "15 m"\nk1 = 1.5\nk2 = 0').lines["spool"]
    assert (spool.k1_db_per_100m, spool.fit_low_hz, spool.source) == (
        1.5,
        None,
        "the operator's own constants",
    )


def test_mark_of_byte_order_and_line_ends_of_another_system_are_read(tmp_path):
    path = tmp_path / "kit.toml"
    path.write_bytes(b"\xef\xbb\xbfregion = 1\r\n[radio]\r\npower_w = 10\r\n")
    assert read_kit(path).radio.power_w == 10
    path.write_bytes(b"region = 1\r\n[radio]\r\npower_w = -10\r\n")
    with pytest.raises(BadInput, match=r"kit.toml:3: radio.power_w is -10; it must be 0.001 to 100000 W"):
        read_kit(path)


def test_a_kit_cannot_be_changed(write):
    kit = write(FULL)
    with pytest.raises(TypeError):
        kit.lines["new"] = kit.lines["spool"]
    with pytest.raises(AttributeError):
        kit.radio.power_w = 1.0


def test_no_tuner_is_told_with_a_word(write):
    assert write('tuner = "none"').tuner is None


# Each row: what is in the file, the line that is wrong, and the words.
REFUSED = [
    (
        "regoin = 2",
        1,
        "'regoin' is no key at the top of the file; known are region, lines, analyzer, radio, "
        "tuner, antennas, boxes; did you mean region?",
    ),
    ("region = 4", 1, "region is 4; an ITU region is 1, 2 or 3; write region = 2"),
    ('region = "2"', 1, "region is '2'; a whole number was expected; write region = 2"),
    ("region = true", 1, "region is True; a whole number was expected; write region = 2"),
    (
        "[radio]\npower = 50",
        2,
        "'power' is no key in [radio]; known are power_w, z0_ohm, power_at_swr, direct_swr, power_at_volts; did "
        "you mean power_w?",
    ),
    (
        '[radio]\npower_w = "50 W"',
        2,
        "radio.power_w is '50 W'; a number without quotes or unit was expected; write power_w = 50",
    ),
    ("[radio]\n\npower_w = 0", 3, "radio.power_w is 0; it must be 0.001 to 100000 W; write power_w = 50"),
    ("[radio]\npower_w = nan", 2, "radio.power_w is nan; a number without quotes or unit was expected"),
    (
        "[radio]\ndirect_swr = 0.5",
        2,
        "radio.direct_swr is 0.5; it must be 1 to 1000; write direct_swr = 2.0",
    ),
    (
        "[radio]\npower_at_swr = [[1.5, 0.4], [2.0, 0.75]]",
        2,
        "radio.power_at_swr rises from 0.4 at SWR 1.5 to 0.75 at SWR 2; a radio gives less there"
        ", never more; write shares that fall",
    ),
    (
        "[radio]\npower_w = 5\npower_at_swr = [\n  [2.0, 0.7],\n  [1.5, 0.7],\n]",
        3,
        "radio.power_at_swr goes from SWR 2 to 1.5; its rows must be in rising SWR; sort them",
    ),
    (
        "[radio]\npower_at_swr = [[1.5, 100], [2.0, 75]]",
        2,
        "radio.power_at_swr has the share 100 at SWR 1.5; a share lies between 0 and 1; write 0.75 for 75 %",
    ),
    (
        "[radio]\npower_at_swr = [[0.75, 2.0]]",
        2,
        "radio.power_at_swr has SWR 0.75; it must be 1 to 1000; write that first, then the share",
    ),
    ("[radio]\npower_at_swr = []", 2, "radio.power_at_swr is empty; rows of SWR and share were expected"),
    (
        '[antennas.a]\nkind = "end-fed"\ntransformer = "its"',
        3,
        "antennas.a.transformer: 'its' is not an impedance ratio; write it like 49:1, or the name of a box",
    ),
    ('[boxes.b]\nratio = "49:1"', 1, "[boxes.b] has no loss_db; rows of MHz and dB were expected"),
    (
        '[boxes.b]\nratio = "big"\nloss_db = [[7, 1]]',
        2,
        "boxes.b.ratio: 'big' is not an impedance ratio; write it like 49:1",
    ),
    (
        "[boxes.b]\nloss_db = [[7, 1], [3, 1]]",
        2,
        "boxes.b.loss_db goes from 7 to 3 MHz; its rows must be in rising",
    ),
    (
        "[boxes.b]\nchoke_ohm = [[7, 1]]",
        2,
        "boxes.b.choke_ohm is [[7, 1]]; a list of triples of numbers was expected",
    ),
    (
        "[boxes.b]\nchoke_ohm = [[7, -5, 1]]",
        2,
        "boxes.b.choke_ohm is -5; it must be a resistance of 0 or more",
    ),
    (
        "[boxes.b]\nchoke_ohm = [[7, 5, 1], [7, 5, 1]]",
        2,
        "boxes.b.choke_ohm goes from 7 to 7 MHz; its rows must be in",
    ),
    (
        '[boxes.b]\nloss_db = [[7, 1]]\n[antennas.a]\nkind = "end-fed"\nchoke = "b"',
        5,
        "antennas.a.choke is 'b'; a box with choke_ohm was expected; no [boxes.NAME] has choke_ohm",
    ),
    (
        '[boxes.b]\nchoke_ohm = [[7, 5, 1]]\n[antennas.a]\nkind = "end-fed"\ntransformer = "b"',
        5,
        "antennas.a.transformer is 'b', which is a choke; write choke = \"b\"",
    ),
    ("[boxes.b]\nloss_db = [[7, -1]]", 2, "boxes.b.loss_db is -1; it must be 0 to 20 dB"),
    (
        "[radio]\npower_at_volts = [[13.8, 0.8], [11.5, 1.0]]",
        2,
        "radio.power_at_volts rises from 0.8 at 13.8 V to 1 at 11.5 V; a radio gives less there, never more",
    ),
    (
        "[radio]\npower_at_volts = [[0.8, 11.5]]",
        2,
        "radio.power_at_volts has the share 11.5 at 0.8 V; a share lies between 0 and 1; write 0.75 for 75 %",
    ),
    (
        "[radio]\npower_at_volts = [[12, 1.0], [12, 0.9]]",
        2,
        "radio.power_at_volts has 12 V twice; one share for each was expected; take one out",
    ),
    (
        "[radio]\npower_at_swr = [1.5, 1.0]",
        2,
        "radio.power_at_swr is [1.5, 1.0]; a list of pairs of numbers was expected; write "
        "power_at_swr = [[1.5, 1.0], [2.0, 0.75], [3.0, 0.4]]",
    ),
    ("radio = 50", 1, "radio is 50; a table of its own was expected; write [radio] on a line above its keys"),
    (
        "[tuner]\nr_ohm = [150, 16]\nx_ohm = [-100, 100]",
        2,
        "tuner.r_ohm = [150, 16] has its ends swapped; the lower end comes first; write r_ohm = [16, 150]",
    ),
    (
        "[tuner]\nr_ohm = [16, 150]\nx_ohm = [100, -100]",
        3,
        "tuner.x_ohm = [100, -100] has its ends swapped; the lower end comes first; write x_ohm "
        "= [-100, 100]",
    ),
    (
        "[tuner]\nr_ohm = [16, 150]",
        2,
        "tuner.r_ohm is given without x_ohm; a region needs both; add x_ohm = [-100, 100]",
    ),
    (
        "[tuner]\nr_ohm = [-16, 150]\nx_ohm = [-100, 100]",
        2,
        "tuner.r_ohm is [-16.0, 150.0]; it must be resistances of 0 ohm or more",
    ),
    (
        "[tuner]\nr_ohm = [16, 16]\nx_ohm = [-100, 100]",
        2,
        "tuner.r_ohm is [16.0, 16.0]; it must be two different ends, the lower one first",
    ),
    (
        "[tuner]\nr_ohm = [16]\nx_ohm = [-100, 100]",
        2,
        "tuner.r_ohm is [16]; a low and a high end were expected",
    ),
    (
        "[tuner]\nmax_swr = 3\nr_ohm = [16, 150]\nx_ohm = [-100, 100]",
        2,
        "tuner.max_swr and a region are both given; one of them was expected; take one out",
    ),
    (
        "[tuner]\nloss_db = -0.3",
        2,
        "tuner.loss_db is -0.3; it must be 0 to 20 dB (a loss is positive); write loss_db = 0.3",
    ),
    ("[tuner]\nmax_swr = 0.3", 2, "tuner.max_swr is 0.3; it must be 1 to 1000; write max_swr = 3.0"),
    (
        'tuner = "no"',
        1,
        "tuner is 'no'; a table of its own was expected; write [tuner] on a line above its keys",
    ),
    ('[line.spool]\ntype = "RG-58"', 1, "'line' is no key at the top of the file; known are region, lines"),
    (
        '[lines]\ntype = "RG-58"',
        2,
        "lines.type is 'RG-58'; a table of its own was expected; write [lines.NAME] on a line above its keys",
    ),
    (
        '[lines.spool]\ntype = "RG-58"\nlength = 15',
        3,
        'lines.spool.length is 15; a number with its unit, in quotes, was expected; write length = "15 m"',
    ),
    (
        '[lines.spool]\ntype = "RG-58"\nlength = "15"',
        3,
        "lines.spool.length: '15' has no unit; write it like 10.2 m",
    ),
    (
        '[lines.spool]\ntype = "RG-58"\nlength = "15 MHz"',
        3,
        "lines.spool.length: '15 MHz' has the unit 'MHz', which is not one of mm, cm, m",
    ),
    (
        '[lines.spool]\ntype = "RG-58"\nlength = "-15 m"',
        3,
        '[lines.spool] has a length of -15 m; one above 0 was expected; write length = "15 m"',
    ),
    (
        'region = 1\n[lines.spool]\ntype = "RG-58"',
        2,
        '[lines.spool] has no length; one above 0 was expected; write length = "15 m"',
    ),
    (
        '[lines.spool]\ntype = "RG-85"\nlength = "15 m"',
        2,
        "line type 'RG-85' is not in the catalogue; near it are RG-8X",
    ),
    (
        '[lines.spool]\ntype = "RG-58"\nlength = "15 m"\nvelocity_factor = 66',
        4,
        "lines.spool.velocity_factor is 66; it must be 0.01 to 1 (a share of the "
        "speed of light); write velocity_factor = 0.66",
    ),
    (
        '[lines.spool]\ntype = "RG-58"\nlength = "15 m"\nz0_ohm = -50',
        4,
        "lines.spool.z0_ohm is -50; it must be 1 to 2000 ohm; write z0_ohm = 50",
    ),
    (
        '[lines.spool]\ntype = "RG-58"\nlength = "15 m"\nk1 = -1\nk2 = 0',
        4,
        "lines.spool.k1 is -1; it must be 0 to 1000 dB/100 m (a loss is positive); write k1 = 1.38",
    ),
    (
        '[lines.spool]\ntype = "RG-58"\nlength = "15 m"\nk1 = 1',
        4,
        "[lines.spool] has k1 without k2; the loss needs both, k1*sqrt(f_MHz) + k2*f_MHz; add k2 "
        "(0 if there is none)",
    ),
    (
        '[lines.spool]\ntype = "RG-58"\nlength = "15 m"\nloss_tolerance = 20',
        4,
        "lines.spool.loss_tolerance is 20; it must be 0 to 1 (0.05 is 5 %); write loss_tolerance = 0.05",
    ),
    (
        '[lines.spool]\ntype = "RG-58"\nlength = "15 m"\nlength_tolerance = "-5 cm"',
        4,
        'lines.spool.length_tolerance is -0.05 m; it must be 0 or more; write length_tolerance = "5 cm"',
    ),
    (
        '[lines.spool]\ntype = "RG-58"\nlength = "15 m"\nvelocity_factor_at = "7 m"',
        4,
        "lines.spool.velocity_factor_at: '7 m' has the unit 'm', which is not one of hz, khz, mhz, ghz",
    ),
    (
        '[lines.own]\nz0_ohm = 50\nlength = "1 m"',
        1,
        "[lines.own] has no type and lacks velocity_factor, k1, k2; a catalogued type, or z0_ohm,"
        " velocity_factor, k1, k2, were expected",
    ),
    (
        '[lines.none]\ntype = "RG-58"\nlength = "1 m"',
        1,
        "a line is called 'none', which says that there is no line; rename it",
    ),
    (
        "[analyzer]\ndirectivity_db = -40",
        2,
        "analyzer.directivity_db is -40; it must be above 0 and at most 100 dB",
    ),
    (
        '[analyzer]\ndirectivity_db = "40 dB"',
        2,
        "analyzer.directivity_db is '40 dB'; a number without quotes or unit was expected; write "
        "directivity_db = 40",
    ),
    ("[analyzer]\nnoise = -0.1", 2, "analyzer.noise is -0.1; it must be 0 to 0.5"),
    (
        "[analyzer]\ntracking = 1",
        2,
        "analyzer.tracking is 1; it must be 0 to 0.5 (as a share of full reflection)",
    ),
    (
        "[analyzer]\npoints = [101, 1]",
        2,
        "analyzer.points is [101.0, 1.0]; it must be a list, each of them a whole number from 2 to "
        "1000000; write points = [101, 201]",
    ),
    (
        "[analyzer]\npoints = 101",
        2,
        "analyzer.points is 101; a list of numbers was expected; write points = [101, 201]",
    ),
    (
        '[antennas.a]\nlength = "3 m"',
        1,
        "[antennas.a] has no kind; one of dipole, inverted-vee, vertical, loaded-whip, end-fed, "
        'loop, random-wire, fan, linked, trap was expected; write kind = "dipole"',
    ),
    ('[antennas.a]\nkind = "dipol"', 2, "antennas.a.kind is 'dipol'; one of dipole, inverted-vee"),
    (
        '[antennas.a]\nkind = "dipole"\nlength = "0 m"',
        3,
        "antennas.a.length is 0; it must be above 0 and at most 1",
    ),
    (
        '[antennas.a]\nkind = "dipole"\nline = "spol"\n[lines.spool]\ntype = "RG-58"\nlength = "5 m"',
        3,
        "antennas.a.line: line 'spol' is not in the kit (it has spool)",
    ),
    (
        '[antennas.a]\nkind = "dipole"\nline = 15',
        3,
        'antennas.a.line is 15; a text in quotes, or a list of them, was expected; write line = "spool"',
    ),
    (
        '[antennas.a]\nkind = "dipole"\nradials = 2.5',
        3,
        "antennas.a.radials is 2.5; a whole number was expected; write radials = 4",
    ),
    (
        '[antennas.a]\nkind = "dipole"\nradials_on_ground = "yes"',
        3,
        "antennas.a.radials_on_ground is 'yes'; true or false was expected; write radials_on_ground = true",
    ),
    (
        '[antennas.a]\nkind = "dipole"\nradials_on_ground = true\nradial_height = "0 m"',
        3,
        "antennas.a has radials_on_ground and radial_height; one of them was expected; keep radial_height",
    ),
    (
        '[antennas.a]\nkind = "loaded-whip"\ncoil = "11.3"',
        3,
        "antennas.a.coil: '11.3' has no unit; write it like 11.3 uH",
    ),
    (
        "[radio]\npower_w = 50 W",
        2,
        "'power_w = 50 W' does not fit here; [table] or key = value was expected; close brackets "
        'and write text in quotes, as in length = "15 m"',
    ),
    (
        "region = 1\n[radio\npower_w = 50",
        2,
        "'[radio' does not fit here; [table] or key = value was expected",
    ),
    (
        "[radio]\npower_w = 5\n[radio]\npower_w = 6",
        3,
        "'[radio]' stands here for the second time; each table and key stands once; remove one",
    ),
    (
        "[radio]\npower_w = 5\npower_w = 6",
        3,
        "'power_w = 6' stands here for the second time; each table and key stands once",
    ),
    ("[radio]\npower_at_swr = [[1.5, 1.0],", 2, "the file up to its end does not fit here"),
    (
        "[radio]\npower_w = 999999999999999999999999999999",
        2,
        "radio.power_w is 999999999999999999999999999999; a number without",
    ),
]


@pytest.mark.parametrize(("text", "line", "words"), REFUSED, ids=[words[:50] for _, _, words in REFUSED])
def test_what_is_wrong_is_refused_with_file_line_and_what_to_write(write, text, line, words):
    with pytest.raises(BadInput, match=re.escape(f"kit.toml:{line}: {words}")) as caught:
        write(text)
    assert (caught.value.path, caught.value.line) == ("kit.toml", line)
    assert "\n" not in str(caught.value)


def test_a_file_that_is_not_there_or_no_text_is_refused(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(
        BadInput, match=r"kit.toml: cannot open the kit: No such file or directory; .*check the path"
    ):
        read_kit("kit.toml")
    Path("kit.toml").write_bytes(b"region = 1\n# \xff\xfe\n")
    with pytest.raises(
        BadInput, match=r"kit.toml:2: this is not UTF-8 text; a kit.toml was expected; save it as"
    ):
        read_kit("kit.toml")


@given(
    st.lists(st.tuples(st.integers(0, len(FULL) - 1), st.characters(codec="utf-8")), max_size=3),
    st.integers(0, len(FULL)),
)
@settings(max_examples=150, deadline=None)
def test_a_spoilt_kit_is_read_or_refused_with_its_line_and_never_crashes(tmp_path_factory, changes, end):
    text = list(FULL)
    for place, character in changes:
        text[place] = character
    path = tmp_path_factory.getbasetemp() / "spoilt.toml"
    path.write_text("".join(text)[:end], encoding="utf-8")
    refused = None
    try:
        read_kit(path)
    except BadInput as error:
        refused = error
    assert refused is None or refused.line is not None


@pytest.mark.parametrize(
    ("spec", "expected"),
    [("spool", ["spool"]), (" spool ", ["spool"]), ("RG-58 15 m", ["RG-58 15 m"]), ("none", [])],
)
def test_a_line_is_found_by_name_or_by_type_and_length(write, spec, expected):
    assert [piece.name for piece in resolve_pieces([spec], write(FULL).lines)] == expected


@pytest.mark.parametrize(
    ("spec", "words"),
    [
        (
            "spol",
            "line 'spol' is not in the kit (it has spool, own line); a name from the kit",
        ),
        ("", "line '' is not in the kit"),
        (
            "spool 10 m",
            "line 'spool 10 m' gives 'spool' of the kit another length; it has its own, 14.9987 m",
        ),
        ("RG-58 15", "'15' has no unit"),
        ("RG-85 15 m", "line type 'RG-85' is not in the catalogue; near it are RG-8X"),
    ],
)
def test_a_line_that_is_not_there_is_refused_with_what_is(write, spec, words):
    with pytest.raises(BadInput, match=re.escape(words)):
        resolve_pieces([spec], write(FULL).lines)


def test_without_a_kit_the_message_says_that_it_has_no_lines():
    with pytest.raises(BadInput, match=re.escape("line 'spool' is not in the kit (it has none)")):
        resolve_pieces(["spool"], {})


def test_an_antenna_is_found_by_name_or_refused_with_those_that_are_there(write):
    kit = write(FULL)
    assert resolve_antenna("whip", kit).kind == "loaded-whip"
    with pytest.raises(
        BadInput, match=re.escape("antenna 'wip' is not in the kit (it has whip, ridge-dipole, sloper)")
    ):
        resolve_antenna("wip", kit)


def test_without_a_kit_every_default_is_said_in_words():
    assert list_assumptions(Kit()) == (
        "band edges that hold in every region",
        "a radio of 100 W (read the watts as per cent of your own)",
        "a radio for 50 ohm",
        "full power up to SWR 1.5, 75 % at 2, 40 % at 3",
        "direct up to SWR 2",
        "a tuner that matches up to SWR 3",
        "0.3 dB lost in the tuner",
        "an analyzer with 35 to 46 dB directivity",
    )


def test_what_was_told_is_not_called_an_assumption(write):
    assert list_assumptions(write(FULL)) == ()
    told = list_assumptions(Kit(), told={"region", "radio.direct_swr"})
    assert not [phrase for phrase in told if "direct up to" in phrase or "region" in phrase]
    assert "a tuner that matches up to SWR 3" not in list_assumptions(write("[tuner]\nmax_swr = 3.0"))
    assert "0.3 dB lost in the tuner" in list_assumptions(write("[tuner]\nmax_swr = 3.0"))
    assert "a tuner that matches up to SWR 3" in list_assumptions(write("[tuner]\nloss_db = 1"))
    assert not [phrase for phrase in list_assumptions(write('tuner = "none"')) if "tuner" in phrase]
    assert not [phrase for phrase in list_assumptions(Kit(radio=Radio(power_w=5))) if "of 5 W" in phrase]


def test_gear_is_described_in_words():
    assert describe_fold_back(Radio(power_at_swr=((2.0, 0.5),))) == "50 % at SWR 2"
    assert describe_tuner(None) == "no tuner"
    region = Tuner(r_ohm=(16, 150), x_ohm=(-100, 100))
    assert describe_tuner(region) == "a tuner that matches R 16 to 150 and X -100 to 100 ohm"


def test_lines_of_keys_are_found_in_every_way_toml_writes_them():
    text = """\
# [not.a.table]
a = 1
"quoted key" = 2
b.c = 3
inline = { d = 4 }
many = [
  [1, 2],   # ] not the end
  "[no.table]",
]
words = \"\"\"
x = "not a key"
[neither]
\"\"\"
[t.'u v'.w]
e = "a # b [ "
f = 5
[[rows]]
"""
    lines = find_key_lines(text)
    expected = {
        ("a",): 2,
        ("quoted key",): 3,
        ("b", "c"): 4,
        ("inline", "d"): 5,
        ("many",): 6,
        ("words",): 10,
    }
    expected |= {("t", "u v", "w"): 14, ("t", "u v", "w", "e"): 15, ("t", "u v", "w", "f"): 16, ("rows",): 17}
    assert {key: lines.line_of(*key) for key in expected} == expected
    assert lines.line_of("x") is None
    assert lines.line_of("neither") is None


@pytest.mark.parametrize(("told", "height_m"), [("true", 0.0), ("false", None)])
def test_the_older_word_for_radials_on_the_ground_is_still_read(write, told, height_m):
    (note,) = write(f'[antennas.a]\nkind = "vertical"\nradials_on_ground = {told}').antennas.values()
    assert note.radial_height_m == height_m


@pytest.mark.parametrize("table", [Analyzer, Radio, Tuner, AntennaNote])
def test_every_field_of_gear_is_a_fact(table):
    name = {AntennaNote: "antenna"}.get(table, table.__name__.lower())
    beside = {"volts", "box"}  # told at the command line; follows from the transformer
    told = {fact.name for fact in IN_KIT[name]} - {"lengths"} | (
        {"lengths_m"} if name == "antenna" else set()
    )
    assert {field.name for field in fields(table)} - beside == told
    assert all(fact.kit_limit in {"", *LIMITS} for fact in IN_KIT[name])


def test_every_key_of_the_reader_is_used_by_the_full_example():
    used = set(re.findall(r"^(\w+) =", FULL, re.MULTILINE)) | {"lines", "type", "max_swr"}
    used |= {"analyzer", "radio", "tuner", "antennas", "boxes"}
    assert {key for keys in KEYS.values() for key in keys} == used
    assert set(KINDS) > {note.kind for note in (AntennaNote("dipole"), AntennaNote("loaded-whip"))}
