"""The band-change card: settings of an antenna from the logbook, with or without one sweep of today."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from sweepkit.cli.log_place import open_named
from sweepkit.cli.trim_bands import aim_of, places_told, tap_of, whip_wish

if TYPE_CHECKING:
    from sweepkit.cli.trim_options import Told
    from sweepkit.kit import Kit
    from sweepkit.logbook import Logbook, LoggedSweep
    from sweepkit.several_bands.answer import BandsPlan
    from sweepkit.several_bands.places import Place
    from sweepkit.several_bands.whip import UsedSetting
    from sweepkit.sweep import Sweep

Facts = Mapping[str, Any]


def logged_settings(told: Told) -> list[UsedSetting]:
    """Every setting of the antenna that is on record, oldest first, each with its dip."""
    from pathlib import Path

    from sweepkit.cli.log_place import DEFAULT_NAME
    from sweepkit.logbook import list_sweeps

    if told.antenna is None or (told.log is None and not Path(DEFAULT_NAME).exists()):
        return []
    with open_named(told.log) as opened:
        sweeps = [each for each in list_sweeps(opened, antenna=told.antenna) if "set_aside" not in each.facts]
        found = [_setting(opened, each) for each in sweeps]
    return [each for each in found if each is not None]


def _opened_sweeps(told: Told) -> bool:
    """Whether there is a logbook at all."""
    from pathlib import Path

    from sweepkit.cli.log_place import DEFAULT_NAME

    return (told.log or Path(DEFAULT_NAME)).exists()


def _records(told: Told) -> list[Any]:
    """Every logged sweep of the antenna with its dips, oldest first."""
    from sweepkit.errors import BadInput
    from sweepkit.logbook import list_sweeps, summary_of
    from sweepkit.several_bands.records_card import LoggedDips
    from sweepkit.several_bands.told import parse_logged_lengths_m

    found = []
    with open_named(told.log) as opened:
        for each in list_sweeps(opened, antenna=told.antenna):
            if "set_aside" in each.facts:
                continue
            try:
                planes = summary_of(opened, each).planes
                lengths = parse_logged_lengths_m(str(each.facts.get("lengths", "")))
            except BadInput:
                continue
            dips = next((planes[name] for name in ("feedpoint", "radio", "unknown") if name in planes), ())
            known = tuple(
                (d.dip_hz.value, d.dip_swr.value or 1.0) for d in dips if d.dip_hz.value is not None
            )
            length_m = each.facts.get("length_m")
            found.append(LoggedDips(known, lengths, length_m, each.setup.id, str(each.facts.get("when", ""))))
    return found


def _setting(opened: Logbook, sweep: LoggedSweep) -> UsedSetting | None:
    """Tap, length and dip of a logged sweep; the deepest dip where there are several."""
    from sweepkit.errors import BadInput
    from sweepkit.logbook import summary_of
    from sweepkit.several_bands.whip import UsedSetting

    facts = {**sweep.setup.facts, **sweep.facts}
    if "length_m" not in facts:
        return None
    try:
        planes = summary_of(opened, sweep).planes
    except BadInput:
        return None
    dips = next((planes[name] for name in ("feedpoint", "radio", "unknown") if name in planes), ())
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
        tap_of(facts),
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


def band_change_card(told: Told, gear: Kit, facts: Facts, sweep: Sweep | None) -> BandsPlan:
    """The card, or that there is too little on record.

    Raises
    ------
    BadInput
        No place is named, or a setting that cannot be.
    """
    from sweepkit.antennas.rungs import body_of_kind, trade_sd
    from sweepkit.errors import BadInput
    from sweepkit.several_bands.seen import MOST_DRAWS
    from sweepkit.several_bands.whip import card_of_whip

    if not _opened_sweeps(told):
        raise BadInput("no sweep is named and there is no logbook; name a file, or the logbook with --log")
    kind = told.wire.kind or facts.get("kind") or "loaded-whip"
    spread = trade_sd("dip_hz", body_of_kind(kind), "put-up-again") or 0.015
    if kind != "loaded-whip":
        return _of_records(told, gear, facts, kind, spread)
    used = logged_settings(told)
    places = places_told(told, gear) if _are_named(told, gear) else _places_on_record(used, gear, told)
    if settings_apart(used) < 2:
        return _too_few(told, gear, facts, places, used)
    wish = _wish(told, facts, gear, used)
    return card_of_whip(
        used,
        wish,
        places,
        spread=spread,
        today=None if sweep is None else _today(told, sweep, wish, gear),
        kit=gear,
        files=[] if sweep is None else [_file(sweep)],
        limit_swr=gear.radio.direct_swr,
        members=1 + min(told.drawn.draws, MOST_DRAWS),
        seed=told.drawn.seed,
    )


def _of_records(told: Told, gear: Kit, facts: Facts, kind: str, spread: float) -> BandsPlan:
    """The card of an antenna without a tapped coil; two settings are two lengths, or two places that dipped."""
    from sweepkit.several_bands.records_card import card_of_records

    records = [each for each in _records(told) if each.dips]
    as_used = [_as_used(each) for each in records]
    named = _are_named(told, gear)
    places = places_told(told, gear) if named or not as_used else _places_on_record(as_used, gear, told)
    apart = {
        (tuple(sorted(each.lengths.items())), each.length_m, round(each.dips[0][0] / 5e5)) for each in records
    }
    if len(apart) < 2:
        return _too_few(told, gear, facts, places, as_used)
    return card_of_records(kind, records, places, aim=aim_of(told.wanted.aim), spread=spread)


def _as_used(record: Any) -> UsedSetting:
    from sweepkit.several_bands.whip import UsedSetting

    return UsedSetting(record.dips[0][0], None, record.length_m or 1.0, record.setup, record.when)


def _are_named(told: Told, gear: Kit) -> bool:
    note = gear.antennas.get(told.antenna or "")
    return bool(told.wanted.places or (note is not None and note.places))


def _places_on_record(used: Sequence[UsedSetting], gear: Kit, told: Told) -> tuple[Place, ...]:
    """Bands in which a logged dip lies."""
    from sweepkit.bands import read_bands
    from sweepkit.errors import BadInput
    from sweepkit.several_bands.places import Place

    region = gear.region if told.region is None else told.region
    found = tuple(
        Place(band.name, band.low_hz, band.high_hz)
        for band in read_bands(region=region)
        if any(band.low_hz * 0.97 <= each.dip_hz <= band.high_hz * 1.03 for each in used)
    )
    if not found:
        raise BadInput("no place is named; say where it is to work, with --band, --segment or --target")
    return found


def _wish(told: Told, facts: Facts, gear: Kit, used: Sequence[UsedSetting]) -> Any:
    """The whip as the records know it; what nobody told is taken from the settings on record."""
    taps = [each.tap for each in used if each.tap is not None]
    lengths = [each.whip_m for each in used]
    coil = told.tapped
    note = gear.antennas.get(told.antenna or "")
    if coil.turns is None and (note is None or note.turns is None) and taps:
        coil = replace(coil, turns=max(taps))
    tap_step = coil.tap_step or (note.tap_step if note is not None else None)
    if tap_step is None and any(tap % 1 for tap in taps):
        coil = replace(coil, tap_step=0.5 if all(tap % 0.5 == 0 for tap in taps) else 0.01)
    last = {"length_m": used[-1].whip_m} | dict(facts)
    wish = whip_wish(replace(told, tapped=coil), last, note)
    if wish.whip_range_m is None and max(lengths) - min(lengths) > 0.01:
        wish = replace(wish, whip_range_m=(min(*lengths, wish.length_m), max(*lengths, wish.length_m)))
    return wish


def _today(told: Told, sweep: Sweep, wish: Any, gear: Kit) -> Any:
    """Today's dip with its setting, as told or as last on record."""
    from sweepkit.cli.gear import measured_place, resolve_lines
    from sweepkit.several_bands.whip import EarlierSetting
    from sweepkit.trim.seen import SeenSweep

    look = {
        "kit": gear,
        "lines": resolve_lines(told.gear.line, gear),
        "measured_at": measured_place(told.gear.measured_at),
        "draws": min(told.drawn.draws, 200),
        "seed": told.drawn.seed,
    }
    return EarlierSetting(SeenSweep.of(sweep, look).dips, wish.tap, wish.length_m)


def _file(sweep: Sweep) -> dict[str, Any]:
    from sweepkit.reviews.review import file_json

    return file_json(sweep)


def _too_few(
    told: Told, gear: Kit, facts: Facts, places: Sequence[Place], used: Sequence[UsedSetting]
) -> BandsPlan:
    """Fewer than two settings on record: which to sweep next."""
    from sweepkit.findings import Finding
    from sweepkit.several_bands.answer import State, no_plan
    from sweepkit.several_bands.rows import row_of
    from sweepkit.several_bands.seen import sweep_for

    other = "another tap or whip length"
    if used:
        last = used[-1]
        at = f"whip {last.whip_m:g} m" if last.tap is None else f"tap {last.tap:g}, whip {last.whip_m:g} m"
        half = None if last.tap is None else max(round(last.tap / 2), 1)
        other = f"tap {half} with the same whip" if half else "a whip 10 % longer or shorter"
        why = f"one setting is on record ({at}), two are needed; sweep it at {other} next and log it"
    else:
        why = f"no setting of {told.antenna} is on record with its length and a dip; sweep it at two, and log them"
    unknown = State.unknown(why)
    plan = no_plan(
        files=(),
        kind=str(facts.get("kind", "loaded-whip")),
        aim=aim_of(told.wanted.aim),
        why=why,
        bands=[row_of(place, unknown, unknown, "cannot_say", (), why) for place in places],
        next_sweeps=sweep_for(places, gear.analyzer),
        findings=[
            Finding("few-settings", "warning", why, f"log add FILE --antenna {told.antenna} --set tap=...")
        ],
    )
    return replace(plan, known_from="")
