"""``sweepkit compare``: two or more sweeps or logged setups, as text, JSON or a table."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import nullcontext
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sweepkit.cli import log_place, options
from sweepkit.cli.exits import Exit
from sweepkit.cli.log_place import known_antenna, line_and_place
from sweepkit.cli.option_groups import Between, Checks, Drawn, Gear, OptionGroup, Output, Reading, command
from sweepkit.cli.options import argument, option
from sweepkit.cli.reporting import deliver_page
from sweepkit.errors import BadInput
from sweepkit.facts import SETUP_FILE
from sweepkit.saving import check_target, save_bytes

if TYPE_CHECKING:
    from sweepkit.kit import Kit
    from sweepkit.sweep import Sweep


@dataclass(frozen=True, kw_only=True)
class Chosen(OptionGroup):
    """What is compared, and what holds for all files."""

    antenna: list[str] | None = option(
        "--antenna", "Setups of this antenna in the logbook; repeat for more.", "NAME"
    )
    site: log_place.Site = None
    log: log_place.Log = None
    by: str = option(
        "--by", "What is compared.", "setup|site|antenna|radials|line|ground|month", default="setup"
    )
    kind: str | None = option(
        "--kind",
        "Of the antenna in the files: dipole, vertical, end-fed, fan, ...; all of them under trim --kind.",
        "KIND",
    )
    band: str | None = option("--band", 'Compare the dip of this band, such as "40 m".', "NAME")
    region: options.Region = None
    table: Path | None = option("--csv", "Write a table: a row per setup.", "FILE")


@command
def compare(
    *,
    files: list[Path] | None = argument("FILE...", "Sweep files, or folders of them.", default=None),
    chosen: Chosen,
    between: Between,
    gear: Gear,
    checks: Checks,
    drawn: Drawn,
    output: Output,
    reading: Reading,
) -> Exit:
    """Compare sites, setups, antennas: same, different, or cannot say, and why."""
    from sweepkit.answers.comparison import compare as compared
    from sweepkit.cli.files import load_sweeps
    from sweepkit.kit import as_kit
    from sweepkit.report.compare_page import compare_page

    named = tuple(files or ())
    inputs = (*named, *checks.inputs, *log_place.as_input(chosen.log))
    if chosen.table is not None:
        check_target(chosen.table, force=output.force, inputs=inputs)
    output.check(inputs)
    kit = as_kit(gear.kit)
    known: dict[str, Any] = {
        "by": chosen.by,
        "band": chosen.band,
        "region": chosen.region,
        "rung": between.rung(),
    }
    if named:
        known["checks"] = checks.read(kit)
    is_logged = bool(chosen.antenna) or not named
    loaded = list(load_sweeps(list(named), **reading.hints(kit))) if named else []
    sweeps = [each.sweep for each in loaded if each.sweep is not None]
    if named:
        known |= _told(sweeps, named, chosen, gear, kit)
    if not sweeps and (named or not (chosen.antenna or log_place.is_there(chosen.log))):
        raise BadInput(
            "there is nothing to compare; name two files or more, --antenna NAME, or --log PATH for all of a logbook"
        )
    with log_place.open_named(chosen.log) if is_logged else nullcontext() as log:
        comparison = compared(sweeps, log=log, antennas=chosen.antenna, kit=kit, **known, **drawn.both())
    page = partial(
        compare_page,
        comparison,
        sweeps=sweeps,
        logbook=str(log_place.meant(chosen.log)) if is_logged else "",
        made=drawn.made(gear.kit),
    )

    def write_table(path: Path) -> None:
        from sweepkit.report.tables import compare_csv

        save_bytes(path, compare_csv(comparison).encode("utf-8"), force=output.force, inputs=inputs)

    code = deliver_page(output, page, comparison.to_json, inputs, (chosen.table, write_table))
    return max(code, Exit.CANNOT_RUN if any(each.sweep is None for each in loaded) else Exit.DONE)


def _told(
    sweeps: Sequence[Sweep], named: Sequence[Path], chosen: Chosen, gear: Gear, kit: Kit
) -> dict[str, Any]:
    """What holds for all files, with line and place; of a named antenna as its records know it, and of one sweep that
    is in the logbook as it is logged.
    """
    from sweepkit.records.antenna import standing_facts

    facts = _told_facts(chosen)
    lines, place = gear.line_and_place(kit)
    if chosen.antenna and not any((Path(file).parent / SETUP_FILE).is_file() for file in named):
        known = known_antenna(chosen.antenna[0], kit, chosen.log)
        known = known.of_sweep(sweeps[0].source.sha256) if len(sweeps) == 1 else known
        lines, place = line_and_place(known, kit, gear)
        facts = {**(known.facts if known.is_present else standing_facts(known.facts)), **facts}
    return {"told": facts, "lines": lines, "measured_at": place}


def _told_facts(chosen: Chosen) -> dict[str, Any]:
    """What the options say of all files."""
    from sweepkit.antennas.catalogue import known_kind

    told: dict[str, Any] = {} if chosen.site is None else {"site": chosen.site}
    if chosen.kind is not None:
        told["kind"] = known_kind(chosen.kind)
    if chosen.antenna is not None:
        if len(chosen.antenna) > 1:
            raise BadInput("files belong to one antenna; give --antenna once, or compare logged setups only")
        told["antenna"] = chosen.antenna[0]
    return told
