"""What the ``sweepkit log`` commands print with ``--json``."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from sweepkit.facts import LOGGED
from sweepkit.plain_types import record

if TYPE_CHECKING:
    from sweepkit.logbook import Added, Edit, Imported, LoggedSweep, Outcome, Setup


def added_json(path: str, added: Added, outcome: Outcome) -> dict[str, Any]:
    """What became of one file."""
    return {
        "id": added.id,
        "setup": added.setup,
        "path": path,
        "new": added.new,
        "taken_over": dict(outcome.taken_over),
        "unknown": list(outcome.unknown),
    }


def imported_json(done: Imported) -> dict[str, Any]:
    """What an import did."""
    sweeps = [{"number_there": there, "id": here} for there, here in done.sweeps.items()]
    return record(done) | {"sweeps": sweeps}


def setup_json(setup: Setup) -> dict[str, Any]:
    """A setup with its facts."""
    return {
        "id": setup.id,
        "uid": setup.uid,
        "added": setup.added,
        "kit_sha256": setup.kit_sha256,
        "taken_over": list(setup.taken_over),
        **_all_facts(setup.facts, "setup"),
    }


def sweep_json(sweep: LoggedSweep) -> dict[str, Any]:
    """A sweep with its facts, and whose it is."""
    return {
        "id": sweep.id,
        "uid": sweep.uid,
        "setup": sweep.setup.id,
        "antenna": sweep.setup.facts.get("antenna"),
        "site": sweep.setup.facts.get("site"),
        "file": sweep.name,
        "sha256": sweep.sha256,
        "added": sweep.added,
        "hints": dict(sweep.hints),
        "taken_over": list(sweep.taken_over),
        **_all_facts(sweep.facts, "sweep"),
    }


def _all_facts(facts: Mapping[str, Any], level: str) -> dict[str, Any]:
    """Every fact of the level; unknown ones are null."""
    return {fact.name: None for fact in LOGGED if fact.level == level} | dict(facts)


def edit_json(change: Edit) -> dict[str, Any]:
    """An entry of the history."""
    return {"of": change.of, "at": change.at, "name": change.name, "old": change.old, "new": change.new}


def print_json(command: str, **content: Any) -> None:
    """One strict JSON document."""
    print(json.dumps({"schema": f"sweepkit/{command}/1", **content}, indent=1, allow_nan=False))
