"""Read the JSON and the raw files of an export, and believe nothing in it before it is checked."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sweepkit.errors import BadInput, SweepkitError
from sweepkit.facts import BY_NAME, Level
from sweepkit.logbook.documents import SCHEMA
from sweepkit.logbook.editing import SETUP_OF_SWEEP
from sweepkit.logbook.exporting import JSON_NAME, is_begun_export
from sweepkit.logbook.folder_swap import put_right
from sweepkit.logbook.raw import kept_name, read_file, sha256_of
from sweepkit.logbook.records import SHA256, UID, facts_complaint, is_like, moment_of
from sweepkit.logbook.values import LONGEST_TEXT, complaint_about, hints_complaint

LARGEST_JSON_BYTES = 1 << 30  # several times what 100 000 sweeps with figures take (docs/scale.md)
LARGEST_NUMBER = 1 << 62  # below the largest row number of SQLite, 2**63 - 1

_WORD = re.compile(r"[a-z][a-z0-9_]{0,59}")  # names of facts, of later versions too

Record = dict[str, Any]


@dataclass(frozen=True)
class Export:
    """An export, checked; its records as in ``documents.py``, ``left_out`` what was damaged when it was exported."""

    folder: Path
    setups: list[Record]
    sweeps: list[Record]
    history: list[Record]
    left_out: list[Any]

    def raw_bytes(self, sweep: Record) -> bytes:
        """The raw file of a sweep, proven by its hash."""
        return self._bytes(sweep["file"], sweep["sha256"])

    def kit_bytes(self, setup: Record) -> bytes:
        """The kit file of a setup, proven by its hash."""
        return self._bytes(setup["kit"], setup["kit_sha256"])

    def _bytes(self, name: str, sha256: str) -> bytes:
        path = self.folder / name
        inside = not Path(name).is_absolute() and self.folder.resolve() in path.resolve().parents
        if not inside or "\\" in name or ":" in name:
            raise BadInput(
                f"the export names a file outside its folder ({name[:60]!r}); it was altered; do not use it"
            )
        data = read_file(path)
        if sha256_of(data) != sha256:
            raise BadInput(
                "this is not the file that was exported (its hash differs); export again", path=str(path)
            )
        return data


def read_export(folder: Path) -> Export:
    """Read and check the records of an export; raw files are checked when they are taken."""
    path = folder / JSON_NAME
    try:
        put_right(folder, is_ours=is_begun_export)
        document = _parsed(path)
        if not isinstance(document, dict) or document.get("schema") != SCHEMA:
            found = document.get("schema") if isinstance(document, dict) else type(document).__name__
            raise BadInput(
                f"the schema is {str(found)[:60]!r}; {SCHEMA!r} was expected; use a folder of log export"
            )
        parts = {name: _records(document, name) for name in ("setups", "sweeps", "history")}
        _check_all(parts)
        left_out = document.get("left_out", [])
        return Export(folder, **parts, left_out=left_out if isinstance(left_out, list) else [])
    except SweepkitError as error:
        error.path = error.path or str(path)
        raise


def _parsed(path: Path) -> Any:
    if not path.is_file():
        raise BadInput("there is no such file; import reads a folder made by log export", path=str(path))
    try:
        if path.stat().st_size > LARGEST_JSON_BYTES:
            raise BadInput("the file is larger than any logbook; it was altered; do not use it")
        return json.loads(path.read_text(encoding="utf-8"), parse_constant=_refuse_constant)
    except OSError as error:
        raise BadInput(f"cannot be read ({error.strerror}); check the card") from error
    except (ValueError, RecursionError) as error:
        raise BadInput(f"this is not the JSON of an export ({str(error)[:80]}); export it again") from error


def _refuse_constant(word: str) -> Any:
    """NaN and Infinity are no JSON."""
    raise ValueError(f"{word} is no number")


def _records(document: Record, name: str) -> list[Record]:
    records = document.get(name)
    if not isinstance(records, list) or not all(isinstance(record, dict) for record in records):
        raise BadInput(f"{name} is not a list of records; the file was altered; export it again")
    return records


def _check_all(parts: dict[str, list[Record]]) -> None:
    """Refuse records with a part missing, of a wrong type, or pointing nowhere."""
    for setup in parts["setups"]:
        _check_record(setup, "setup")
        kit_is_whole = isinstance(setup.get("kit"), str) and is_like(SHA256, setup.get("kit_sha256"))
        _demand(kit_is_whole or (setup.get("kit"), setup.get("kit_sha256")) == (None, None), "a kit")
    setups = {setup["uid"] for setup in parts["setups"]}
    for sweep in parts["sweeps"]:
        _check_record(sweep, "sweep")
        _demand(sweep.get("setup") in setups, "the setup of a sweep")
        _demand(
            isinstance(sweep.get("file"), str) and is_like(SHA256, sweep.get("sha256")), "the file of a sweep"
        )
        _demand(
            isinstance(sweep.get("name"), str) and sweep["name"] == kept_name(sweep["name"]),
            "the name of a file",
        )
        _demand(isinstance(sweep.get("hints"), dict) and isinstance(sweep.get("figures"), list), "a sweep")
        complaint = hints_complaint(sweep["hints"])
        if complaint:
            raise BadInput(f"sweep {sweep['number']}: {complaint}; the file was altered; export it again")
        for figure in sweep["figures"]:
            _check_figure(figure)
    for edit in parts["history"]:
        texts = all(isinstance(edit.get(key), str) for key in ("at", "name", "of"))
        _demand(
            texts and is_like(UID, edit.get("uid")) and {"old", "new"} <= set(edit), "an entry of the history"
        )
        _check_time(edit["at"])
        known = BY_NAME.get(edit["name"])
        if known is None:
            moved = edit["name"] == SETUP_OF_SWEEP and is_like(UID, edit["old"]) and is_like(UID, edit["new"])
            _demand(moved, "an entry of the history")
            continue
        for value in (edit["old"], edit["new"]):
            _demand(value is None or not complaint_about(known, value), "an entry of the history")
    for name, records in parts.items():
        _demand(len({record["uid"] for record in records}) == len(records), f"the names of {name}")


def _check_record(record: Record, level: Level) -> None:
    """What setups and sweeps have in common."""
    number, facts, taken_over = record.get("number"), record.get("facts"), record.get("taken_over")
    whole = isinstance(number, int) and not isinstance(number, bool) and 0 < number < LARGEST_NUMBER
    _demand(whole and is_like(UID, record.get("uid")), f"the number of a {level}")
    _check_time(record.get("added"))
    _demand(isinstance(taken_over, list) and all(is_like(_WORD, name) for name in taken_over), f"a {level}")
    if not isinstance(facts, dict):
        raise BadInput(f"the facts of a {level} are missing; the file was altered; export it again")
    complaint = facts_complaint(level, facts)
    if complaint:
        raise BadInput(f"{level} {number}: {complaint}")
    _demand(all(is_like(_WORD, name) for name in facts), f"a fact of a {level}")


def _check_figure(figure: Any) -> None:
    """Refuse what is no figure; what a figure says is looked at when it is asked for."""
    whole = isinstance(figure, dict) and isinstance(figure.get("answer"), dict)
    _demand(whole, "a figure")
    texts = [figure.get(name) for name in ("what", "version", "at")]
    _demand(all(isinstance(text, str) and len(text) <= LONGEST_TEXT for text in texts), "a figure")
    _check_time(figure["at"])


def _check_time(text: Any) -> None:
    _demand(isinstance(text, str) and len(text) < 64, "a time")
    moment_of(text)


def _demand(holds: Any, what: str) -> None:
    """Refuse the export where something does not hold."""
    if not holds:
        raise BadInput(f"{what} is not as log export writes it; the file was altered; export it again")
