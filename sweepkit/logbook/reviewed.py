"""The figures of logged sweeps: reviewed under what the logbook says, kept, and reviewed anew when that changed.

What was kept counts only for this version of sweepkit and for the same raw file, reader's hints, measuring
place, line and kit, of the sweep and of those that share its outing; anything else is another key, so an edit never
leaves an old figure standing.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import replace
from typing import TYPE_CHECKING, Any, NamedTuple

from sweepkit.errors import BadInput, SweepkitError, UnreadableFile
from sweepkit.logbook.computed import Answer, keep_figures, kept_figures, keys_of, raw_bytes
from sweepkit.logbook.connections import LogConnection
from sweepkit.logbook.finding import LEFT_OUT, leave_out_damaged, sweep_numbers_where, sweeps_where
from sweepkit.logbook.reading import raw_kit, read_logged_kit, read_logged_sweep
from sweepkit.logbook.records import LoggedSweep
from sweepkit.logbook.sharing import Heard, Hearing, outings_of
from sweepkit.logbook.store import Logbook

if TYPE_CHECKING:
    from sweepkit.kit import Kit
    from sweepkit.lines import LinePiece
    from sweepkit.reviews import Summary
    from sweepkit.sweep import Place, Sweep

SUMMARY = "summary"  # kind of these figures in the file and in an export; what they depend on follows it
DIP = "dip"  # kind of the dips alone, for a listing
SHARED = "\n"  # in a key, between what a sweep is by itself and its outing; JSON has none
NO_SUMMARY = "sweepkit/no-summary/1"  # schema of what is kept where a sweep cannot be reviewed
SWEEPS_AT_A_TIME = 50  # held in memory; so many reviews are lost when power fails, none of the sweeps


def summary_of(log: Logbook, sweep: LoggedSweep) -> Summary:
    """The figures of a sweep by what the logbook says of it now, kept or reviewed now and kept (where it can be
    written).

    They come from ``review`` with its stated defaults, under the measuring place, line and kit of the setup. A sweep
    without phase, which cannot be carried along a line, is told where it was measured. ``BadInput`` says why a sweep
    cannot be reviewed.
    """
    ((now, answer, _),) = _answers(log, [sweep.id], is_alone=True)
    return _opened(answer, log, now)


def keys_of_figures(connection: LogConnection, sweeps: Mapping[int, LoggedSweep]) -> dict[int, str]:
    """What the figures of whole sweeps depend on besides the version, by number, inside a transaction."""
    return _keys(connection, sweeps, outings_of(connection, sweeps))


def summaries(
    log: Logbook, *, antenna: str | None = None, site: str | None = None
) -> Iterator[tuple[LoggedSweep, Summary | None]]:
    """Sweeps with their figures in the order they were swept, a few in memory at a time.

    Figures that are not there are computed, and kept where it can be written; ``None`` is a sweep that cannot be
    reviewed (``summary_of`` says why). Sweeps added meanwhile are left out.
    """
    numbers = log.read(
        lambda connection: numbers_where(connection, {"setup.antenna": antenna, "setup.site": site})
    )
    for start in range(0, len(numbers), SWEEPS_AT_A_TIME):
        yield from _some_summaries(log, numbers[start : start + SWEEPS_AT_A_TIME])


class Refreshed(NamedTuple):
    """A sweep whose figures are kept now: whether it was reviewed for that, and why it has none."""

    sweep: LoggedSweep
    is_new: bool
    reason: str | None


def refresh_figures(log: Logbook, *, antenna: str | None = None) -> tuple[int, Iterator[Refreshed]]:
    """Review every sweep whose figures are not kept, or of another version, and keep them.

    ``antenna``: only those of this antenna.
    Returns: how many sweeps there are, and each as it is done. What was done before a break stays done.
    Raises ``UnreadableFile``: the logbook is damaged; ``BadInput``: it cannot be written.
    """
    numbers = log.read(lambda connection: numbers_where(connection, {"setup.antenna": antenna}))

    def each() -> Iterator[Refreshed]:
        for start in range(0, len(numbers), SWEEPS_AT_A_TIME):
            some = numbers[start : start + SWEEPS_AT_A_TIME]
            for sweep, answer, is_new in _answers(log, some, must_keep=True):
                has_none = answer.get("schema") == NO_SUMMARY
                yield Refreshed(sweep, is_new, str(answer.get("text")) if has_none else None)

    return len(numbers), each()


def numbers_where(connection: LogConnection, wanted: dict[str, Any]) -> list[int]:
    """Numbers of the whole sweeps; what is damaged, wherever it would belong, is left out by name."""
    leave_out_damaged(connection)
    return sweep_numbers_where(connection, wanted)


def _some_summaries(log: Logbook, numbers: list[int]) -> Iterator[tuple[LoggedSweep, Summary | None]]:
    """Those of a few sweeps, by their numbers."""
    for sweep, answer, _ in _answers(log, numbers):
        try:
            yield sweep, _opened(answer, log, sweep)
        except BadInput:
            yield sweep, None


def _answers(
    log: Logbook, numbers: list[int], *, is_alone: bool = False, must_keep: bool = False
) -> list[tuple[LoggedSweep, Answer, bool]]:
    """Sweeps as they stand now with what is kept of them; what is missing, and so new, is reviewed and kept."""
    sweeps, outings, keys, answers = log.read(lambda connection: _kept(connection, numbers))
    hearing, new = Hearing(log, outings), {}
    for number, sweep in sweeps.items():
        if number not in answers:
            try:
                new[number] = _reviewed(log, sweep, hearing)
            except UnreadableFile as error:
                if is_alone:
                    raise
                leave_out_sweep(log, number, error)
            except Exception as error:  # a fault of ours takes no other sweep along, and is not kept
                if is_alone:
                    raise
                answers[number] = {"schema": NO_SUMMARY, "text": leave_out_figures(log, number, error)}
    if new:
        (keep_figures if must_keep else _keep)(
            log,
            {
                number: {
                    f"{SUMMARY} {keys[number]}": answer,
                    f"{DIP} {keys[number].split(SHARED)[0]}": _dip(answer),
                }
                for number, answer in new.items()
            },
        )
    answers |= new
    return [(sweeps[number], answers[number], number in new) for number in numbers if number in answers]


def leave_out_sweep(log: Logbook, number: int, error: UnreadableFile) -> None:
    """Say that a sweep cannot be read."""
    log.leave_out(f"sweep {number}", f"{error.text}; {LEFT_OUT}")


def leave_out_figures(log: Logbook, number: int, error: Exception) -> str:
    """Say that a sweep has no figures for a fault of ours; the words."""
    text = f"their review failed ({type(error).__name__}: {error}); please report it"
    log.leave_out(f"figures of sweep {number}", text)
    return text


class _Kept(NamedTuple):
    """Whole sweeps by number, their outings, what their figures depend on, and the figures that are kept."""

    sweeps: dict[int, LoggedSweep]
    outings: dict[int, tuple[LoggedSweep, ...]]
    keys: dict[int, str]
    answers: dict[int, Answer]


def _kept(connection: LogConnection, numbers: list[int]) -> _Kept:
    sweeps = {sweep.id: sweep for sweep in sweeps_where(connection, {"sweep.id": numbers})}
    outings = outings_of(connection, sweeps)
    keys = _keys(connection, sweeps, outings)
    answers = kept_figures(connection, {number: f"{SUMMARY} {key}" for number, key in keys.items()})
    return _Kept(sweeps, outings, keys, answers)


def _keys(
    connection: LogConnection,
    sweeps: Mapping[int, LoggedSweep],
    outings: Mapping[int, tuple[LoggedSweep, ...]],
) -> dict[int, str]:
    """What they depend on by themselves, and where they share an outing, on which."""
    members = {member.id for outing in outings.values() for member in outing}
    alone = keys_of(connection, sorted({*sweeps, *members}))
    keys = {}
    for number in sweeps:
        every = "\n".join(alone[member.id] for member in outings.get(number, ()))
        told = [outing.setup.facts.get("calibrated") for outing in outings.get(number, ())[:1]]
        shared = hashlib.sha256(f"{every}\n{told}".encode()).hexdigest()[:32]
        keys[number] = f"{alone[number]}{SHARED}{shared}" if every else alone[number]
    return keys


def _reviewed(log: Logbook, sweep: LoggedSweep, hearing: Hearing) -> Answer:
    """The review of a sweep now, or why there can be none; a damaged logbook is another matter."""
    raw_bytes(log, sweep)
    raw_kit(log, sweep.setup)
    try:
        return _review(log, sweep, hearing).to_json()
    except SweepkitError as error:
        return {"schema": NO_SUMMARY, "text": error.text}


def _review(log: Logbook, sweep: LoggedSweep, hearing: Hearing) -> Summary:
    """The review, with what the logbook knows, and what the outing tells."""
    from sweepkit.reviews import review, summarise

    gear, swept = read_logged_kit(log, sweep.setup), read_logged_sweep(log, sweep)
    pieces, place = line_and_place(sweep, gear, swept)
    heard = hearing.of(sweep, gear, pieces) if pieces else Heard()
    summary = summarise(review(swept, kit=gear, lines=pieces, measured_at=place, outing=heard.outing))
    codes = (heard.amiss, *summary.findings) if heard.amiss else summary.findings
    return replace(summary, findings=tuple(dict.fromkeys(codes)))


def line_and_place(
    logged: LoggedSweep, gear: Kit, swept: Sweep
) -> tuple[tuple[LinePiece, ...] | None, Place]:
    """Line and measuring place of a sweep; one without phase cannot be carried along its line."""
    from sweepkit.kit.choosing import resolve_pieces

    if "piece" in logged.setup.facts:
        raise BadInput("a piece of line by itself is no antenna; sweepkit feedline --piece measures it")
    line, place = logged.setup.facts.get("line"), swept.measured_at
    pieces = None if line is None else resolve_pieces(line, gear.lines)
    if pieces and swept.phase != "signed":
        return None, "radio" if place == "unknown" else place
    return pieces, place


def _keep(log: Logbook, figures: dict[int, dict[str, Answer]]) -> None:
    """Keep figures in place of older ones; a logbook that cannot be written answers all the same."""
    with suppress(BadInput, UnreadableFile):
        keep_figures(log, figures)


def _dip(answer: Answer) -> Answer:
    """The dips at the feedpoint, else at the place that is known, deepest first; empty where there is none."""
    for plane in ("feedpoint", "radio", "unknown"):
        if dips := answer.get("planes", {}).get(plane, ()):
            known = [(dip["dip_hz"]["value"], dip["dip_swr"]["value"]) for dip in dips]
            return {"dip_hz": dips[0]["dip_hz"], "dips": [one for one in known if one[0] is not None]}
    return {}


def _opened(answer: Answer, log: Logbook, sweep: LoggedSweep) -> Summary:
    """The figures as a Summary; ``BadInput`` where there are none, ``UnreadableFile`` where damaged."""
    from sweepkit.reviews import Summary

    where = f"{log.path}: sweep {sweep.id}: {sweep.name}"
    if answer.get("schema") == NO_SUMMARY:
        raise BadInput(str(answer.get("text")), path=where)
    try:
        return Summary.from_json(answer)
    except UnreadableFile:  # kept by somebody else, or damaged before there were digests
        outings = log.read(lambda connection: outings_of(connection, {sweep.id: sweep}))
        return _review(log, sweep, Hearing(log, outings))
