"""``sweepkit log export``, ``import`` and ``check``: the logbook as files, and whether it is whole."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Annotated

import typer

from sweepkit.cli import log_place, options
from sweepkit.cli.exits import Exit, say_error, with_exit_code
from sweepkit.cli.log_place import open_named, say
from sweepkit.errors import BadInput


@with_exit_code
def export(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="To be made.")],
    force: Annotated[bool, typer.Option("--force", help="Replace an earlier export.")] = False,
    log: log_place.Log = None,
    as_json: options.Json = False,
) -> Exit:
    """Write everything to a folder that needs no sweepkit to be read: raw files, CSV, JSON."""
    from sweepkit.cli.log_json import print_json
    from sweepkit.logbook import export_logbook

    with open_named(log) as opened:
        count = export_logbook(opened, folder, force=force)
    if as_json:
        print_json("log-export", folder=str(folder), sweeps=count)
    else:
        print(f"{count} sweeps written to {folder}")
    return Exit.DONE


@with_exit_code
def import_(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="Made by log export.")],
    log: log_place.Log = None,
    as_json: options.Json = False,
) -> Exit:
    """Read an export back; doing it again changes nothing."""
    from sweepkit.cli.log_json import imported_json, print_json
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


@with_exit_code
def check(log: log_place.Log = None, as_json: options.Json = False) -> Exit:
    """Check that the logbook is whole: the file, every raw file against its hash, every record."""
    from sweepkit.cli.log_json import print_json
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
