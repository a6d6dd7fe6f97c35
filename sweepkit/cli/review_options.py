"""The options of ``sweepkit review`` in groups, and what each group means."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from sweepkit.cli import log_place, options, reporting
from sweepkit.cli.option_groups import OptionGroup
from sweepkit.cli.options import flag, option
from sweepkit.errors import BadInput
from sweepkit.saving import check_target

if TYPE_CHECKING:
    from sweepkit.bands import Band
    from sweepkit.kit import Kit


@dataclass(frozen=True, kw_only=True)
class Named(OptionGroup):
    """The antenna in the operator's records."""

    antenna: str | None = option("--antenna", "Line from your kit or logbook; is it as usual?", "NAME")
    site: log_place.Site = None
    log: log_place.Log = None


@dataclass(frozen=True, kw_only=True)
class Judged(OptionGroup):
    """What the sweep is judged for."""

    region: options.Region = None
    band: list[str] | None = option(
        "--band", 'Judge this band only, such as "40 m"; repeat for more.', "NAME"
    )
    bands: Path | None = option("--bands", "Your own band table in place of the built-in one.", "FILE")
    swr_limit: float | None = option("--swr-limit", "Highest SWR for direct use.", "X", limit="swr")
    volts: str | None = option("--volts", "Supply voltage of the radio, for the kit's power_at_volts.", "V")

    strict: bool = flag(
        "--strict", "Exit 1 when a --band is no or cannot be said; without one, when no band is usable."
    )

    def wanted(self, gear: Kit) -> tuple[Band, ...]:
        """The bands that were named, else all of the table."""
        from sweepkit.bands import OWN_TABLE, find_band, read_bands

        table = OWN_TABLE if self.bands is None else self.bands
        known = read_bands(table, region=gear.region if self.region is None else self.region)
        return tuple(find_band(known, name) for name in self.band) if self.band else known

    @property
    def told_keys(self) -> list[str]:
        """Keys of the kit that options stand for."""
        told = (("region", self.region), ("radio.direct_swr", self.swr_limit))
        return [key for key, value in told if value]

    def on_supply(self, gear: Kit) -> Kit:
        """The gear with the radio on the supply voltage."""
        from sweepkit.quantities import parse_volts

        if self.volts is None:
            return gear
        supply_v = parse_volts(self.volts)
        if not gear.radio.power_at_volts:
            raise BadInput(
                f"--volts {self.volts} is given, but the kit does not say what the radio gives at it; "
                "write power_at_volts = [[13.8, 1.0], [11.5, 0.8]] under [radio]"
            )
        return replace(gear, radio=replace(gear.radio, volts=supply_v))


@dataclass(frozen=True, kw_only=True)
class Joined(OptionGroup):
    """Whether several files give one answer."""

    repeats: bool = flag("--repeats", "The files are the same thing swept again: one answer.")
    setup: bool = flag("--setup", "The files are sweeps of one setup, say one per band: one answer.")

    def __bool__(self) -> bool:
        return self.repeats or self.setup

    def check(self) -> None:
        """Refuse both."""

        if self.repeats and self.setup:
            raise BadInput("--repeats and --setup say different things of the same files; give one of them")


@dataclass(frozen=True, kw_only=True)
class Files(OptionGroup):
    """Files that are written beside the report."""

    plot: Path | None = option("--plot", "Write the picture of one answer: PNG, SVG or PDF.", "FILE")
    table: Path | None = option("--csv", "Write a table: a row per sweep.", "FILE")
    band_table: Path | None = option("--csv-bands", "Write a table: a row per band.", "FILE")

    @property
    def tables(self) -> list[Path]:
        """Those that were asked for."""
        return [path for path in (self.table, self.band_table) if path is not None]

    def check_plot(self, swept: Sequence[Path], *, force: bool, joined: bool) -> None:
        """Refuse a picture that cannot be written, before the work is done."""
        if self.plot is not None:
            reporting.check_plot(self.plot, swept, force=force, one_answer=joined)

    def check_tables(self, inputs: Sequence[Path], *, force: bool) -> None:
        """Refuse tables that cannot be written."""

        for path in self.tables:
            check_target(path, force=force, inputs=tuple(inputs))
        if len({path.absolute() for path in self.tables}) < len(self.tables):
            raise BadInput("--csv and --csv-bands name one file; give each its own", path=str(self.table))
