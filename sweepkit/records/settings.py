"""Settings of an antenna that the logbook has: what it was set to, and where it dipped then."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from sweepkit.antennas.catalogue import part_of
from sweepkit.bands import Band
from sweepkit.errors import BadInput
from sweepkit.findings import Finding
from sweepkit.kit import Analyzer
from sweepkit.logbook import Logbook, LoggedSweep, list_sweeps
from sweepkit.records.nearest import logged_dips
from sweepkit.several_bands.answer import Aim, BandsPlan, State, no_plan
from sweepkit.several_bands.parts_told import TITLES
from sweepkit.several_bands.places import Place
from sweepkit.several_bands.records_card import LoggedDips
from sweepkit.several_bands.rows import row_of
from sweepkit.several_bands.seen import sweep_for
from sweepkit.several_bands.told import parse_logged_lengths_m, parse_logged_tap
from sweepkit.several_bands.whip_told import UsedSetting

NEAR_A_BAND = 0.03  # a dip this part beyond an edge still belongs to the band; common practice, no source


def logged_settings(log: Logbook, antenna: str) -> list[UsedSetting]:
    """Every setting of a whip that is on record with a dip, oldest first."""
    found = [_setting(log, each) for each in _counting(log, antenna)]
    return [each for each in found if each is not None]


def logged_lengths(log: Logbook, antenna: str) -> list[LoggedDips]:
    """Every logged sweep of an antenna that dips, with its lengths by place, oldest first."""
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
        if dips:
            length_m, when = each.facts.get("length_m"), str(each.facts.get("when", ""))
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


def lengths_apart(records: Sequence[LoggedDips]) -> int:
    """How many different lengths, or places that dipped, are on record."""
    return len(
        {
            (tuple(sorted(each.lengths.items())), each.length_m, round(each.dips[0][0] / 5e5))
            for each in records
        }
    )


def as_settings(records: Sequence[LoggedDips]) -> list[UsedSetting]:
    """Records by length as settings: the deepest dip of each."""
    return [
        UsedSetting(each.dips[0][0], None, each.length_m or 1.0, each.setup, each.when) for each in records
    ]


def places_on_record(used: Sequence[UsedSetting], bands: Sequence[Band]) -> tuple[Place, ...]:
    """Bands in which a logged dip lies, or nearly."""
    return tuple(
        Place(band.name, band.low_hz, band.high_hz)
        for band in bands
        if any(
            band.low_hz * (1 - NEAR_A_BAND) <= each.dip_hz <= band.high_hz * (1 + NEAR_A_BAND)
            for each in used
        )
    )


def too_few_settings(
    antenna: str,
    used: Sequence[UsedSetting],
    places: Sequence[Place],
    *,
    kind: str,
    aim: Aim,
    analyzer: Analyzer,
) -> BandsPlan:
    """Fewer than two settings on record: which to sweep next."""
    part = part_of(kind)
    if used:
        last = used[-1]
        at = (
            f"{part} {last.whip_m:g} m" if last.tap is None else f"tap {last.tap:g}, {part} {last.whip_m:g} m"
        )
        half = None if last.tap is None else max(round(last.tap / 2), 1)
        other = f"tap {half} with the same {part}" if half else f"a {part} 10 % longer or shorter"
        why = f"one setting is on record ({at}), two are needed; sweep it at {other} next and log it"
    else:
        why = f"no setting of {antenna} is on record with its length and a dip; sweep it at two, and log them"
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
