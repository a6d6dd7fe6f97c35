"""Read ``setup.toml`` beside the sweeps: the words of ``--set``, and a part per file where they differ."""

from __future__ import annotations

import os
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sweepkit.errors import BadInput, SweepkitError
from sweepkit.facts import SETUP_FILE, fact_of
from sweepkit.logbook.values import parse_value

if TYPE_CHECKING:
    from sweepkit.sweep import Sweep

LARGEST_BYTES = 1 << 20  # a setup is a page of text; common practice, no source

Facts = dict[str, Any]


@dataclass(frozen=True)
class SetupFile:
    """What the file says, by name of ``facts.py``: of the setup and every sweep in the folder, and of one by its
    file name; ``None`` is said to be unknown.
    """

    facts: Mapping[str, Any] = field(default_factory=dict)
    of_file: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)


def read_setup_file(folder: Path) -> SetupFile:
    """The ``setup.toml`` of a folder; empty where there is none."""
    path = folder / SETUP_FILE
    if not path.is_file():
        return SetupFile()
    try:
        table = _parsed(path)
        of_file = table.pop("sweep", {})
        if not isinstance(of_file, dict) or not all(isinstance(facts, dict) for facts in of_file.values()):
            raise BadInput(
                'sweep is not a table of files; write [sweep."dipole.s1p"] with the words below it'
            )
        per_file = {name: _facts(facts, level_wanted="sweep") for name, facts in of_file.items()}
        for name in of_file:
            if not os.path.isfile(folder / name):  # a name too long for the system is not there either
                raise BadInput(_no_such_sweep(folder, name))
        return SetupFile(_facts(table), per_file)
    except SweepkitError as error:
        error.path = str(path)
        raise


def _no_such_sweep(folder: Path, name: str) -> str:
    """A part for a file that is not in the folder, with the name that may have been meant."""
    from difflib import get_close_matches  # only when something is wrong

    there = sorted(entry.name for entry in folder.iterdir() if entry.is_file() and entry.name != SETUP_FILE)
    near = get_close_matches(name, there, n=1)
    meant = f"did you mean {near[0]}?" if near else f"there are {', '.join(there[:5]) or 'none'}"
    return f"[sweep.{name[:60]!r}] names no file in the folder; {meant}"


def _parsed(path: Path) -> Facts:
    try:
        with path.open("rb") as stream:
            data = stream.read(LARGEST_BYTES + 1)
        if len(data) > LARGEST_BYTES:
            raise BadInput("the file is larger than 1 MiB; a page of words was expected")
        return tomllib.loads(data.decode("utf-8"))
    except OSError as error:
        raise BadInput(f"cannot be read ({error.strerror}); check the file") from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, RecursionError) as error:
        raise BadInput(f'this is not TOML ({error}); write lines like site = "hill"') from error


def _facts(table: Facts, *, level_wanted: str | None = None) -> Facts:
    """Facts by name, from words and TOML values."""
    facts = {}
    for key, written in table.items():
        known = fact_of(key)
        if level_wanted and known.level != level_wanted:
            raise BadInput(
                f"{key} belongs to the whole setup, not to one file; write it above the [sweep] parts"
            )
        if isinstance(written, dict):
            raise BadInput(f"{key} is a table; one value was expected")
        if known.name in facts:
            raise BadInput(f"{key} stands twice, once with a hyphen; one was expected; take one out")
        facts[known.name] = parse_value(known, written)
    return facts


class Folders:
    """Each ``setup.toml`` read once."""

    def __init__(self) -> None:
        self._read: dict[Path, SetupFile | None] = {}

    def facts_beside(self, sweep: Sweep) -> dict[str, Any] | None:
        """What is told of a sweep, what is said to be unknown left out; ``None`` where there is no such file."""
        path = Path(sweep.source.path) if sweep.source.path else None
        if path is None:
            return None
        folder = path.parent
        if folder not in self._read:
            self._read[folder] = read_setup_file(folder) if (folder / SETUP_FILE).is_file() else None
        file = self._read[folder]
        if file is None:
            return None
        facts = {**file.facts, **file.of_file.get(path.name, {})}
        return {name: value for name, value in facts.items() if value is not None}


def told_to_review(facts: Mapping[str, Any], known: Mapping[str, Any]) -> dict[str, Any]:
    """What a review is told: what was asked for first, then line and place beside the file."""
    told = dict(known)
    if told.get("lines") is None and "line" in facts:
        told["lines"] = list(facts["line"])
    if told.get("measured_at", "unknown") == "unknown":
        told["measured_at"] = facts.get("measured_at", "unknown")
    return told
