"""The band-change card: settings of an antenna from the logbook, with or without one sweep of today."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from sweepkit.cli.log_place import is_there, meant, open_named
from sweepkit.cli.trim_bands import aim_of, places_told, whip_wish

if TYPE_CHECKING:
    from sweepkit.cli.trim_options import Told
    from sweepkit.kit import Kit
    from sweepkit.several_bands.answer import BandsPlan
    from sweepkit.several_bands.places import Place
    from sweepkit.several_bands.whip import UsedSetting
    from sweepkit.sweep import Sweep

Facts = Mapping[str, Any]


def settings_of(told: Told) -> list[UsedSetting]:
    """Every setting of the antenna that is on record, oldest first, each with its dip."""
    from sweepkit.records.settings import logged_settings

    if told.antenna is None or not is_there(told.log):
        return []
    with open_named(told.log) as opened:
        return logged_settings(opened, told.antenna)


def band_change_card(told: Told, gear: Kit, facts: Facts, sweep: Sweep | None) -> BandsPlan:
    """The card, or that there is too little on record.

    Raises ``BadInput``: no place is named, or a setting that cannot be.
    """
    from sweepkit.antennas.rungs import body_of_kind, trade_sd
    from sweepkit.errors import BadInput
    from sweepkit.records.settings import settings_apart
    from sweepkit.reviews.review import file_json
    from sweepkit.several_bands.seen import MOST_DRAWS, Around
    from sweepkit.several_bands.whip import card_of_whip

    if not meant(told.log).exists():
        raise BadInput("no sweep is named and there is no logbook; name a file, or the logbook with --log")
    kind = told.wire.kind or facts.get("kind") or "loaded-whip"
    spread = trade_sd("dip_hz", body_of_kind(kind), "put-up-again") or 0.015
    if kind != "loaded-whip":
        return _of_records(told, gear, facts, kind, spread)
    used = settings_of(told)
    places = _places(told, gear, used)
    if settings_apart(used) < 2:
        return _too_few(told, gear, facts, places, used)
    wish = _wish(told, facts, gear, used)
    files = () if sweep is None else (file_json(sweep),)
    return card_of_whip(
        used,
        wish,
        places,
        Around(gear, files, gear.radio.direct_swr, seed=told.drawn.seed),
        spread=spread,
        today=None if sweep is None else _today(told, sweep, wish, gear),
        draws=min(told.drawn.draws, MOST_DRAWS),
    )


def _of_records(told: Told, gear: Kit, facts: Facts, kind: str, spread: float) -> BandsPlan:
    """The card of an antenna without a tapped coil; two settings are two lengths, or two places that dipped."""
    from sweepkit.records.settings import as_settings, lengths_apart, logged_lengths
    from sweepkit.several_bands.records_card import card_of_records

    with open_named(told.log) as opened:
        records = logged_lengths(opened, told.antenna or "")
    as_used = as_settings(records)
    places = _places(told, gear, as_used) if as_used else places_told(told, gear)
    if lengths_apart(records) < 2:
        return _too_few(told, gear, facts, places, as_used)
    return card_of_records(kind, records, places, aim=aim_of(told.wanted.aim), spread=spread)


def _too_few(
    told: Told, gear: Kit, facts: Facts, places: Sequence[Place], used: Sequence[UsedSetting]
) -> BandsPlan:
    from sweepkit.records.settings import too_few_settings

    kind, aim = str(facts.get("kind", "loaded-whip")), aim_of(told.wanted.aim)
    return too_few_settings(told.antenna or "", used, places, kind=kind, aim=aim, analyzer=gear.analyzer)


def _places(told: Told, gear: Kit, used: Sequence[UsedSetting]) -> tuple[Place, ...]:
    """The places that options or kit name, else the bands in which a logged dip lies."""
    from sweepkit.bands import read_bands
    from sweepkit.errors import BadInput
    from sweepkit.records.settings import places_on_record

    note = gear.antennas.get(told.antenna or "")
    if told.wanted.places or (note is not None and note.places):
        return places_told(told, gear)
    found = places_on_record(used, read_bands(region=gear.region if told.region is None else told.region))
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
