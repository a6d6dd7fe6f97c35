"""The options of ``sweepkit trim`` in groups, and how its plan is handed over."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sweepkit.cli import log_place, options
from sweepkit.cli.exits import Exit
from sweepkit.cli.option_groups import Checks, Drawn, Gear, OptionGroup, Output, Reading
from sweepkit.cli.options import argument, flag, option
from sweepkit.cli.reporting import deliver_page

if TYPE_CHECKING:
    from sweepkit.antennas.kind import Known
    from sweepkit.kit import Kit
    from sweepkit.report.page import Page
    from sweepkit.several_bands.answer import BandsPlan
    from sweepkit.trim.answer import TrimPlan


@dataclass(frozen=True, kw_only=True)
class Wanted(OptionGroup):
    """Where the dip is to go, and how much each place matters."""

    targets: list[str] | None = option(
        "--target", "Where the dip is to go. Repeat for several places.", "FREQ"
    )
    bands: list[str] | None = option(
        "--band", 'The band that is to fit best, such as "40 m". Repeat.', "NAME"
    )
    segments: list[str] | None = option("--segment", "Or a part of it: 7000-7074 kHz. Repeat.", "LOW-HIGH")
    weights: list[str] | None = option("--weight", 'How much a place matters: "40 m=3". Repeat.', "PLACE=N")
    aim: str | None = option(
        "--aim", "Of several places: least mean loss, or worst place best.", "mean|worst"
    )
    must_work: str | None = option("--must-work", "Aim higher, so that it works wet too.", "wet")

    @property
    def places(self) -> list[str]:
        """All that were named, in whatever way."""
        return [*(self.targets or ()), *(self.bands or ()), *(self.segments or ())]


@dataclass(frozen=True, kw_only=True)
class Wire(OptionGroup):
    """The wire as it is, how it is changed, and what it was before."""

    kind: str | None = option(
        "--kind",
        "dipole, inverted-vee, vertical, loaded-whip, end-fed, loop, random-wire, fan, linked or trap.",
        "KIND",
    )
    lengths: list[str] | None = option(
        "--length",
        'One leg, the radiator, the whip, the whole wire: feed to end. By place: "40 m=10.61 m". Repeat.',
        "LEN",
    )
    by: str | None = option("--by", "How you will do it; wire is folded, a whip slid.", "fold|cut|slide")
    tail_lies: str | None = option("--tail-lies", "How a fold lies.", "contact|taped|SPACING")
    tail: str | None = option("--tail", "Fold that each part carries already.", "LEN")
    earlier: list[str] | None = option(
        "--earlier",
        'Length then and its sweep: "10.40 m=a.s1p", "+10 cm=a.s1p", "cut:+10 cm=a.s1p". Repeat.',
        "LEN=FILE",
    )


@dataclass(frozen=True, kw_only=True)
class Beside(OptionGroup):
    """What else is known of the antenna."""

    radials: int | None = options.of_fact("radials")
    radial_length: str | None = options.of_fact("radial_length")
    radial_height: str | None = options.of_fact("radial_height")
    radials_on_ground: bool = flag("--radials-on-ground", "As --radial-height '0 m'.")
    counterpoise: str | None = options.of_fact("counterpoise")
    choke_at: str | None = options.of_fact("choke_at", "LEN|none")
    coil: str | None = options.of_fact("coil")
    transformer: str | None = options.of_fact("transformer")
    wire: str | None = options.of_fact("wire", "D|D in D|bare|insulated")

    def known(self, facts: Mapping[str, Any]) -> Known:
        """What a kind of antenna takes beside its length: as the options say, else as the records know."""
        from sweepkit.answers.told import known_told

        return known_told(vars(self), facts)


@dataclass(frozen=True, kw_only=True)
class Tapped(OptionGroup):
    """A coil with taps, and a whip that slides."""

    tap: float | None = options.of_fact("tap")
    turns: float | None = options.of_fact("turns")
    tap_step: float | None = options.of_fact("tap_step")
    coil_diameter: str | None = options.of_fact("coil_diameter")
    coil_pitch: str | None = options.of_fact("coil_pitch")
    whip_range: str | None = options.of_fact("whip_range", "LOW-HIGH")
    one_length: bool = flag("--one-length", "One whip length for all places; only the tap changes.")

    def __bool__(self) -> bool:
        return any(value is not None and value is not False for value in vars(self).values())


@dataclass(frozen=True, kw_only=True)
class Told(OptionGroup):
    """All options as they were written."""

    named: list[Path] | None = argument(
        "FILE...", "The sweep of the antenna as it is now, or several.", default=None
    )
    wanted: Wanted
    wire: Wire
    start: bool = flag("--start", "No sweep yet: the length to cut before going out.")
    antenna: str | None = option("--antenna", "Kind, length and line from your kit or logbook.", "NAME")
    log: log_place.Log = None
    beside: Beside
    tapped: Tapped
    gear: Gear
    region: options.Region = None
    checks: Checks
    drawn: Drawn
    output: Output
    card: bool = flag("--card", "The move in 8 lines of 40 columns.")
    units: options.Units = "metric"
    reading: Reading

    @property
    def files(self) -> list[Path]:
        """None where none was named."""
        return self.named or []

    @property
    def imperial(self) -> bool:
        """With feet and inches beside."""
        return self.units == "imperial"


def deliver_plan(
    told: Told,
    kit: Kit,
    plan: TrimPlan | BandsPlan,
    page: Callable[..., Page],
    document: Callable[[], dict[str, Any]],
    inputs: Sequence[Path],
    *,
    known: Sequence[str],
) -> Exit:
    """A plan as it was asked for; ``known`` are keys of the kit that are told or have no part in it."""
    from sweepkit.kit import assumed_in_short, list_assumptions

    whole = partial(
        page,
        made=told.drawn.made(told.gear.kit),
        assumed=list_assumptions(kit, told=known),
        assumed_in_short=assumed_in_short(kit, told=known),
        imperial=told.imperial,
    )

    def card() -> str:
        from sweepkit.report.trim_card import plan_card

        return plan_card(plan, imperial=told.imperial)

    return deliver_page(told.output, whole, document, inputs, card=card if told.card else None)
