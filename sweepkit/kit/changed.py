"""A kit with some of its values other than they are, to see what they are worth."""

from __future__ import annotations

from dataclasses import replace

from sweepkit.kit.assumptions import describe_tuner
from sweepkit.kit.gear import Kit
from sweepkit.kit.tuner import Tuner

NO_TUNER_SWR = 1.0  # matches nothing but what needs no match


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
