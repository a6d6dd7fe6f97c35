"""Settings of an antenna that the logbook has: what it was set to, and where it dipped then."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise
from math import log as log_of
from typing import Any

from sweepkit.antennas.catalogue import part_of
from sweepkit.antennas.usual_dip import SERVES_SWR
from sweepkit.bands import Band
from sweepkit.errors import BadInput
from sweepkit.findings import Finding
from sweepkit.kit import Analyzer
from sweepkit.logbook import Logbook, LoggedSweep, list_sweeps
from sweepkit.quantities import length_text
from sweepkit.records.nearest import logged_dips
from sweepkit.several_bands.answer import Aim, BandsPlan, State, no_plan
from sweepkit.several_bands.parts_told import TITLES
from sweepkit.several_bands.places import Place
from sweepkit.several_bands.records_card import LoggedDips
from sweepkit.several_bands.rows import row_of
from sweepkit.several_bands.seen import NEAR, sweep_for
from sweepkit.several_bands.told import parse_logged_lengths_m, parse_logged_tap
from sweepkit.several_bands.whip_told import UsedSetting

PARTS = {"fan": "pair", "trap": "section"}  # what is made longer or shorter of kinds with several
NEAR_A_BAND = 0.03  # a dip this part beyond an edge still belongs to the band; common practice, no source


def logged_settings(log: Logbook, antenna: str) -> list[UsedSetting]:
    """Every setting of a whip that is on record with a dip, oldest first."""
    found = [_setting(log, each) for each in _counting(log, antenna)]
    return [each for each in found if each is not None]


def logged_lengths(log: Logbook, antenna: str) -> list[LoggedDips]:
    """Every logged sweep of an antenna that dips and whose length or lengths are known, oldest first."""
    found = []
    for each in _counting(log, antenna):
        try:
            lengths = parse_logged_lengths_m(str(each.facts.get("lengths", "")))
        except BadInput:
            continue
        dips = tuple(
            (dip.dip_hz.value, dip.dip_swr.value or 1.0)
            for dip in logged_dips(log, each)
            if dip.dip_hz.value is not None
        )
        length_m, when = each.facts.get("length_m"), str(each.facts.get("when", ""))
        if dips and (lengths or length_m is not None):
            found.append(LoggedDips(dips, lengths, length_m, each.setup.id, when))
    return found


def _counting(log: Logbook, antenna: str) -> Iterator[LoggedSweep]:
    return (each for each in list_sweeps(log, antenna=antenna) if "set_aside" not in each.facts)


def _setting(log: Logbook, sweep: LoggedSweep) -> UsedSetting | None:
    """Tap, length and dip of a logged sweep; the deepest dip where there are several."""
    facts = {**sweep.setup.facts, **sweep.facts}
    if "length_m" not in facts:
        return None
    dips = logged_dips(log, sweep)
    if not dips or dips[0].dip_hz.value is None:
        return None
    dip = dips[0]
    figure = dip.dip_hz
    low, high = (figure.value if end is None else end for end in (figure.low, figure.high))
    sigma = (high - low) / 4 / figure.value if figure.value and low is not None and high is not None else 1e-3
    swr = dip.dip_swr.value or 1.5
    when = str(facts.get("when", ""))
    return UsedSetting(
        figure.value or 0.0,
        parse_logged_tap(facts),
        float(facts["length_m"]),
        sweep.setup.id,
        when,
        dip.r_ohm.value,
        swr,
        sigma,
    )


def settings_apart(used: Sequence[UsedSetting]) -> int:
    """How many different settings are on record."""
    return len({(each.tap, round(each.whip_m, 2)) for each in used})


def lengths_apart(records: Sequence[LoggedDips], kind: str) -> int:
    """How many different settings are on record: other lengths, and with links also where they let it dip."""
    states: dict[tuple[Any, ...], list[float]] = {}
    for each in records:
        lengths = (*sorted(each.lengths.items()), each.length_m and round(each.length_m, 2))
        states.setdefault(lengths, []).append(log_of(each.dips[0][0]))
    if kind != "linked":
        return len(states)
    return sum(1 + sum(b - a > NEAR for a, b in pairwise(sorted(ln_f))) for ln_f in states.values())


def told_dips_hz(records: Sequence[LoggedDips]) -> list[float]:
    """Dips that tell what an antenna serves: the deepest of each sweep, and all that may be used."""
    return [f_hz for each in records for k, (f_hz, swr) in enumerate(each.dips) if not k or swr <= SERVES_SWR]


def places_on_record(dips_hz: Sequence[float], bands: Sequence[Band]) -> tuple[Place, ...]:
    """Bands in which a logged dip lies, or nearly."""
    return tuple(
        Place(band.name, band.low_hz, band.high_hz)
        for band in bands
        if any(
            band.low_hz * (1 - NEAR_A_BAND) <= f_hz <= band.high_hz * (1 + NEAR_A_BAND) for f_hz in dips_hz
        )
    )


def few_taps(used: Sequence[UsedSetting], antenna: str) -> str:
    """Why fewer than two settings of a whip are too few, with the one to sweep next."""
    if not used:
        return (
            f"no setting of {antenna} is on record with its length and a dip; sweep it at two, and log them"
        )
    last = used[-1]
    if last.tap is None:
        return _one_on_record(f"whip {last.whip_m:g} m", "at a whip 10 % longer or shorter")
    at = f"tap {last.tap:g}, whip {last.whip_m:g} m"
    return _one_on_record(at, f"at tap {max(round(last.tap / 2), 1)} with the same whip")


def few_lengths(records: Sequence[LoggedDips], antenna: str, kind: str) -> str:
    """The same of an antenna without a tapped coil."""
    if not records:
        told = "lengths" if kind in TITLES else "length"
        return (
            f"no setting of {antenna} is on record with its {told} and a dip; sweep it at two, and log them"
        )
    last = records[-1]
    at = ", ".join(f"{name} {length_text(length_m)}" for name, length_m in last.lengths.items())
    if kind == "linked":
        return _one_on_record(at, "with its links set for another place")
    if at:
        return _one_on_record(at, f"with one {PARTS.get(kind, 'part')} a little longer or shorter")
    part = part_of(kind)
    return _one_on_record(
        f"{part} {length_text(last.length_m or 0.0)}", f"at a {part} 10 % longer or shorter"
    )


def _one_on_record(at: str, other: str) -> str:
    return f"one setting is on record ({at}), two are needed; sweep it {other} next and log it"


def too_few_settings(
    antenna: str, why: str, places: Sequence[Place], *, kind: str, aim: Aim, analyzer: Analyzer
) -> BandsPlan:
    """Fewer than two settings on record: which to sweep next."""
    fact = "tap" if kind == "loaded-whip" else "lengths" if kind in TITLES else "length"
    unknown = State.unknown(why)
    plan = no_plan(
        files=(),
        kind=kind,
        aim=aim,
        why=why,
        bands=[row_of(place, unknown, unknown, "cannot_say", (), why) for place in places],
        next_sweeps=sweep_for(places, analyzer),
        findings=[
            Finding("few-settings", "warning", why, f"log add FILE --antenna {antenna} --set {fact}=...")
        ],
    )
    return replace(plan, known_from="")
