"""Setups to compare, from files beside which a ``setup.toml`` may lie, or out of a logbook."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType
from typing import Any

from sweepkit.antennas.rungs import body_of_kind
from sweepkit.comparison.setups import ComparedSetup
from sweepkit.errors import BadInput
from sweepkit.facts import CHANGED
from sweepkit.findings import Finding
from sweepkit.logbook import Logbook
from sweepkit.logbook.nominal import nominal_summaries
from sweepkit.logbook.reviewed import summaries
from sweepkit.logbook.setup_file import Folders, told_to_review
from sweepkit.logbook.sharing import DISAGREES
from sweepkit.records.nearest import differing
from sweepkit.reviews import summarise
from sweepkit.reviews.asked import Asked, ask_each
from sweepkit.reviews.common_dip import find_disagreement
from sweepkit.reviews.many import review_many
from sweepkit.reviews.outing import learn_outing
from sweepkit.reviews.summary import Summary
from sweepkit.station.outing import Outing
from sweepkit.sweep import Sweep

OF_ONE_SWEEP = (*CHANGED, "since", "predicted_hz", "predicted_low_hz", "predicted_high_hz", "sweep_note")
_SWEPT = "\0swept"  # name of the last sweep of a setup while it is put together


def setups_from_sweeps(
    sweeps: Sequence[Sweep], *, told: Mapping[str, Any] | None = None, **known: Any
) -> list[ComparedSetup]:
    """Review sweeps, in order, and sort them into setups.

    Sweeps of one folder with a ``setup.toml`` are one setup; each other one is a setup of its own of which nobody
    told anything. ``told``, by the names of the logbook, holds for all and goes before ``setup.toml``.
    """
    setups: dict[str, ComparedSetup] = {}
    folders = Folders()
    every = list(_with_facts(sweeps, folders, told))
    outings = _learn_outings(every, known)
    for (sweep, facts, is_told), review in review_many(every, _asked_with(known, outings)):
        if isinstance(review, Exception):
            raise review
        if review is None:
            continue
        name, summary = _name_of(sweep, is_told=is_told), summarise(review)
        swept = Path(sweep.source.path).name if sweep.source.path else "a sweep"
        if is_told and name in setups:
            setups[name] = _joined(setups[name], facts, summary, swept, sweep.source.sha256)
        else:
            name = _free(name, setups)
            setups[name] = _first(name, facts, summary, swept, sweep.source.sha256, told=is_told)
    return [
        replace(_without_changes(setup), amiss=None if outing is None else outing.finding)
        for setup in setups.values()
        for outing in (outings.get(_calibration(setup.facts, known)),)
    ]


# A sweep, what is known of it, and whether setup.toml tells of it.
_WithFacts = tuple[Sweep, Mapping[str, Any], bool]


def _with_facts(
    sweeps: Sequence[Sweep], folders: Folders, told: Mapping[str, Any] | None
) -> Iterator[_WithFacts]:
    for sweep in sweeps:
        beside = folders.facts_beside(sweep)
        yield sweep, {**(beside or {}), **(told or {})}, beside is not None


def _calibration(facts: Mapping[str, Any], known: Mapping[str, Any]) -> tuple[str, str]:
    """The same for sweeps with one calibration behind one line, as they are told; no name where none is told."""
    told = told_to_review(facts, known)
    return facts.get("calibrated") or "", repr((told.get("lines"), told.get("measured_at")))


def _learn_outings(
    every: Sequence[_WithFacts], known: Mapping[str, Any]
) -> dict[tuple[str, str], Outing | None]:
    """What sweeps with one told calibration tell together of their line and analyzer."""
    shared: dict[tuple[str, str], list[_WithFacts]] = {}
    for one in every:
        if (calibration := _calibration(one[1], known))[0]:
            shared.setdefault(calibration, []).append(one)
    return {
        calibration: learn_outing([sweep for sweep, *_ in some], **told_to_review(some[0][1], known))
        for calibration, some in shared.items()
    }


def _asked_with(
    known: Mapping[str, Any], outings: Mapping[tuple[str, str], Outing | None]
) -> Callable[[_WithFacts], tuple[Sweep, Asked]]:
    """What is asked of each."""
    asked = ask_each()

    def asked_of(one: _WithFacts) -> tuple[Sweep, Asked]:
        sweep, facts, _ = one
        return sweep, asked(
            told_to_review(facts, known) | {"outing": outings.get(_calibration(facts, known))}
        )

    return asked_of


def setups_from_log(
    log: Logbook,
    *,
    antennas: Iterable[str | None] = (None,),
    without: Collection[str] = (),
    nominal: bool = False,
) -> list[ComparedSetup]:
    """Setups of a logbook in the order they were swept, each in its last state; only figures are held.

    Those of these antennas, ``None`` for all, ``without`` files of these hashes, and sweeps set aside or not to be
    reviewed. ``nominal``: without draws, so without intervals.
    """
    setups: dict[str, ComparedSetup] = {}
    figures = nominal_summaries if nominal else summaries
    for antenna in antennas:
        for swept, summary in figures(log, antenna=antenna):
            if summary is None or "set_aside" in swept.facts or swept.sha256 in without:
                continue
            name, facts = swept.setup.id, {**swept.setup.facts, **swept.facts}
            if "when" not in facts:
                facts["when"] = swept.added
            named = f"sweep {swept.id}"
            if name in setups:
                setups[name] = _joined(setups[name], facts, summary, named, swept.sha256)
            else:
                setups[name] = _first(name, facts, summary, named, swept.sha256)
    return [replace(_without_changes(setup), amiss=_amiss_in_log(setup)) for setup in setups.values()]


def _amiss_in_log(setup: ComparedSetup) -> Finding | None:
    """Whether its sweeps do not share the calibration that is told for them, as was seen when they were reviewed."""
    told = setup.facts.get("calibrated")
    if not told or not any(DISAGREES in sweep.findings for sweep in setup.sweeps):
        return None
    return Finding(
        DISAGREES,
        "warning",
        f"the sweeps of {told!r} do not fit one line and one calibration; what was told of line and analyzer is kept",
        "was the analyzer calibrated again, or the line changed, in between?",
    )


def setups_of(
    log: Logbook, antennas: Sequence[str], *, nominal: bool = False, without: Collection[str] = ()
) -> list[ComparedSetup]:
    """All setups of a logbook, or those of these antennas, less files of these hashes; ``BadInput`` for an antenna
    that it does not know.
    """
    setups = setups_from_log(log, antennas=antennas or (None,), without=without, nominal=nominal)
    unknown = sorted(set(antennas) - {setup.antenna for setup in setups})
    if unknown and not without:
        raise BadInput(
            f"the logbook has no sweep of {unknown[0]!r} that can be compared; sweepkit log list shows them"
        )
    return setups


def _name_of(sweep: Sweep, *, is_told: bool) -> str:
    """Name of the setup: its folder where ``setup.toml`` tells of it, else the file."""
    if not sweep.source.path:
        return "sweep"
    path = Path(sweep.source.path)
    return path.resolve().parent.name if is_told else path.name


def _first(
    name: str, facts: Mapping[str, Any], summary: Summary, swept: str, sha256: str, *, told: bool = True
) -> ComparedSetup:
    """A setup with its first sweep."""
    known = {**facts, _SWEPT: swept}
    since = facts.get("since")
    hashes = frozenset({sha256} if sha256 else ())
    return ComparedSetup(
        name, MappingProxyType(known), (summary,), told=told, since=since, hashes=hashes, steps=(since,)
    )


def _joined(
    setup: ComparedSetup, facts: Mapping[str, Any], summary: Summary, swept: str, sha256: str
) -> ComparedSetup:
    """The setup with one more sweep; what was swept before a change, told or seen, is left behind."""
    is_new = (
        any(name in facts for name in CHANGED)
        or facts.get("length_m") != setup.facts.get("length_m")
        or bool(differing(setup.facts, facts, ["lengths"]))
    )
    odd = None
    if not is_new:
        names = str(setup.facts.get(_SWEPT)), swept
        odd = find_disagreement(setup.sweeps[-1], summary, names, body=body_of_kind(facts.get("kind")))
    begins = is_new or odd is not None
    since = facts.get("since")
    return replace(
        setup,
        facts=MappingProxyType({**facts, _SWEPT: swept}),
        sweeps=(summary,) if begins else (*setup.sweeps, summary),
        steps=(since,) if begins else (*setup.steps, since),
        disagree=(*setup.disagree, odd) if odd is not None else setup.disagree,
        hashes=setup.hashes | ({sha256} if sha256 else set()),
    )


def _without_changes(setup: ComparedSetup) -> ComparedSetup:
    facts = {name: value for name, value in setup.facts.items() if name not in (*OF_ONE_SWEEP, _SWEPT)}
    return replace(setup, facts=MappingProxyType(facts))


def _free(name: str, taken: Mapping[str, Any]) -> str:
    """The name, with a number behind it where it is taken."""
    number, free = 1, name
    while free in taken:
        number += 1
        free = f"{name} ({number})"
    return free
