"""``sweepkit log``: keep sweeps with their setups in one file, and get them back."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from sweepkit.cli.log_json import added_json, edit_json, error_json, print_json, setup_json, sweep_json
from sweepkit.cli.log_place import LogOption, open_named
from sweepkit.errors import BadInput, SweepkitError
from sweepkit.logbook.fields import BY_NAME

if TYPE_CHECKING:
    from sweepkit.cli.log_adding import GoodFile, Outcome
    from sweepkit.logbook import Logbook, LoggedSweep, Setup

app = typer.Typer(help="Keep sweeps with their setups in one file.", no_args_is_help=True)

JsonOption = Annotated[bool, typer.Option("--json", help="One JSON document on stdout.")]
SetOption = Annotated[
    list[str] | None,
    typer.Option(
        "--set", metavar="KEY=VALUE", help="One fact, say ground=wet; 'unknown' or nothing takes it back."
    ),
]
AntennaOption = Annotated[
    str | None, typer.Option("--antenna", metavar="NAME", help="Your own name of the antenna.")
]
SiteOption = Annotated[str | None, typer.Option("--site", metavar="NAME", help="Your own name of the place.")]
ExactOption = Annotated[
    bool, typer.Option("--exact-place", help="Keep a locator finer than four characters.")
]
IdArgument = Annotated[str, typer.Argument(metavar="ID", help="A sweep (12) or a setup (S4).")]


@app.command()
def add(
    files: Annotated[
        list[Path], typer.Argument(metavar="FILE...", help="Sweeps, in the order they were swept.")
    ],
    site: SiteOption = None,
    antenna: AntennaOption = None,
    line: Annotated[
        list[str] | None,
        typer.Option("--line", metavar="SPEC", help="A piece of line; in order from the radio."),
    ] = None,
    measured_at: Annotated[
        str | None, typer.Option("--measured-at", metavar="PLACE", help="radio or feedpoint.")
    ] = None,
    when: Annotated[
        str | None,
        typer.Option(
            "--when", metavar="TIME", help="ISO 8601 with zone; 'now'; 'file': when the file was written."
        ),
    ] = None,
    settings: SetOption = None,
    setup: Annotated[
        str | None, typer.Option("--setup", metavar="S4|last", help="Add to a setup that still stands.")
    ] = None,
    fresh: Annotated[bool, typer.Option("--fresh", help="Take nothing over from the last setup.")] = False,
    exact_place: ExactOption = False,
    kit: Annotated[
        Path | None, typer.Option("--kit", metavar="KIT.TOML", help="Keep this kit file with the setup.")
    ] = None,
    columns: Annotated[str | None, typer.Option("--columns", help="What each column holds.")] = None,
    unit: Annotated[str | None, typer.Option("--unit", help="Unit of the frequencies.")] = None,
    decimal: Annotated[str | None, typer.Option("--decimal", help="Decimal mark: comma or point.")] = None,
    reference_ohm: Annotated[
        float | None, typer.Option("--reference-ohm", help="Reference resistance.")
    ] = None,
    trace: Annotated[str | None, typer.Option("--trace", help="Which reflection of several.")] = None,
    recover_sign: Annotated[
        bool, typer.Option("--recover-sign", help="Find the sign of the reactance.")
    ] = False,
    log: LogOption = None,
    as_json: JsonOption = False,
) -> None:
    """Store sweeps; their numbers are printed once they are safely on disk."""
    from sweepkit.cli.log_adding import Request, add_folder, by_folder, parse_facts
    from sweepkit.logbook.raw import read_file

    short = {"site": site, "antenna": antenna, "measured_at": measured_at, "when": when}
    told = [f"{key}={value}" for key, value in short.items() if value is not None]
    told += [f"line={piece}" for piece in line or ()]
    hints = {
        "columns": columns, "unit": unit, "decimal": decimal, "reference_ohm": reference_ohm, "trace": trace,
        "recover_sign": recover_sign or None,
    }  # fmt: skip
    request = Request(
        parse_facts([*told, *(settings or ())]),
        {name: value for name, value in hints.items() if value is not None},
        fresh,
        exact_place,
        setup,
        read_file(kit) if kit else None,
    )
    good, errors = _read_all(files, request.hints)
    added: list[dict[str, Any]] = []
    if good:
        with open_named(log, create=True) as opened:
            for group in by_folder(good):
                try:
                    outcome = add_folder(opened, group, request)
                except SweepkitError as error:
                    errors.append(error)
                    continue
                added += added_json(outcome)
                errors += _tell(outcome, ids=not as_json)
    if as_json:
        print_json("log-add", sweeps=added, errors=[error_json(error) for error in errors])
    _end(errors)


@app.command(name="list")
def list_(
    antenna: AntennaOption = None, site: SiteOption = None, log: LogOption = None, as_json: JsonOption = False
) -> None:
    """List the sweeps in the order they were swept."""
    from sweepkit.cli.log_text import sweep_table
    from sweepkit.logbook import list_sweeps

    with open_named(log) as opened:
        sweeps = list_sweeps(opened, antenna=antenna, site=site)
    if as_json:
        print_json("log-list", sweeps=[sweep_json(sweep) for sweep in sweeps])
    elif sweeps:
        print(sweep_table(sweeps))
    else:
        _say("no sweeps of this kind are in the logbook")


@app.command()
def show(record: IdArgument, log: LogOption = None, as_json: JsonOption = False) -> None:
    """Show all that is known of a sweep or a setup, with its history."""
    from sweepkit.cli.log_text import edit_text, printable, record_text, sweep_table
    from sweepkit.logbook import read_history

    with open_named(log) as opened:
        setup, sweeps, chosen = _find(opened, record)
        history = read_history(opened, sweep=chosen, setup=setup)
    if as_json:
        print_json(
            "log-show",
            setup=setup_json(setup),
            sweeps=[sweep_json(sweep) for sweep in sweeps],
            history=[edit_json(change) for change in history],
        )
        return
    print(f"setup {setup.id}, added {setup.added}\n{record_text(setup)}")
    for sweep in sweeps if chosen else ():
        print(f"sweep {sweep.id}, {printable(sweep.name)}, added {sweep.added}\n  sha256 = {sweep.sha256}")
        print(record_text(sweep))
    if not chosen and sweeps:
        print(sweep_table(sweeps))
    for change in history:
        print(f"edited {change.at}: {edit_text(change)}")


@app.command()
def edit(
    record: IdArgument,
    settings: SetOption = None,
    setup: Annotated[
        str | None, typer.Option("--setup", metavar="S4", help="Move the sweep to this setup.")
    ] = None,
    exact_place: ExactOption = False,
    log: LogOption = None,
    as_json: JsonOption = False,
) -> None:
    """Correct facts; what stood there before is kept."""
    from sweepkit.cli.log_adding import keep_place_coarse, parse_facts, setup_number
    from sweepkit.cli.log_text import edit_text
    from sweepkit.logbook import edit_setup, edit_sweep, move_sweep

    facts = parse_facts(settings or ())
    keep_place_coarse(facts, exact=exact_place)
    if not facts and setup is None:
        raise BadInput("nothing to change was given; write it like --set ground=wet")
    with open_named(log) as opened:
        _, _, sweep = _find(opened, record)
        if sweep is None and setup is not None:
            raise BadInput(f"{record} is a setup; only a sweep moves to another setup; give its number")
        edits = move_sweep(opened, sweep.id, to_setup=setup_number(setup)) if sweep and setup else []
        if facts:
            edits += (
                edit_sweep(opened, sweep.id, facts)
                if sweep
                else edit_setup(opened, setup_number(record), facts)
            )
    if as_json:
        print_json("log-edit", edits=[edit_json(change) for change in edits])
        return
    for change in edits:
        print(edit_text(change))
    if not edits:
        _say("all of that was so already; nothing was changed")


@app.command()
def export(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="To be made.")],
    force: Annotated[bool, typer.Option("--force", help="Replace an earlier export.")] = False,
    log: LogOption = None,
    as_json: JsonOption = False,
) -> None:
    """Write everything to a folder that needs no sweepkit to be read: raw files, CSV, JSON."""
    from sweepkit.logbook import export_logbook

    with open_named(log) as opened:
        count = export_logbook(opened, folder, force=force)
    if as_json:
        print_json("log-exported", folder=str(folder), sweeps=count)
    else:
        print(f"{count} sweeps written to {folder}")


@app.command(name="import")
def import_(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="Made by log export.")],
    log: LogOption = None,
    as_json: JsonOption = False,
) -> None:
    """Read an export back; doing it again changes nothing."""
    from sweepkit.logbook import import_logbook
    from sweepkit.logbook.export_file import read_export

    export = read_export(folder)  # before a logbook is made for a folder that is none
    with open_named(log, create=True) as opened:
        done = import_logbook(opened, export)
    for number, twin in done.same_file:
        _say(f"sweep {number} holds the same file as sweep {twin}; both were kept")
    if as_json:
        print_json(
            "log-import",
            sweeps=[{"number_there": there, "id": here} for there, here in done.sweeps.items()],
            setups=done.setups,
            edits=done.edits,
            there_already=done.there_already,
        )
        return
    print(
        f"{len(done.sweeps)} sweeps, {done.setups} setups and {done.edits} edits are new; "
        f"{done.there_already} sweeps were there already"
    )
    for there, here in done.sweeps.items():
        if there != here:
            print(f"sweep {there} of the export is sweep {here} here")


@app.command()
def check(log: LogOption = None, as_json: JsonOption = False) -> None:
    """Check that the logbook is whole: the file, every raw file against its hash, every record."""
    from sweepkit.logbook import check_logbook

    with open_named(log) as opened:
        found = check_logbook(opened)
        path = str(opened.path)
    if as_json:
        print_json("log-check", whole=not found.problems, **asdict(found))
    else:
        word = "whole" if not found.problems else "NOT whole"
        print(
            f"{path} is {word}: {found.sweeps} sweeps, {found.setups} setups, "
            f"{found.raw_files} raw files of {found.raw_bytes} bytes"
        )
    _end(
        [
            BadInput(f"{problem}; keep this file, and go back to a copy or an export", path=path)
            for problem in found.problems
        ]
    )


def _read_all(files: list[Path], hints: Mapping[str, Any]) -> tuple[list[GoodFile], list[SweepkitError]]:
    """The files that are sweeps, and an error for each other; files of a folder that are none are noted."""
    from sweepkit.cli.log_adding import read_good_file

    good: list[GoodFile] = []
    errors: list[SweepkitError] = []
    for path in files:
        inside = sorted(entry for entry in path.iterdir() if entry.is_file()) if path.is_dir() else None
        for file in [path] if inside is None else inside:
            try:
                good.append(read_good_file(file, hints))
            except SweepkitError as error:
                if inside is None:
                    errors.append(error)
                else:
                    _say(f"{error}; left out")
    return good, errors


def _tell(outcome: Outcome, *, ids: bool) -> list[SweepkitError]:
    """Print ids, say what was taken over or was there already; stated facts that did not enter are errors."""
    from sweepkit.cli.log_text import facts_text, printable

    if outcome.source:
        _say(f"not stated, from setup {outcome.source.id} of this antenna: {facts_text(outcome.taken_over)}")
        _say("log edit corrects what is no longer so; --fresh takes nothing over")
    if outcome.may_still_stand:
        still = outcome.may_still_stand.id
        _say(f"a new setup was made; if {still} still stood, log edit ID --setup {still} joins them")
    if outcome.unknown:
        _say(f"not known yet: {', '.join(BY_NAME[name].key for name in outcome.unknown)}; log edit adds it")
    errors: list[SweepkitError] = []
    for file, added in outcome.added:
        if ids:
            print(added.id, flush=True)
        there = f"in the logbook already as sweep {added.id} of setup {added.setup}"
        if added.differs:
            keys = ", ".join(BY_NAME[name].key for name in added.differs)
            text = f"this file is {there}, with another {keys}; it was not changed; use log edit {added.id}"
            errors.append(BadInput(text, path=str(file.path)))
        elif not added.new:
            _say(f"{printable(str(file.path))} is {there}; nothing was added for it")
    return errors


def _find(opened: Logbook, text: str) -> tuple[Setup, list[LoggedSweep], LoggedSweep | None]:
    """The setup a person means, its sweeps or the one meant, and that one."""
    from sweepkit.cli.log_adding import setup_number
    from sweepkit.logbook import find_setup, find_sweep

    if text.isascii() and text.isdigit() and len(text) <= 18:
        sweep = find_sweep(opened, int(text))
        return sweep.setup, [sweep], sweep
    if text[:1] not in ("S", "s"):
        raise BadInput(f"{text!r} is no number of the logbook; write 12 for a sweep, S4 for a setup")
    setup, sweeps = find_setup(opened, setup_number(text))
    return setup, sweeps, None


def _say(text: str) -> None:
    """A note on stderr."""
    print(f"sweepkit: {text}", file=sys.stderr)


def _end(errors: list[SweepkitError]) -> None:
    """A line for each error, and exit code 2 where there is one."""
    for error in errors:
        _say(str(error))
    if errors:
        raise typer.Exit(2)
