"""``sweepkit compare``: two or more sweeps or logged setups, as text, JSON or a table."""

from __future__ import annotations

import json
from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from sweepkit.cli import log_place, options, reporting, rung_options
from sweepkit.cli.delivery import deliver
from sweepkit.cli.exits import Exit, with_exit_code

if TYPE_CHECKING:
    from sweepkit.comparison import ComparedSetup
    from sweepkit.sweep import Sweep


@with_exit_code
def compare(
    files: Annotated[
        list[Path] | None, typer.Argument(help="Sweep files, or folders of them.", metavar="FILE...")
    ] = None,
    antenna: Annotated[
        list[str] | None,
        typer.Option(
            "--antenna", help="Setups of this antenna in the logbook; repeat for more.", metavar="NAME"
        ),
    ] = None,
    log: log_place.Log = None,
    by: Annotated[
        str,
        typer.Option(
            "--by", help="What is compared.", metavar="setup|site|antenna|radials|line|ground|month"
        ),
    ] = "setup",
    kind: Annotated[
        str | None, typer.Option("--kind", help="Kind of the antenna in the files.", metavar="KIND")
    ] = None,
    kept: rung_options.Kept = False,
    rejoined: rung_options.Rejoined = False,
    put_up_again: rung_options.PutUpAgain = False,
    same_site: rung_options.SameSite = False,
    band: Annotated[
        str | None,
        typer.Option("--band", help='Compare the dip of this band, such as "40 m".', metavar="NAME"),
    ] = None,
    kit: options.Kit = None,
    line: options.Lines = None,
    measured_at: options.MeasuredAt = None,
    region: options.Region = None,
    draws: options.Draws = 1000,
    seed: options.Seed = 0,
    as_json: options.Json = False,
    explain: options.Explain = False,
    table: Annotated[
        Path | None, typer.Option("--csv", help="Write a table: a row per setup.", metavar="FILE")
    ] = None,
    report: reporting.Report = None,
    force: options.Force = False,
    columns: options.Columns = None,
    unit: options.Unit = None,
    decimal: options.Decimal = None,
    reference_ohm: options.ReferenceOhm = None,
    trace: options.Trace = None,
    recover_sign: options.RecoverSign = False,
) -> Exit:
    """Compare sites, setups, antennas: same, different, or cannot say, and why."""
    from sweepkit.bands import find_band, read_bands
    from sweepkit.cli.files import load_sweeps
    from sweepkit.cli.gear import measured_place, read_gear, resolve_lines
    from sweepkit.cli.logged_antenna import known_antenna, line_and_place, standing_facts
    from sweepkit.comparison import compare_setups, setups_from_sweeps
    from sweepkit.errors import BadInput
    from sweepkit.logbook.setup_file import FILE_NAME
    from sweepkit.report.compare_page import compare_page
    from sweepkit.saving import check_target, save_bytes

    named = tuple(files or ())
    inputs = (*named, *log_place.as_input(log))
    if not named and not antenna and log is None:
        raise BadInput("there is nothing to compare; name two files or more, or --antenna NAME")
    if table is not None:
        check_target(table, force=force, inputs=inputs)
    if report is not None:
        reporting.check_report(report, inputs, force=force)
    gear = read_gear(kit)
    region = gear.region if region is None else region
    wanted = None if band is None else find_band(read_bands(region=region), band)
    told = rung_options.told_rung(
        kept=kept, rejoined=rejoined, put_up_again=put_up_again, same_site=same_site
    )
    logged = _logged(log, antenna, needed=not named)
    failed = False
    sweeps: list[Sweep] = []
    if named:
        hints = {
            "columns": columns,
            "unit": unit,
            "decimal": decimal,
            "reference_ohm": reference_ohm,
            "trace": trace,
            "recover_sign": recover_sign,
            "if_needed": gear.analyzer.hints,
        }
        loaded = list(load_sweeps(list(named), **hints))
        failed = any(each.sweep is None for each in loaded)
        sweeps = [each.sweep for each in loaded if each.sweep is not None]
        told_facts = _told(kind, antenna)
        pieces, place = resolve_lines(line, gear), measured_place(measured_at)
        if antenna and not any((Path(file).parent / FILE_NAME).is_file() for file in named):
            known = known_antenna(antenna[0], gear, log)
            pieces, place = line_and_place(known, gear, line=line, measured_at=measured_at)
            told_facts = {**standing_facts(known.facts), **told_facts}
        setups = setups_from_sweeps(
            sweeps,
            told=told_facts,
            kit=gear,
            lines=pieces,
            measured_at=place,
            region=region,
            draws=draws,
            seed=seed,
        )
        hashes = frozenset(sha256 for setup in setups for sha256 in setup.hashes)
        earlier = [setup for setup in logged if not setup.hashes & hashes]
        if len(setups) == 1:
            setups = [*_baseline(setups[0], earlier), *setups]
            earlier = [setup for setup in earlier if setup not in setups]
        comparison = compare_setups(
            setups, by=_by(by), background=earlier, band=wanted, told=told, direct_swr=gear.radio.direct_swr
        )
    else:
        comparison = compare_setups(
            logged, by=_by(by), band=wanted, told=told, direct_swr=gear.radio.direct_swr
        )
    page = partial(
        compare_page,
        comparison,
        sweeps=sweeps,
        logbook=str(log_place.meant(log)) if logged else "",
        made=reporting.made_now(kit=kit, draws=draws, seed=seed),
    )

    def show() -> None:
        if as_json:
            print(json.dumps(comparison.to_json(), indent=1, allow_nan=False))
        else:
            print(reporting.text_of_page(page(pictures=False), explain=explain))

    def write_table(path: Path) -> None:
        from sweepkit.report.compare_csv import compare_csv

        save_bytes(path, compare_csv(comparison).encode("utf-8"), force=force, inputs=inputs)

    code = deliver(
        show,
        (table, write_table),
        (
            report,
            lambda path: reporting.write_report(
                path, inputs, lambda pictures: [page(pictures=pictures)], force=force
            ),
        ),
    )
    return max(code, Exit.CANNOT_RUN if failed else Exit.DONE)


def _by(text: str) -> Any:
    from sweepkit.comparison import BY
    from sweepkit.errors import BadInput

    if text not in BY:
        raise BadInput(f"--by is {text!r}; it is one of {', '.join(BY)}")
    return text


def _told(kind: str | None, antenna: list[str] | None) -> dict[str, Any]:
    """What the options say of all files."""
    from sweepkit.antennas.catalogue import kind_named
    from sweepkit.errors import BadInput

    told: dict[str, Any] = {}
    if kind is not None:
        told["kind"] = kind_named(kind).name
    if antenna is not None:
        if len(antenna) > 1:
            raise BadInput("files belong to one antenna; give --antenna once, or compare logged setups only")
        told["antenna"] = antenna[0]
    return told


def _baseline(today: ComparedSetup, earlier: Sequence[ComparedSetup]) -> list[ComparedSetup]:
    """The nearest earlier setup of the same antenna, the last of those; none where the logbook has none."""
    from sweepkit.comparison.setups import geometry_of
    from sweepkit.comparison.today import nearest_setups

    alike = [
        one for one in earlier if one.antenna == today.antenna and geometry_of(one) == geometry_of(today)
    ]
    return nearest_setups(today, alike)[0][-1:] if alike else []


def _logged(log: Path | None, antennas: Sequence[str] | None, *, needed: bool) -> list[ComparedSetup]:
    """Setups out of the logbook; an antenna that it does not know is said."""
    from sweepkit.comparison import setups_from_log
    from sweepkit.errors import BadInput

    if not antennas and not needed:
        return []
    with log_place.open_named(log) as opened:
        setups = setups_from_log(opened, antennas=antennas or (None,))
    unknown = set(antennas or ()) - {setup.antenna for setup in setups}
    if unknown:
        name = sorted(unknown)[0]
        raise BadInput(
            f"the logbook has no sweep of {name!r} that can be compared; sweepkit log list shows them"
        )
    return setups
