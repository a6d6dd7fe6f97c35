"""``sweepkit log``: keep sweeps with their setups in one file; ``add`` and ``figures`` have modules of their own."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from sweepkit.cli import log_add, log_figures, log_place, options
from sweepkit.cli.exits import Exit, say_error
from sweepkit.cli.help import list_of
from sweepkit.cli.log_place import open_named, say
from sweepkit.cli.option_groups import command
from sweepkit.cli.options import argument, flag, option
from sweepkit.errors import BadInput
from sweepkit.visible import visible

if TYPE_CHECKING:
    from sweepkit.facts import Level
    from sweepkit.logbook import Edit, Listed, Logbook, LoggedSweep, Setup

Id = Annotated[str, typer.Argument(metavar="ID", help="A sweep (12) or a setup (S4).")]


@command
def export(
    folder: Path = argument("FOLDER", "To be made."),
    force: bool = flag("--force", "Replace an earlier export."),
    log: log_place.Log = None,
    as_json: options.Json = False,
) -> Exit:
    """Write everything to a folder that needs no sweepkit to be read: raw files, CSV, JSON."""
    from sweepkit.cli.log_shown import print_json
    from sweepkit.logbook import export_logbook

    with open_named(log) as opened:
        count = export_logbook(opened, folder, force=force)
    if as_json:
        print_json("log-export", folder=str(folder), sweeps=count)
    else:
        print(f"{count} sweeps written to {folder}")
    return Exit.DONE


@command
def import_(
    folder: Path = argument("FOLDER", "Made by log export."),
    log: log_place.Log = None,
    as_json: options.Json = False,
) -> Exit:
    """Read an export back; doing it again changes nothing."""
    from sweepkit.cli.log_shown import imported_json, print_json
    from sweepkit.logbook import import_logbook, read_export
    from sweepkit.quantities import count_text

    contents = read_export(folder)  # checked before a logbook is made for a folder that is no export
    with open_named(log, create=True) as opened:
        done = import_logbook(opened, contents)
    if contents.left_out:
        say(
            f"{len(contents.left_out)} damaged parts were left out of this export; logbook.json names them; "
            "raw files in damaged/ can be added with log add"
        )
    if done.mended:
        say(f"damaged or incomplete here and put back from the export: {', '.join(done.mended)}")
    for number, twin in done.same_file:
        say(f"sweep {number} holds the same file as sweep {twin}; both were kept")
    if as_json:
        print_json("log-import", **imported_json(done))
        return Exit.DONE
    new = f"{count_text(len(done.sweeps), 'sweep')}, {count_text(done.setups, 'setup')}"
    print(
        f"new: {new}, {count_text(done.edits, 'edit')}; there already: {count_text(done.there_already, 'sweep')}"
    )
    for there, here in done.sweeps.items():
        if there != here:
            print(f"sweep {there} of the export is sweep {here} here")
    return Exit.DONE


@command
def check(log: log_place.Log = None, as_json: options.Json = False) -> Exit:
    """Check that the logbook is whole: the file, every raw file against its hash, every record."""
    from sweepkit.cli.log_shown import print_json
    from sweepkit.logbook import check_logbook
    from sweepkit.quantities import count_text

    with open_named(log, is_quiet=True) as opened:
        found = check_logbook(opened)
        path = str(opened.path)
    if as_json:
        print_json("log-check", whole=not found.problems, **asdict(found))
    else:
        counted = {"sweep": found.sweeps, "setup": found.setups, "raw file": found.raw_files}
        counts = ", ".join(count_text(count, noun) for noun, count in counted.items())
        word = "NOT whole" if found.problems else "whole"
        print(f"{path} is {word}: {counts} of {found.raw_bytes} bytes")
    for problem in found.problems:
        say_error(BadInput(problem, path=path))
    if found.problems:
        say(
            "keep this file; log export DIR and log import DIR into a new logbook give back all that is whole, "
            "log edit ID --accept takes a record as it reads, and log add puts a damaged raw file back"
        )
    return Exit.CANNOT_RUN if found.problems else Exit.DONE


@command
def list_(
    antenna: log_place.Antenna = None,
    site: log_place.Site = None,
    log: log_place.Log = None,
    as_json: options.Json = False,
) -> Exit:
    """List the sweeps in the order they were swept."""
    from sweepkit.logbook import list_lines, list_sweeps

    with open_named(log) as opened:
        if as_json:
            sweeps = list_sweeps(opened, antenna=antenna, site=site)
        else:
            lines = list_lines(opened, antenna=antenna, site=site)
    if as_json:
        from sweepkit.cli.log_shown import print_json, sweep_json

        print_json("log-list", sweeps=[sweep_json(sweep) for sweep in sweeps])
    elif lines:
        from sweepkit.cli.log_shown import sweep_table

        print(sweep_table(lines))
    else:
        say("no such sweeps are in the logbook")
    return Exit.DONE


@command
def show(record: Id, log: log_place.Log = None, as_json: options.Json = False) -> Exit:
    """Show all that is known of a sweep or a setup, with its history."""
    from sweepkit.cli.log_figures import figures_json, figures_of, figures_text
    from sweepkit.logbook import list_lines, read_history

    with open_named(log) as opened:
        setup, sweeps, chosen = _find(opened, record)
        history = read_history(opened, sweep=chosen, setup=setup)
        figures = figures_of(opened, chosen) if chosen else None
        lines = [] if chosen else list_lines(opened, setup=setup.number)
    if as_json:
        from sweepkit.cli.log_shown import print_json, setup_json, sweep_json

        own = [sweep_json(sweep) for sweep in sweeps]
        if figures:
            own[0]["figures"] = figures_json(figures)
        print_json("log-show", setup=setup_json(setup), sweeps=own, history=history)
    else:
        _print_record(setup, chosen, figures_text(figures) if figures else None, lines, history)
    return Exit.DONE


@command
def edit(
    record: Id,
    settings: log_place.Settings = None,
    setup: str | None = option("--setup", "Move the sweep to this setup.", "S4"),
    accept: bool = flag("--accept", "Take a damaged record as it reads for right, before anything else."),
    exact_place: log_place.ExactPlace = False,
    log: log_place.Log = None,
    as_json: options.Json = False,
) -> Exit:
    """Correct facts; what stood there before is kept."""
    from sweepkit.logbook import edit_setup, edit_sweep, parse_facts, refuse_exact_place, setup_number

    facts = parse_facts(settings or ())
    if not exact_place:
        refuse_exact_place(facts)
    if not facts and setup is None and not accept:
        raise BadInput("nothing to change was given; a fact was expected; write it like --set ground=wet")
    to_setup = setup_number(setup) if setup is not None else None
    with open_named(log) as opened:
        if accept:
            _accept(opened, record)
        whole, _, sweep = _find(opened, record)
        if sweep is not None:
            edits = edit_sweep(opened, sweep.id, facts, to_setup=to_setup)
        elif to_setup is None:
            edits = edit_setup(opened, whole.number, facts)
        else:
            raise BadInput(f"{record} is a setup; only a sweep moves to another setup; give its number")
    if as_json:
        from sweepkit.cli.log_shown import print_json

        print_json("log-edit", edits=edits)
    else:
        _print_edits(edits, is_all=not accept)
    return Exit.DONE


def _find(opened: Logbook, text: str) -> tuple[Setup, list[LoggedSweep], LoggedSweep | None]:
    """The setup a person means, its sweeps or the one meant, and that one."""
    from sweepkit.logbook import find_setup, find_sweep

    level, number = _numbered(text)
    if level == "sweep":
        sweep = find_sweep(opened, number)
        return sweep.setup, [sweep], sweep
    setup, sweeps = find_setup(opened, number)
    return setup, sweeps, None


def _numbered(text: str) -> tuple[Level, int]:
    """What a person means by ``12`` or ``S4``."""
    from sweepkit.logbook import setup_number

    if text.isascii() and text.isdigit() and len(text) <= 18:
        return "sweep", int(text)
    if text[:1] not in ("S", "s"):
        raise BadInput(f"{text!r} is no number of the logbook; write 12 for a sweep, S4 for a setup")
    return "setup", setup_number(text)


def _print_record(
    setup: Setup, chosen: LoggedSweep | None, figures: str | None, lines: list[Listed], history: list[Edit]
) -> None:
    """A setup with its sweeps on a line each, or with the one chosen in full; then the history."""
    from sweepkit.cli.log_shown import edit_text, record_text, sweep_table, wrapped

    print(wrapped(f"setup {setup.id}, added {setup.added}\n{record_text(setup)}"))
    if chosen:
        print(wrapped(f"sweep {chosen.id}, {visible(chosen.name)}, added {chosen.added}"))
        print(wrapped(f"  sha256 = {chosen.sha256}\n{record_text(chosen)}\n{figures}"))
    elif lines:
        print(sweep_table(lines))
    for change in history:
        print(wrapped(f"edited {change.at}: {edit_text(change)}"))


def _accept(opened: Logbook, text: str) -> None:
    """Sign a record as it reads, and say what of it became unknown."""
    from sweepkit.logbook import accept_record

    level, number = _numbered(text)
    lost = accept_record(opened, level, number)
    say(f"{text} was taken as it reads" + (f"; no longer known: {', '.join(lost)}" if lost else ""))


def _print_edits(edits: list[Edit], *, is_all: bool) -> None:
    from sweepkit.cli.log_shown import edit_text

    for change in edits:
        print(edit_text(change))
    if not edits and is_all:
        say("all of that was so already; nothing was changed")


app = list_of(
    {
        "add": log_add.add,
        "list": list_,
        "show": show,
        "edit": edit,
        "figures": log_figures.refresh,
        "export": export,
        "import": import_,
        "check": check,
    },
    "Keep sweeps with their setups in one file.",
)
