"""The band-change card: settings of an antenna from the logbook, with or without one sweep of today."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from sweepkit.answers.bands_asked import NO_PLACE, BandsAsked, Facts, whip_wish
from sweepkit.antennas.rungs import body_of_kind, trade_sd
from sweepkit.bands import read_bands
from sweepkit.errors import BadInput
from sweepkit.records.settings import (
    few_lengths,
    few_taps,
    lengths_apart,
    logged_lengths,
    logged_settings,
    places_on_record,
    settings_apart,
    told_dips_hz,
    too_few_settings,
)
from sweepkit.reviews.review import file_json
from sweepkit.several_bands.answer import BandsPlan
from sweepkit.several_bands.from_sweeps import Look
from sweepkit.several_bands.places import Place
from sweepkit.several_bands.records_card import card_of_records
from sweepkit.several_bands.seen import MOST_DRAWS, Around
from sweepkit.several_bands.whip_card import card_of_whip
from sweepkit.several_bands.whip_told import EarlierSetting, UsedSetting, WhipWish
from sweepkit.sweep import Sweep
from sweepkit.trim.seen import SeenSweep

FEW_DRAWS = 200  # of today's dip beside a card
# Of a dip when put up again, for a kind of which the trade has no figure; common practice
UNTOLD_SPREAD = 0.015


def is_today(asked: BandsAsked, sweeps: Sequence[Sweep], facts: Facts) -> bool:
    """One sweep of a whip with two settings or more on record: its card, moved by what today differs."""
    if len(sweeps) != 1 or asked.earlier or asked.antenna is None:
        return False
    is_whip = (asked.kind or facts.get("kind")) == "loaded-whip"
    return is_whip and settings_apart(_settings(asked)) >= 2


def band_change_card(asked: BandsAsked, facts: Facts, sweep: Sweep | None, look: Look) -> BandsPlan:
    """Settings of an antenna from the logbook, with or without one sweep of today, or that there is too little."""
    if asked.earlier:
        raise BadInput(
            "--earlier goes with a sweep of the antenna as it stands now, and none is named; name a file, or log the "
            "earlier sweep"
        )
    kind = asked.kind or facts.get("kind") or "loaded-whip"
    spread = trade_sd("dip_hz", body_of_kind(kind), "put-up-again") or UNTOLD_SPREAD
    if kind != "loaded-whip":
        return _card_by_length(asked, facts, kind, spread)
    used = _settings(asked)
    places = _places_of_card(asked, [each.dip_hz for each in used])
    if settings_apart(used) < 2:
        return _too_few(asked, kind, places, few_taps(used, asked.antenna or ""))
    wish = _wish_of_record(asked, facts, used)
    few: dict[str, Any] = {**look, "draws": min(asked.draws, FEW_DRAWS)}
    return card_of_whip(
        used,
        wish,
        places,
        Around(
            asked.gear,
            () if sweep is None else (file_json(sweep),),
            asked.gear.radio.direct_swr,
            seed=asked.seed,
        ),
        spread=spread,
        today=None
        if sweep is None
        else EarlierSetting(SeenSweep.of(sweep, few).dips, wish.tap, wish.length_m),
        draws=min(asked.draws, MOST_DRAWS),
    )


def _settings(asked: BandsAsked) -> list[UsedSetting]:
    """Every setting of the antenna that is on record, oldest first, each with its dip."""
    if asked.antenna is None or asked.log is None:
        return []
    with asked.log() as opened:
        return logged_settings(opened, asked.antenna)


def _card_by_length(asked: BandsAsked, facts: Facts, kind: str, spread: float) -> BandsPlan:
    """The card of an antenna without a tapped coil."""
    records = []
    if asked.log is not None:
        with asked.log() as opened:
            records = logged_lengths(opened, asked.antenna or "")
    places = _places_of_card(asked, told_dips_hz(records)) if records else asked.places()
    if lengths_apart(records, kind) < 2:
        return _too_few(asked, kind, places, few_lengths(records, asked.antenna or "", kind))
    return card_of_records(kind, records, places, aim=asked.least, spread=spread)


def _too_few(asked: BandsAsked, kind: str, places: Sequence[Place], why: str) -> BandsPlan:
    return too_few_settings(
        asked.antenna or "", why, places, kind=kind, aim=asked.least, analyzer=asked.gear.analyzer
    )


def _places_of_card(asked: BandsAsked, dips_hz: Sequence[float]) -> tuple[Place, ...]:
    """The places that are told or in the kit, else the bands in which a logged dip lies."""
    note = asked.note
    if asked.bands or asked.segments or asked.targets or (note is not None and note.places):
        return asked.places()
    found = places_on_record(dips_hz, read_bands(region=asked.band_region))
    if not found:
        raise BadInput(NO_PLACE)
    return found


def _wish_of_record(asked: BandsAsked, facts: Facts, used: Sequence[UsedSetting]) -> WhipWish:
    """The whip as the records know it; what nobody told is taken from the settings on record."""
    taps = [each.tap for each in used if each.tap is not None]
    lengths = [each.whip_m for each in used]
    note = asked.note
    if asked.turns is None and (note is None or note.turns is None) and taps:
        asked = replace(asked, turns=max(taps))
    tap_step = asked.tap_step or (note.tap_step if note is not None else None)
    if tap_step is None and any(tap % 1 for tap in taps):
        asked = replace(asked, tap_step=0.5 if all(tap % 0.5 == 0 for tap in taps) else 0.01)
    wish = whip_wish(asked, {"length_m": used[-1].whip_m} | dict(facts))
    if wish.whip_range_m is None and max(lengths) - min(lengths) > 0.01:
        wish = replace(wish, whip_range_m=(min(*lengths, wish.length_m), max(*lengths, wish.length_m)))
    return wish
