"""The first words: verdict, share of the band, cause and sweep quality against first line, card and page."""

from __future__ import annotations

import html
import re
from dataclasses import replace

import numpy as np
import pytest

from sweepkit.conversions import gamma_from_z
from sweepkit.figures import Figure
from sweepkit.findings import Finding
from sweepkit.lines import parse_piece
from sweepkit.report.card import render_card
from sweepkit.report.headline import ForTrim, bare_end_text, trim_command
from sweepkit.report.page_html import page_html
from sweepkit.report.page_markdown import page_markdown
from sweepkit.report.page_text import page_text
from sweepkit.report.review_page import review_page
from sweepkit.reviews import review
from sweepkit.reviews.next_sweep import NextSweep
from sweepkit.station.segments import Segment
from sweepkit.sweep import Sweep
from tests.feedline.modelled import swept_line
from tests.report.pages import sample

LOW_HZ, HIGH_HZ = 7.0e6, 7.2e6
AGAIN = NextSweep(6.5e6, 7.7e6, 201)


def with_band(dipole, verdict, share, *, covered=1.0, adequate=True, findings=()):
    """A review whose only band has this verdict; a share of what was swept of it is within the limit."""
    top_hz = LOW_HZ + covered * (HIGH_HZ - LOW_HZ)
    edge_hz = LOW_HZ + share * (top_hz - LOW_HZ)
    segments = [Segment(verdict, LOW_HZ, edge_hz if verdict == "direct" else top_hz)]
    if verdict == "direct" and edge_hz < top_hz:
        segments.append(Segment("tuner", edge_hz, top_hz))
    (band,) = dipole.bands
    band = replace(
        band,
        verdict=verdict,
        covered=covered,
        share_within_limit=Figure(share),
        segments=tuple(segments),
        why="why",
    )
    wanted = () if adequate else (AGAIN,)
    return replace(dipole, bands=(band,), adequate=adequate, next_sweeps=wanted, findings=tuple(findings))


@pytest.fixture(scope="module")
def reviewed():
    return review(sample("ridge_dipole_40m.s1p"), measured_at="feedpoint", draws=20)


def ends(code, level):
    return Finding(code, level, "it ends bare", "look there", Figure(12.83, 12.6, 13.0))


OPEN, SHORTED = ends("open-line", "warning"), ends("shorted-line", "warning")
SURELY_OPEN = ends("open-line", "stop")
STOP = Finding("jagged", "stop", "the curve is torn", "sweep again")
TORN = Finding("jagged", "warning", "the curve is torn", "sweep again")

# verdict, share, covered, adequate, findings; first line of the text, first line of the card without its figures
TABLE = [
    ("direct", 1.0, 1.0, True, (), "40 m DIRECT", "+ 40m  DIRECT 7000-7200"),
    ("direct", 0.95, 1.0, True, (), "40 m DIRECT", "+ 40m  DIRECT 7000-7190"),
    ("direct", 0.94, 1.0, True, (), "40 m PARTLY DIRECT 7.000 to 7.188", "+ 40m  PARTLY DIRECT 7000-7188"),
    ("direct", 0.5, 1.0, True, (), "40 m PARTLY DIRECT 7.000 to 7.100", "+ 40m  PARTLY DIRECT 7000-7100"),
    ("direct", 0.003, 1.0, True, (), "40 m PARTLY DIRECT 7.000 to 7.001", "+ 40m  PARTLY DIRECT at 7000"),
    ("direct", 1.0, 0.3, True, (), "40 m PARTLY DIRECT 7.000 to 7.060", "+ 40m  PARTLY DIRECT 7000-7060"),
    ("direct", 1.0, 0.96, True, (), "40 m DIRECT", "+ 40m  DIRECT 7000-7192"),
    ("tuner", 0.0, 1.0, True, (), "40 m TUNER", "~ 40m  TUNER  7000-7200"),
    ("tuner", 0.0, 0.3, True, (), "40 m TUNER", "~ 40m  TUNER  7000-7060"),
    ("no", 0.0, 1.0, True, (), "40 m NO", "x 40m  NO     best 7094"),
    ("unknown", 0.0, 1.0, True, (), "40 m CANNOT SAY", "? 40m  ?      best 7094"),
    # a line that ends bare is the answer where no band can be used, or where it is certain
    ("no", 0.0, 1.0, True, (OPEN,), "NO: the line is open 12.8 m away", "NO: the line is open 12.8 m away"),
    ("no", 0.0, 1.0, True, (SHORTED,), "NO: the line is shorted 12.8 m away", "NO: the line is shorted 12.8 m away"),
    ("unknown", 0.0, 1.0, True, (OPEN,), "NO: the line is open 12.8 m away", "NO: the line is open 12.8 m away"),
    ("direct", 1.0, 1.0, True, (OPEN,), "40 m DIRECT", "+ 40m  DIRECT 7000-7200"),
    ("tuner", 0.0, 1.0, True, (OPEN,), "40 m TUNER", "~ 40m  TUNER  7000-7200"),
    ("direct", 1.0, 1.0, True, (SURELY_OPEN,), "NO: the line is open 12.8 m away", "NO: the line is open 12.8 m away"),
    # another finding is no answer, but what forbids to act comes first on the page
    ("no", 0.0, 1.0, True, (TORN,), "40 m NO", "x 40m  NO     best 7094"),
    ("direct", 1.0, 1.0, True, (STOP,), "STOP", "STOP: jagged"),
    # a poor sweep comes first only where it leaves no answer
    ("unknown", 0.0, 1.0, False, (), "SWEEP AGAIN", "SWEEP AGAIN 6500-7700kHz 201pts"),
    ("direct", 1.0, 1.0, False, (), "40 m DIRECT", "+ 40m  DIRECT 7000-7200"),
    ("direct", 0.5, 1.0, False, (), "40 m PARTLY DIRECT 7.000 to 7.100", "+ 40m  PARTLY DIRECT 7000-7100"),
    ("tuner", 0.0, 1.0, False, (), "40 m TUNER", "~ 40m  TUNER  7000-7200"),
    ("no", 0.0, 1.0, False, (), "40 m NO", "x 40m  NO     best 7094"),
    ("no", 0.0, 1.0, False, (OPEN,), "NO: the line is open 12.8 m away", "NO: the line is open 12.8 m away"),
]  # fmt: skip


@pytest.mark.parametrize(("verdict", "share", "covered", "adequate", "findings", "first", "card"), TABLE)
def test_the_first_words(reviewed, verdict, share, covered, adequate, findings, first, card):
    answer = with_band(reviewed, verdict, share, covered=covered, adequate=adequate, findings=findings)
    page = review_page(answer, pictures=False)
    assert f"{page.verdicts[0].name} {page.verdicts[0].word}".strip() == first
    text = page_text(page)
    assert text.splitlines()[0] == first
    on_card = render_card(answer)
    assert on_card.splitlines()[0].startswith(card)
    assert "GOOD ENOUGH" not in text
    for shown in (text, on_card):
        assert ("SWEEP AGAIN" in shown) == (not adequate)
        assert ("PARTLY" in shown) == ("PARTLY" in first)


@pytest.mark.parametrize("end", [1, -1], ids=["open", "shorted"])
@pytest.mark.parametrize(
    "piece",
    [
        parse_piece("RG-174 20 m"),
        parse_piece("RG-59 25 m"),
        parse_piece("RG-59 40 m"),
        parse_piece("RG-58 30 m"),
        replace(parse_piece("RG-58 25 m"), z0_ohm=46.5),
    ],
    ids=lambda piece: f"{piece.name} {piece.length_m:g} m",
)
def test_a_bare_line_is_no_antenna_however_low_its_loss_makes_the_swr(piece, end):
    sweep = swept_line([piece], end, f_hz=np.linspace(1e6, 60e6, 401))
    answer = review(sweep, draws=0)
    assert review_page(answer, pictures=False).verdicts[0].word.startswith("NO: the line is")
    assert render_card(answer).startswith("NO: the line is")


def test_feet_and_inches_stand_beside_metres():
    answer = review(swept_line([parse_piece("RG-58 12 m")], -1), lines=["RG-58 20 m"], draws=0)
    page = review_page(answer, pictures=False, imperial=True)
    assert page.verdicts[0].word == "NO: the line is shorted 12.0 m (39 ft) away"
    assert "; in feet 39 ft" in " ".join(page_text(page).split())
    assert render_card(answer, imperial=True).splitlines()[0] == "NO: line shorted 12.0 m (39 ft) away"
    assert "ft" not in page_text(review_page(answer, pictures=False))


def test_an_end_fed_without_a_dip_at_its_half_wave_is_asked_for_its_length():
    f_hz = np.linspace(3e6, 30e6, 401)
    z_ohm = 60 * (1 + 10j * (f_hz / 13.2e6 - 13.2e6 / f_hz))
    answer = review(Sweep.from_gamma(f_hz, gamma_from_z(z_ohm, 50.0)), measured_at="feedpoint", draws=0)
    twice, right = (ForTrim("wire", "end-fed", length_m=length_m) for length_m in (20.6, 10.3))
    asked, sent = trim_command(answer, antenna=twice), trim_command(answer, antenna=right)
    assert asked.why == "No dip near 6.898 MHz, the half wave of 20.60 m: is that its length?"
    assert asked.words[-2:] == ("--target", "6.898 MHz")
    assert sent.why == "Dip 975 kHz below the middle of 20 m: too long."


DIRECT = {
    1.0: "DIRECT",
    0.95: "DIRECT",
    0.94: "PARTLY DIRECT 7.000 to 7.188",
    0.003: "PARTLY DIRECT 7.000 to 7.001",
}
OTHERS = {"tuner": "TUNER", "no": "NO", "unknown": "CANNOT SAY"}
ON_CARD = {
    "40 m DIRECT": "+ 40m  DIRECT",
    "40 m PARTLY": "+ 40m  PARTLY DIRECT",
    "40 m TUNER": "~ 40m  TUNER",
    "40 m NO": "x 40m  NO",
    "40 m CANNOT": "? 40m  ?",
}
CAUSES = {"none": (), "open": (OPEN,), "surely open": (SURELY_OPEN,), "torn": (TORN,), "stop": (STOP,)}


def first_words(verdict, share, cause, adequate):
    """The rules of docs/review.md, gravest first."""
    usable = verdict in ("direct", "tuner")
    if cause == "stop":
        return "STOP"
    if cause == "surely open" or (cause == "open" and not usable):
        return "NO: the line is open 12.8 m away"
    if verdict == "unknown" and not adequate:
        return "SWEEP AGAIN"
    return "40 m " + (DIRECT[share] if verdict == "direct" else OTHERS[verdict])


@pytest.mark.parametrize("adequate", [True, False])
@pytest.mark.parametrize("cause", CAUSES)
@pytest.mark.parametrize(
    ("verdict", "share"), [*(("direct", share) for share in DIRECT), *((word, 0.0) for word in OTHERS)]
)
def test_every_verdict_share_and_cause_has_one_headline(reviewed, verdict, share, cause, adequate):
    answer = with_band(reviewed, verdict, share, adequate=adequate, findings=CAUSES[cause])
    expected = first_words(verdict, share, cause, adequate)
    page = review_page(answer, pictures=False)
    assert page_text(page).splitlines()[0] == expected
    headline = re.search(r'<p class="answer">(.*?)</p>', page_html([page])).group(1)
    headline = re.sub(r'<span aria-hidden="true">.*?</span>|<[^>]*>', "", headline)
    assert html.unescape(headline).strip() == expected
    bold = re.search(r"^- \*\*(.*)\*\*$", page_markdown([page]), re.MULTILINE).group(1)
    assert bold.replace("\\", "") == expected
    on_card = render_card(answer).splitlines()
    on_card_as = ON_CARD.get(" ".join(expected.split()[:3]), expected)
    assert on_card[0].startswith("STOP: jagged" if cause == "stop" else on_card_as)


def test_several_parts_are_named_and_many_are_counted(reviewed):
    (band,) = reviewed.bands
    places = [7.00e6, 7.03e6, 7.06e6, 7.09e6, 7.12e6]
    parts = [Segment("direct", low, low + 10e3 + k) for k, low in enumerate(places)]
    for count, words in (
        (2, "7.000 to 7.010, 7.030 to 7.040"),
        (5, "7.060 to 7.070, 7.090 to 7.100, 7.120 to 7.130 and 2 more"),
    ):
        few = replace(band, verdict="direct", share_within_limit=Figure(0.3), segments=tuple(parts[:count]))
        page = review_page(replace(reviewed, bands=(few,)), pictures=False)
        assert page.verdicts[0].word == f"PARTLY DIRECT {words}"


def test_bands_stand_by_their_word_then_by_frequency(reviewed):
    (band,) = reviewed.bands
    half = (Segment("direct", 14.0e6, 14.1e6), Segment("tuner", 14.1e6, 14.35e6))
    bands = (
        replace(band, name="10 m", low_hz=28.0e6, high_hz=29.7e6, verdict="no", best_swr=Figure(4.0)),
        replace(band, name="15 m", low_hz=21.0e6, high_hz=21.45e6, verdict="no", best_swr=Figure(9.0)),
        replace(
            band,
            name="20 m",
            low_hz=14.0e6,
            high_hz=14.35e6,
            verdict="direct",
            segments=half,
            best_swr=Figure(1.0),
        ),
        replace(band, name="40 m", verdict="direct", best_swr=Figure(1.6), share_within_limit=Figure(1.0)),
    )
    answer = replace(reviewed, bands=bands)
    page = review_page(answer, pictures=False)
    words = [f"{each.name} {each.word.split(' 14')[0]}" for each in page.verdicts]
    assert words[:2] == ["40 m DIRECT", "20 m PARTLY DIRECT"]
    on_card = [line[2:6].strip() for line in render_card(answer).splitlines()]
    assert on_card[:4] == ["40m", "20m", "15m", "10m"]


def test_a_sweep_far_from_any_band_asks_for_its_unit():
    from sweepkit.sweep import Sweep

    f_hz = np.linspace(6500.0, 7700.0, 31)  # kHz taken for Hz
    answer = review(Sweep.from_gamma(f_hz, 0.5 + 0.1j * (f_hz / 7100 - 1)), draws=0)
    verdict = review_page(answer, pictures=False).verdicts[-1]
    assert verdict.word == "NO BAND"
    assert "read as 0.0065 to 0.0077 MHz" in verdict.why[0]
    assert "--unit" in verdict.why[0]


def test_the_distance_is_that_of_the_finding_and_another_finding_has_none():
    assert bare_end_text("shorted-line", 0.42) == "the line is shorted 42 cm away"
    assert bare_end_text("open-line", None) == ""
    assert bare_end_text("line-loss", 3.0) == ""
    assert bare_end_text("open-line", 12.8, imperial=True) == "the line is open 12.8 m (42 ft) away"


def command_of(name, told=(), antenna=None, **known):
    answer = review(sample(name), draws=0, **known)
    return review_page(answer, told=told, antenna=antenna, pictures=False).command


def test_a_dip_beside_its_band_leads_to_trim_with_what_is_known():
    told = ("--line", "RG-58 12 m")
    found = command_of("meadow_vertical_1.s1p", told=told, lines=["RG-58 12 m"])
    assert found.why == "Dip 642 kHz below the middle of 20 m: too long."
    assert found.line.startswith("sweepkit trim ")
    assert found.line.endswith('--kind KIND --length LEN --target "14.175 MHz" --line "RG-58 12 m"')
    known = command_of(
        "ridge_dipole_40m_long.s1p", antenna=ForTrim("ridge dipole", "dipole"), measured_at="feedpoint"
    )
    assert '--antenna "ridge dipole" --target "7.100 MHz"' in known.line


@pytest.mark.parametrize(
    ("antenna", "aim"),
    [
        (ForTrim("crag", "end-fed", ("40 m", "15 m")), ' --antenna crag --band "40 m" --band "15 m"'),
        (ForTrim("crag", "end-fed", ("20 m", "40 m"), is_planned=True), " --antenna crag"),  # trim knows them
        (ForTrim("crag", "linked", ("40m", "20m")), ' --antenna crag --band "40 m" --band "20 m"'),
        (ForTrim("crag", "dipole"), ' --antenna crag --target "7.100 MHz"'),
    ],
)
def test_what_serves_several_bands_is_trimmed_for_all_of_them(antenna, aim):
    found = command_of("crag_end_fed.s1p", antenna=antenna)
    assert found.line.endswith("crag_end_fed.s1p" + aim)
    assert ("too long" in found.why) == (antenna.kind == "dipole")
    assert "447 kHz below the middle of 40 m" in found.why


def test_an_end_fed_is_trimmed_for_what_it_serves_else_for_its_lowest_dip():
    end_fed = ForTrim("crag", "end-fed")
    serves = command_of("crag_end_fed.s1p", antenna=end_fed, swr_limit=4.0)
    assert serves.line.endswith('crag --band "40 m" --band "20 m" --band "15 m" --band "10 m"')
    serves_none = command_of("crag_end_fed.s1p", antenna=end_fed)
    assert serves_none.line.endswith('crag --target "7.100 MHz"')


@pytest.mark.parametrize(
    "antenna",
    [
        ForTrim("crag", "random-wire"),  # its dips are where it has them
        ForTrim("crag", "end-fed", ("30 m", "80 m")),  # no dip is near these
        ForTrim("crag", "fan"),  # nobody told which bands
    ],
)
def test_nothing_is_trimmed_for_bands_that_it_does_not_serve(antenna):
    assert command_of("crag_end_fed.s1p", antenna=antenna) is None


@pytest.mark.parametrize(
    ("name", "known"),
    [
        ("ridge_dipole_40m.s1p", {"measured_at": "feedpoint"}),  # direct all over
        ("spit_whip_40m.s1p", {}),  # narrower than the band, but inside it
        ("spit_whip_40m_coarse.s1p", {}),  # nothing is known yet
        ("broken_line.s1p", {"lines": ["RG-58 20 m"]}),
    ],
)
def test_no_command_where_a_trim_is_not_what_is_next(name, known):
    assert command_of(name, **known) is None


def test_a_hostile_path_stays_one_word_of_the_command():
    import shlex

    hostile = 'a "b" $(touch x) `y`.s1p'
    answer = review(sample("ridge_dipole_40m_long.s1p", hostile), measured_at="feedpoint", draws=0)
    command = review_page(answer, pictures=False).command
    assert shlex.split(command.line)[2] == hostile


def test_a_wire_of_untold_kind_that_dips_at_twice_its_lowest_is_trimmed_for_all_it_serves():
    served = command_of("crag_end_fed.s1p", swr_limit=4.0)
    assert served.line.endswith(
        '--kind KIND --length LEN --band "40 m" --band "20 m" --band "15 m" --band "10 m"'
    )
    assert served.why.endswith("trim weighs all its bands.")
