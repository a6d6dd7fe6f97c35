"""Setups to compare, from files beside which a ``setup.toml`` may lie, or out of a logbook."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from sweepkit.comparison.setups import ComparedSetup
from sweepkit.logbook.reviewed import summaries
from sweepkit.logbook.setup_file import FILE_NAME, read_setup_file
from sweepkit.reviews import review, summarise
from sweepkit.reviews.summary import Summary
from sweepkit.sweep import Sweep

if TYPE_CHECKING:
    from sweepkit.logbook import Logbook

CHANGED = ("by", "change_m", "changed")  # facts that begin a new state of a setup
OF_ONE_SWEEP = (*CHANGED, "predicted_hz", "predicted_low_hz", "predicted_high_hz", "sweep_note")


def setups_from_sweeps(
    sweeps: Sequence[Sweep], *, told: Mapping[str, Any] | None = None, **known: Any
) -> list[ComparedSetup]:
    """Review sweeps, and sort them into setups.

    Parameters
    ----------
    sweeps : sequence of Sweep
        In order. Sweeps of one folder with a ``setup.toml`` are one setup; each other one is a setup of its own
        of which nobody told anything.
    told : mapping, optional
        Facts that hold for all, before those of ``setup.toml``; by the names of the logbook.
    **known
        As for :func:`sweepkit.reviews.review`; before ``setup.toml``.

    Raises
    ------
    BadInput
        A sweep that cannot be reviewed, a ``setup.toml`` that cannot be read.
    """
    setups: dict[str, ComparedSetup] = {}
    for sweep in sweeps:
        name, facts, is_told = _told_beside(sweep)
        facts |= dict(told or {})
        summary = summarise(review(sweep, **_known(facts, known)))
        if is_told and name in setups:
            setups[name] = _joined(setups[name], facts, summary)
        else:
            name = _free(name, setups)
            setups[name] = ComparedSetup(name, MappingProxyType(facts), (summary,), told=is_told)
    return [_without_changes(setup) for setup in setups.values()]


def setups_from_log(
    log: Logbook, *, antennas: Iterable[str | None] = (None,), without: Collection[str] = ()
) -> list[ComparedSetup]:
    """Setups of a logbook in the order they were swept, each in its last state.

    Parameters
    ----------
    log : Logbook
        Open.
    antennas : iterable of str or None
        Only those of these antennas; ``None`` for all.
    without : collection of str
        Hashes of raw files that are left out.

    Returns
    -------
    list of ComparedSetup
        Without sweeps that were set aside or cannot be reviewed. Only figures are held, not the raw files.
    """
    setups: dict[str, ComparedSetup] = {}
    for antenna in antennas:
        for swept, summary in summaries(log, antenna=antenna):
            if summary is None or "set_aside" in swept.facts or swept.sha256 in without:
                continue
            name, facts = swept.setup.id, {**swept.setup.facts, **swept.facts}
            if "when" not in facts:
                facts["when"] = swept.added
            if name in setups:
                setups[name] = _joined(setups[name], facts, summary)
            else:
                setups[name] = ComparedSetup(name, MappingProxyType(facts), (summary,))
    return [_without_changes(setup) for setup in setups.values()]


def _told_beside(sweep: Sweep) -> tuple[str, dict[str, Any], bool]:
    """Name of the setup, what its ``setup.toml`` says, and whether there is one."""
    path = Path(sweep.source.path) if sweep.source.path else None
    if path is None or not (path.parent / FILE_NAME).is_file():
        return (path.name if path else "sweep"), {}, False
    file = read_setup_file(path.parent)
    facts = {**file.facts, **file.of_file.get(path.name, {})}
    return (
        path.resolve().parent.name,
        {name: value for name, value in facts.items() if value is not None},
        True,
    )


def _known(facts: Mapping[str, Any], known: Mapping[str, Any]) -> dict[str, Any]:
    """What the review is told: the call first, then the setup."""
    told = dict(known)
    if told.get("lines") is None and "line" in facts:
        told["lines"] = list(facts["line"])
    if told.get("measured_at", "unknown") == "unknown":
        told["measured_at"] = facts.get("measured_at", "unknown")
    return told


def _joined(setup: ComparedSetup, facts: Mapping[str, Any], summary: Summary) -> ComparedSetup:
    """The setup with one more sweep; what was swept before a change is left behind."""
    is_new = any(name in facts for name in CHANGED) or facts.get("length_m") != setup.facts.get("length_m")
    sweeps = (summary,) if is_new else (*setup.sweeps, summary)
    return ComparedSetup(setup.id, MappingProxyType(dict(facts)), sweeps, told=setup.told)


def _without_changes(setup: ComparedSetup) -> ComparedSetup:
    facts = {name: value for name, value in setup.facts.items() if name not in OF_ONE_SWEEP}
    return ComparedSetup(setup.id, MappingProxyType(facts), setup.sweeps, told=setup.told)


def _free(name: str, taken: Mapping[str, Any]) -> str:
    """The name, with a number behind it where it is taken."""
    number, free = 1, name
    while free in taken:
        number += 1
        free = f"{name} ({number})"
    return free
