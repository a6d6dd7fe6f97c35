"""``sweepkit log add``: store sweeps; a number is printed only when its sweep is on disk."""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sweepkit.cli import log_place, options
from sweepkit.cli.exits import Exit, say_error
from sweepkit.cli.log_figures import keep_all
from sweepkit.cli.log_place import open_named, say
from sweepkit.cli.option_groups import Gear, Reading, command
from sweepkit.cli.options import argument, flag, option
from sweepkit.errors import BadInput, SweepkitError
from sweepkit.facts import BY_NAME

if TYPE_CHECKING:
    from sweepkit.kit import Kit
    from sweepkit.logbook import Added, Logbook, Outcome, Request


PIPED_NAME = "stdin"  # of a sweep that came on stdin, in the logbook and where it is exported to


@dataclass
class _Entry:
    """One file of the command line, and in the end what became of it."""

    path: Path
    data: bytes
    answer: dict[str, Any]
    kit_hints: tuple[tuple[str, Any], ...] = ()


@command
def add(
    *,
    files: list[Path] = argument("FILE...", "Sweeps, or folders of them, in the order swept."),
    site: log_place.Site = None,
    antenna: log_place.Antenna = None,
    settings: log_place.Settings = None,
    gear: Gear,
    when: str | None = option(
        "--when", "ISO 8601 with zone; 'now'; 'file': when the file was written.", "TIME"
    ),
    setup: str | None = option("--setup", "Add to a setup that still stands.", "S4|last"),
    fresh: bool = flag("--fresh", "Take nothing over from the last setup."),
    exact_place: log_place.ExactPlace = False,
    reading: Reading,
    log: log_place.Log = None,
    as_json: options.Json = False,
) -> Exit:
    """Store sweeps with their setup; their numbers are printed once they are safely on disk."""
    from sweepkit.cli.log_shown import print_json
    from sweepkit.logbook import Request, parse_facts

    short = {"site": site, "antenna": antenna, "measured_at": gear.measured_at, "when": when}
    told = [f"{key}={value}" for key, value in short.items() if value is not None]
    told += [f"line={piece}" for piece in gear.line or ()]
    facts = parse_facts([*told, *(settings or ())])
    given = reading.told()
    kit_data, kit = _read_kit(gear.kit)
    request = Request(facts, given, fresh, exact_place, setup, kit_data, kit)
    entries = _read(files, {**given, "if_needed": {} if kit is None else kit.analyzer.hints})
    good = [entry for entry in entries if not entry.answer]
    if good:
        with open_named(log, create=True) as opened:
            for (_, kit_hints), group in groupby(
                good, key=lambda entry: (entry.path.parent, entry.kit_hints)
            ):
                own = replace(request, hints={**given, **dict(kit_hints)})
                _add_group(opened, list(group), own, prints_ids=not as_json)
    if as_json:
        print_json("log-add", sweeps=[entry.answer for entry in entries])
    added = [entry.answer["id"] for entry in good if entry.answer.get("new") and "piece" not in facts]
    if added:
        sys.stdout.flush()  # what was stored is told before any review can fail
        with open_named(log) as opened:
            keep_all(opened, added)
    return Exit.CANNOT_RUN if any("text" in entry.answer for entry in entries) else Exit.DONE


def _read_kit(path: Path | None) -> tuple[bytes | None, Kit | None]:
    """The kit file as bytes, to be kept, and as gear."""
    if path is None:
        return None, None
    from sweepkit.kit import read_kit
    from sweepkit.logbook.raw import read_file

    gear = read_kit(path)
    return read_file(path), gear


def _read(files: list[Path], hints: dict[str, Any]) -> list[_Entry]:
    """Every file that is named: with its bytes where the readers make a sweep of it, else with its error."""
    from sweepkit.cli.files import error_json, load_sweeps
    from sweepkit.logbook.raw import read_file, sha256_of

    entries = []
    for loaded in load_sweeps(files, **hints):
        entry = _Entry(Path(loaded.path), b"", error_json(loaded) if loaded.sweep is None else {})
        entries.append(entry)
        if loaded.sweep is None:
            continue
        entry.kit_hints = loaded.sweep.source.hints
        try:
            if loaded.piped is not None:
                entry.path, entry.data = Path(PIPED_NAME), loaded.piped
                continue
            entry.data = read_file(entry.path)
            if sha256_of(entry.data) != loaded.sweep.source.sha256:
                raise BadInput("the file changed while it was read; add it again", path=loaded.path)
        except SweepkitError as error:
            _fail([entry], error)
    return entries


def _add_group(opened: Logbook, group: list[_Entry], request: Request, *, prints_ids: bool) -> None:
    """Add the files of one folder and say what became of them."""
    from sweepkit.logbook import add_outing

    try:
        outcome = add_outing(opened, [(entry.path, entry.data) for entry in group], request)
    except SweepkitError as error:
        _fail(group, error)
        return
    _tell(outcome)
    for entry, added in zip(group, outcome.added, strict=True):
        if prints_ids:
            print(added.id, flush=True)
        _answer(entry, added, outcome)


def _fail(group: list[_Entry], error: SweepkitError) -> None:
    """Say what kept these files out, once, and leave it in the place of each."""
    from sweepkit.cli.files import Loaded, error_json

    say_error(error)
    for entry in group:
        entry.answer = error_json(Loaded(str(entry.path), None, error))


def _tell(outcome: Outcome) -> None:
    """Say what nobody stated, and what nobody knows."""
    from sweepkit.cli.log_shown import facts_text

    if outcome.taken_over:
        say(f"not stated, so from {outcome.source}: {facts_text(outcome.taken_over)}")
        say("log edit corrects what is no longer so; --fresh takes nothing over")
    if outcome.may_still_stand:
        still = outcome.may_still_stand.id
        say(f"a new setup was made; if {still} still stood, log edit ID --setup {still} joins them")
    if outcome.unknown:
        say(f"not known yet: {', '.join(BY_NAME[name].key for name in outcome.unknown)}; log edit adds it")


def _answer(entry: _Entry, added: Added, outcome: Outcome) -> None:
    """What became of one file; a stated fact that did not enter is an error."""
    from sweepkit.cli.log_shown import added_json

    entry.answer = added_json(str(entry.path), added, outcome)
    there = f"is in the logbook already, as sweep {added.id} of setup {added.setup}"
    if added.differs:
        keys = ", ".join(BY_NAME[name].key for name in added.differs)
        text = f"this file {there} with another {keys}; it was not changed; use log edit {added.id}"
        _fail([entry], BadInput(text, path=str(entry.path)))
    elif not added.new:
        say(f"{entry.path} {there}; nothing was added for it")
