"""A kit in words: which defaults stand in for what was not told, and what differs between two kits."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from typing import Any

from sweepkit.kit.analyzer import UNTOLD_DIRECTIVITY_DB
from sweepkit.kit.gear import Kit
from sweepkit.kit.radio import Radio
from sweepkit.kit.tuner import Tuner

NO_TUNER_SWR = 1.0  # matches nothing but what needs no match


def list_assumptions(kit: Kit, *, told: Collection[str] = ()) -> tuple[str, ...]:
    """What the verdict rests on without having been told, phrases that go on after "assumed".

    ``told`` are keys told elsewhere, on the command line say: ``region``, ``radio.direct_swr``.
    """
    return tuple(_assumed(kit, told).values())


def _assumed(kit: Kit, told: Collection[str]) -> dict[str, str]:
    """Key of the kit and phrase of each default that holds."""
    given, usual = {*kit.given, *told}, Kit()
    words = {  # by key, which is where the value stands in the kit as well
        "region": "band edges that hold in every region",
        "radio.power_w": f"a radio of {kit.radio.power_w:g} W (read the watts as per cent of your own)",
        "radio.z0_ohm": f"a radio for {kit.radio.z0_ohm:g} ohm",
        "radio.power_at_swr": describe_fold_back(kit.radio),
        "radio.direct_swr": f"direct up to SWR {kit.radio.direct_swr:g}",
        "tuner.max_swr": describe_tuner(kit.tuner),
        "tuner.loss_db": f"{_value(kit, 'tuner.loss_db')} dB lost in the tuner",
        "analyzer.directivity_db": "an analyzer with {:g} to {:g} dB directivity".format(
            *UNTOLD_DIRECTIVITY_DB
        ),
    }
    return {
        key: phrase
        for key, phrase in words.items()
        if key not in given and _value(kit, key) == _value(usual, key)
    }


def assumed_in_short(kit: Kit, *, told: Collection[str] = ()) -> str:
    """``Defaults: region, radio, tuner, analyzer (--kit).``; empty where everything was told."""
    parts = dict.fromkeys(key.split(".")[0] for key in _assumed(kit, told))
    return f"Defaults: {', '.join(parts)} (--kit)." if parts else ""


def _value(kit: Kit, key: str) -> Any:
    """The value at a key such as ``tuner.loss_db``; ``None`` where there is no tuner."""
    value: Any = kit
    for part in key.split("."):
        value = None if value is None else getattr(value, part)
    return value


def describe_fold_back(radio: Radio) -> str:
    """What the radio still gives: ``full power up to SWR 1.5, 75 % at 2, 40 % at 3``."""
    (first_swr, first_share), *others = radio.power_at_swr
    full = first_share == 1
    first = f"full power up to SWR {first_swr:g}" if full else f"{100 * first_share:g} % at SWR {first_swr:g}"
    return ", ".join([first, *(f"{100 * share:g} % at {swr:g}" for swr, share in others)])


def describe_tuner(tuner: Tuner | None) -> str:
    """What the tuner matches: ``a tuner that matches up to SWR 3``."""
    if tuner is None:
        return "no tuner"
    if tuner.r_ohm is not None and tuner.x_ohm is not None:
        (r_low, r_high), (x_low, x_high) = tuner.r_ohm, tuner.x_ohm
        return f"a tuner that matches R {r_low:g} to {r_high:g} and X {x_low:g} to {x_high:g} ohm"
    return f"a tuner that matches up to SWR {tuner.max_swr:g}"


def with_changes(
    kit: Kit,
    *,
    power_w: float | None = None,
    direct_swr: float | None = None,
    tuner_swr: float | None = None,
    region: int | None = None,
) -> Kit:
    """The kit with what is told here; a ``tuner_swr`` goes in place of the tuner's region, 1 for no tuner."""
    radio, tuner = kit.radio, kit.tuner
    if tuner_swr == NO_TUNER_SWR:
        tuner = None
    elif tuner_swr is not None:
        tuner = replace(tuner or Tuner(), max_swr=tuner_swr, r_ohm=None, x_ohm=None)
    return replace(
        kit,
        radio=replace(
            radio,
            power_w=radio.power_w if power_w is None else power_w,
            direct_swr=radio.direct_swr if direct_swr is None else direct_swr,
        ),
        tuner=tuner,
        region=kit.region if region is None else region,
    )


def list_changes(before: Kit, after: Kit) -> list[str]:
    """What differs between two kits, in words: ``radio: 10 W, direct up to SWR 2 -> 5 W, direct up to SWR 2``."""
    pairs = [
        (
            "radio",
            *(
                f"{kit.radio.power_w:g} W, direct up to SWR {kit.radio.direct_swr:g}"
                for kit in (before, after)
            ),
        ),
        ("tuner", *(describe_tuner(kit.tuner) for kit in (before, after))),
        ("region", *(str(kit.region or "not told") for kit in (before, after))),
    ]
    return [f"{name}: {old} -> {new}" for name, old, new in pairs if old != new]
