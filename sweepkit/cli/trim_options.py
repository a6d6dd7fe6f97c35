"""The options of ``sweepkit trim`` in groups."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from sweepkit.cli import options
from sweepkit.cli.option_groups import Checks, Drawn, Gear, OptionGroup, Output, Reading

if TYPE_CHECKING:
    from sweepkit.antennas.kind import Known


@dataclass(frozen=True, kw_only=True)
class Wanted(OptionGroup):
    """Where the dip is to go, and how much each place matters."""

    targets: Annotated[
        list[str] | None,
        typer.Option("--target", help="Where the dip is to go. Repeat for several places.", metavar="FREQ"),
    ] = None
    bands: Annotated[
        list[str] | None,
        typer.Option("--band", help='The band that is to fit best, such as "40 m". Repeat.', metavar="NAME"),
    ] = None
    segments: Annotated[
        list[str] | None,
        typer.Option("--segment", help="Or a part of it: 7000-7074 kHz. Repeat.", metavar="LOW-HIGH"),
    ] = None
    weights: Annotated[
        list[str] | None,
        typer.Option("--weight", help='How much a place matters: "40 m=3". Repeat.', metavar="PLACE=N"),
    ] = None
    aim: Annotated[
        str | None,
        typer.Option(
            "--aim", help="Of several places: least mean loss, or worst place best.", metavar="mean|worst"
        ),
    ] = None
    must_work: Annotated[
        str | None, typer.Option("--must-work", help="Aim higher, so that it works wet too.", metavar="wet")
    ] = None

    @property
    def places(self) -> list[str]:
        """All that were named, in whatever way."""
        return [*(self.targets or ()), *(self.bands or ()), *(self.segments or ())]


@dataclass(frozen=True, kw_only=True)
class Wire(OptionGroup):
    """The wire as it is, how it is changed, and what it was before."""

    kind: Annotated[
        str | None,
        typer.Option(
            "--kind",
            help="dipole, inverted-vee, vertical, loaded-whip, end-fed, loop, random-wire, fan, linked or trap.",
            metavar="KIND",
        ),
    ] = None
    lengths: Annotated[
        list[str] | None,
        typer.Option(
            "--length",
            help='One leg, the radiator, the whip, the whole wire: feed to end. By place: "40 m=10.61 m". Repeat.',
            metavar="LEN",
        ),
    ] = None
    by: Annotated[
        str | None,
        typer.Option(
            "--by", help="How you will do it; wire is folded, a whip slid.", metavar="fold|cut|slide"
        ),
    ] = None
    tail_lies: Annotated[
        str | None,
        typer.Option("--tail-lies", help="How a fold lies.", metavar="contact|taped|SPACING"),
    ] = None
    tail: Annotated[
        str | None, typer.Option("--tail", help="Fold that each part carries already.", metavar="LEN")
    ] = None
    earlier: Annotated[
        list[str] | None,
        typer.Option(
            "--earlier",
            help='Length then and its sweep: "10.40 m=a.s1p", "+10 cm=a.s1p", "cut:+10 cm=a.s1p". Repeat.',
            metavar="LEN=FILE",
        ),
    ] = None


@dataclass(frozen=True, kw_only=True)
class Beside(OptionGroup):
    """What else is known of the antenna."""

    radials: Annotated[int | None, options.of_fact("radials")] = None
    radial_length: Annotated[str | None, options.of_fact("radial_length")] = None
    radial_height: Annotated[str | None, options.of_fact("radial_height")] = None
    radials_on_ground: Annotated[
        bool, typer.Option("--radials-on-ground", help="As --radial-height '0 m'.")
    ] = False
    counterpoise: Annotated[str | None, options.of_fact("counterpoise")] = None
    choke_at: Annotated[str | None, options.of_fact("choke_at", "LEN|none")] = None
    coil: Annotated[str | None, options.of_fact("coil")] = None
    transformer: Annotated[str | None, options.of_fact("transformer")] = None

    def known(self, facts: Mapping[str, Any]) -> Known:
        """What a kind of antenna takes beside its length: as the options say, else as the records know.

        Raises ``BadInput``: a length or an inductance that is none.
        """
        from sweepkit.antennas.kind import known_beside
        from sweepkit.quantities import parse_inductance_h
        from sweepkit.trim.request import parse_positive_m, parse_ratio

        def length_m(text: str | None, option: str) -> float | None:
            return None if text is None else parse_positive_m(text, option)

        return known_beside(
            facts,
            radials=self.radials,
            radial_length_m=length_m(self.radial_length, "--radial-length"),
            radial_height_m=self._radial_height_m(),
            radials_on_ground=self.radials_on_ground,
            choke_at=self.choke_at,
            counterpoise_m=length_m(self.counterpoise, "--counterpoise"),
            coil_h=None if self.coil is None else parse_inductance_h(self.coil),
            transformer=None if self.transformer is None else parse_ratio(self.transformer),
        )

    def _radial_height_m(self) -> float | None:
        """Height of the radials, 0 on the ground; below it there is none."""
        from sweepkit.errors import BadInput
        from sweepkit.quantities import parse_length_m

        if self.radial_height is None:
            return None
        height_m = parse_length_m(self.radial_height)
        if height_m < 0:
            raise BadInput(
                f"--radial-height is {self.radial_height!r}; 0 m on the ground or more was expected"
            )
        return height_m


@dataclass(frozen=True, kw_only=True)
class Tapped(OptionGroup):
    """A coil with taps, and a whip that slides."""

    tap: Annotated[float | None, options.of_fact("tap")] = None
    turns: Annotated[float | None, options.of_fact("turns")] = None
    tap_step: Annotated[float | None, options.of_fact("tap_step")] = None
    coil_diameter: Annotated[str | None, options.of_fact("coil_diameter")] = None
    coil_pitch: Annotated[str | None, options.of_fact("coil_pitch")] = None
    whip_range: Annotated[str | None, options.of_fact("whip_range", "LOW-HIGH")] = None
    one_length: Annotated[
        bool, typer.Option("--one-length", help="One whip length for all places; only the tap changes.")
    ] = False

    def __bool__(self) -> bool:
        return any(value is not None and value is not False for value in vars(self).values())


@dataclass(frozen=True, kw_only=True)
class Told:
    """All options as they were written."""

    files: Sequence[Path]
    antenna: str | None
    log: Path | None
    wire: Wire
    wanted: Wanted
    beside: Beside
    tapped: Tapped
    gear: Gear
    region: int | None
    checks: Checks
    drawn: Drawn
    output: Output
    card: bool
    imperial: bool
    reading: Reading
