"""The card: 8 lines of 40 columns that say the same as the review."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from sweepkit.figures import Figure
from sweepkit.findings import Finding
from sweepkit.report.card import render_card
from sweepkit.reviews import Review
from sweepkit.reviews.bands import BandFigures
from sweepkit.reviews.next_sweep import NextSweep
from sweepkit.reviews.plane import Plane
from sweepkit.reviews.planes import Planes
from sweepkit.station.segments import Segment


def figure(value):
    return Figure.none("not known") if value is None else Figure(value)


def band(name="40 m", verdict="direct", *, swr=1.52, segments=None, watts=43.2, best_hz=7.094e6):
    parts = [(verdict, 7.0e6, 7.2421e6)] if segments is None else segments
    none = Figure.none("not asked for")
    return BandFigures(
        name=name,
        low_hz=parts[0][1] if parts else 7.0e6,
        high_hz=parts[-1][2] if parts else 7.2e6,
        covered=1.0,
        best_swr=figure(swr),
        best_hz=figure(best_hz),
        swr_at_low_edge=none,
        swr_at_high_edge=none,
        share_within_limit=none,
        verdict=verdict,
        why="",
        segments=tuple(Segment(*part) for part in parts),
        line_loss_db=none,
        power_to_antenna_w=figure(watts),
        power=(),
        fails_on="",
        line=None,
    )


def card(*bands, adequate=True, next_sweeps=(), findings=(), measured_at="radio", radio=True):
    review = Review(
        sweep=None,
        planes=Planes(radio=None, feedpoint=None, measured_at=measured_at, chain=None),
        limit_swr=2.0,
        radio=Plane((), (), ()) if radio else None,
        feedpoint=None,
        bands=bands,
        adequate=adequate,
        next_sweeps=tuple(NextSweep(**sweep) for sweep in next_sweeps),
        findings=tuple(Finding(code, level, "", "") for level, code in findings),
    )
    return render_card(review).split("\n")


def test_a_good_sweep_begins_with_the_best_band():
    lines = card(
        band("20 m", "no", swr=8.13, best_hz=14.2e6, watts=None),
        band("80 m", "tuner", swr=2.44, segments=[("no", 3.5e6, 3.6e6), ("tuner", 3.6e6, 3.7e6)], watts=46.7),
        band(),
        band("15 m", "unknown", swr=1.67, best_hz=21.2e6, watts=None),
    )
    assert lines == [
        "+ 40m  DIRECT 7000-7242      1.5:1   43W",
        "~ 80m  TUNER  3600-3700      2.4:1   47W",
        "? 15m  ?      best 21200     1.7:1",
        "x 20m  NO     best 14200     8.1:1",
        "kHz, SWR at the radio, W leaves coax",
    ]


def test_a_poor_sweep_begins_with_the_sweep_to_take_where_nothing_can_be_used():
    wanted = [
        {"start_hz": 6.8004e6, "stop_hz": 7.3996e6, "points": 201},
        {"start_hz": 3.4e6, "stop_hz": 4e6, "points": 101},
        {"start_hz": 1.7e6, "stop_hz": 2e6, "points": 101},
    ]
    again = ["SWEEP AGAIN 6800-7400kHz 201pts", "        AND 3400-4000kHz 101pts +1"]
    unknown = band(verdict="unknown", segments=[], watts=None)
    lines = card(unknown, adequate=False, next_sweeps=wanted)
    assert lines[:3] == [*again, "? 40m  ?      best 7094      1.5:1"]
    usable = card(band(), adequate=False, next_sweeps=wanted)
    assert usable[:3] == ["+ 40m  DIRECT 7000-7242      1.5:1   43W", *again]
    assert card(unknown, adequate=False)[0] == "SWEEP AGAIN: this one was too poor"


def test_ranges_are_rounded_inwards_and_more_of_them_are_marked():
    two = [("direct", 7.0001e6, 7.0509e6), ("tuner", 7.0509e6, 7.1e6), ("direct", 7.1e6, 7.11e6)]
    assert card(band(segments=two))[0] == "+ 40m  PARTLY DIRECT 7001-7050+  1.5:1"
    assert card(band(segments=[("direct", 7.1003e6, 7.1009e6)]))[0].startswith("+ 40m  DIRECT at 7100 ")


def test_the_gravest_finding_has_a_line():
    findings = [("note", "no-phase"), ("warning", "jagged"), ("stop", "open-line")]
    assert card(band(), findings=findings)[0] == "STOP: open-line"
    assert card(band(), findings=findings[:2])[1] == "! jagged"
    assert len(card(band(), findings=findings[:1])) == 2
    assert (
        card(band(), findings=[("warning", "dip-at-edge"), ("warning", "swr-too-good")])[1]
        == "! swr-too-good"
    )


def test_the_plane_is_named():
    assert card(band(), measured_at="unknown")[-1] == "kHz, SWR where measured, leaves coax 43W"
    assert card(band(), measured_at="feedpoint", radio=False)[-1] == "kHz, SWR at feedpoint, leaves coax 43W"
    assert card(band(), measured_at="feedpoint")[-1] == "kHz, SWR at the radio, leaves coax 43W"
    assert card(band(watts=None))[-1] == "kHz, SWR at the radio"


def test_bands_that_do_not_fit_are_counted():
    names = ["160 m", "80 m", "60 m", "40 m", "30 m", "20 m", "17 m", "15 m", "12 m", "10 m"]
    lines = card(*(band(name, "direct" if index < 2 else "no") for index, name in enumerate(names)))
    assert len(lines) == 8
    assert lines[-2] == "  4 more: 4 NO"
    assert card()[0] == "no band asked for lies in this sweep"


NUMBERS = st.one_of(st.none(), st.floats(1, 1e5))
BANDS = st.builds(
    band,
    st.sampled_from(["160 m", "70 cm", "1.25 m", "a band of my own"]),
    st.sampled_from(["direct", "tuner", "no", "unknown"]),
    swr=NUMBERS,
    watts=NUMBERS,
    best_hz=st.one_of(st.none(), st.floats(1e5, 1e9)),
)
SWEEPS = st.lists(
    st.fixed_dictionaries(
        {"start_hz": st.floats(1e5, 1e9), "stop_hz": st.floats(1e5, 1e9), "points": st.integers(2, 99999)}
    ),
    max_size=5,
)


@given(st.lists(BANDS, max_size=14), SWEEPS, st.booleans(), st.booleans())
@settings(max_examples=150, deadline=None)
def test_a_card_never_outgrows_its_card(bands, next_sweeps, adequate, found):
    findings = [("warning", "wrong-impedance-piece")] if found else []
    lines = card(*bands, adequate=adequate, next_sweeps=next_sweeps, findings=findings)
    assert len(lines) <= 8
    assert max(map(len, lines)) <= 40
    assert all(line.isascii() for line in lines)
    usable = any(each.verdict in ("direct", "tuner") for each in bands)
    known = bool(bands) and all(each.verdict == "no" for each in bands)
    assert lines[0].startswith("SWEEP AGAIN") == (not adequate and not usable and not known)
    assert any(line.startswith("SWEEP AGAIN") for line in lines) == (not adequate)
