"""``sweepkit.diagnose``."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, field, replace
from functools import partial
from typing import TYPE_CHECKING, Any

from sweepkit.answers.shown import Rows, Shown, same_as
from sweepkit.answers.told import (
    KitLike,
    LineLike,
    LogLike,
    SweepLike,
    as_sweep,
    as_sweeps,
    known_of,
    line_and_place,
    opened_log,
    read_beside_all,
    refuse_impossible,
)
from sweepkit.antennas.rungs import Rung
from sweepkit.diagnosis.answer import Diagnosis, End, told_end
from sweepkit.diagnosis.diagnose import diagnose as find_causes
from sweepkit.diagnosis.told_words import read_told
from sweepkit.instrument import DEFAULT_DRAWS
from sweepkit.kit import Kit, as_kit
from sweepkit.kit.known import KnownAntenna
from sweepkit.plain_types import HIDDEN
from sweepkit.report.page import Page
from sweepkit.sweep import Place, Sweep

if TYPE_CHECKING:
    from sweepkit.logbook import Logbook
    from sweepkit.records.nearest import Baseline


@dataclass(frozen=True, repr=False)
class ShownDiagnosis(Diagnosis, Shown):
    """The answer of :func:`sweepkit.diagnose`.

    ``changed``, ``hypotheses`` (heaviest first), ``cannot_say``, and ``sweeps``, what it rests on. Tables for
    ``to_frame``: ``hypotheses`` (a row for each cause), ``answer`` (a row).
    """

    __repr__ = Shown.__repr__

    sweeps: tuple[Sweep, ...] = field(default=(), metadata=HIDDEN)

    def _tables(self) -> Mapping[str, Rows]:
        document = self.to_json()
        causes = document.pop("hypotheses")
        return {"hypotheses": causes, "answer": [document]}

    def _page(self) -> Page:
        from sweepkit.report.diagnose_page import diagnose_page

        return diagnose_page(self, self.sweeps)


def diagnose(
    sweeps: SweepLike | Iterable[SweepLike],
    *,
    baseline: SweepLike | None = None,
    changed: str | None = None,
    kind: str | None = None,
    antenna: str | None = None,
    log: LogLike | None = None,
    site: str | None = None,
    rung: Rung | None = None,
    far_end: End = "antenna",
    test: tuple[str, SweepLike] | None = None,
    kit: KitLike | None = None,
    lines: LineLike | Sequence[LineLike] | None = None,
    measured_at: Place = "unknown",
    draws: int = DEFAULT_DRAWS,
    seed: int = 0,
    **hints: Any,
) -> ShownDiagnosis:
    """Say whether anything changed, which causes live on, and the one test that splits them.

    Parameters
    ----------
    sweeps : Sweep or path, or one to three of them
        One; or A and B; or A, B and A again. With a baseline: the antenna as it is now.
    baseline : Sweep or path, optional
        The same antenna when it was good.
    changed : str, optional
        What was changed, in free words: ``"moved coax, rain"``.
    kind : str, optional
        Kind of antenna, as for :func:`sweepkit.plan_trim`; without it, and with none in a ``setup.toml`` beside every
        file, every cause is possible.
    antenna : str, optional
        Its name in kit or logbook: kind, lines and place that are left out are those of its record.
    log : Logbook or path, optional
        Where the name is looked up too; one sweep without a baseline is then held against the nearest earlier one.
    site : str, optional
        Where it stands now, by its name in the logbook.
    rung : str, optional
        What lies between the sweeps, as for :func:`sweepkit.compare`; else as ``setup.toml`` beside every file tells.
    far_end : {"antenna", "open", "short"}
        What is at the far end of the line.
    test : (str, Sweep or path), optional
        The test that was made next, by the code in ``hypotheses``, and its sweep.
    kit, lines, measured_at, draws, seed, **hints
        As for :func:`sweepkit.review`.

    Returns
    -------
    ShownDiagnosis
        Whether anything changed, and weighed causes.

    Raises
    ------
    UnreadableFile
        A file that cannot be read right.
    BadInput
        No sweep, or more than three; an unknown kind; what :func:`sweepkit.review` refuses.
    """
    refuse_impossible(draws=draws, seed=seed)
    gear = as_kit(kit)
    now = as_sweeps(sweeps, hints, gear)
    good = None if baseline is None else as_sweep(baseline, hints, gear)
    known = known_of(antenna, log, gear)
    held = hold_against(
        now,
        good,
        known,
        gear,
        **line_and_place(known, gear, lines=lines, measured_at=measured_at),
        kind=kind,
        changed=changed,
        rung=rung,
        antenna=antenna,
        site=site,
        open_log=None if log is None else partial(opened_log, log),
    )
    answer = find_causes(
        held.now,
        changed=changed,
        far_end=told_end(far_end),
        test=None if test is None else (test[0], as_sweep(test[1], hints, gear)),
        kit=gear,
        **held.told,
        draws=draws,
        seed=seed,
    )
    answer = replace(answer, notes=(*held.notes, *answer.notes))
    return same_as(ShownDiagnosis, answer, sweeps=held.all)


@dataclass(frozen=True)
class Held:
    """Sweeps of a diagnosis, what they are held against, and what is known of them all."""

    now: Sequence[Sweep]
    told: dict[str, Any]  # baseline, kind, lines, measured_at and rung, as a diagnosis takes them
    notes: tuple[str, ...]  # on what a setup.toml told
    logged: Baseline | None  # what the logbook has for one sweep alone

    @property
    def all(self) -> tuple[Sweep, ...]:
        """In the order they were taken."""
        good = self.told["baseline"]
        return (*([] if good is None else [good]), *self.now)


def hold_against(
    now: Sequence[Sweep],
    good: Sweep | None,
    known: KnownAntenna,
    kit: Kit,
    *,
    lines: Sequence[LineLike] | None,
    measured_at: Place,
    kind: str | None,
    changed: str | None,
    rung: Rung | None,
    antenna: str | None,
    site: str | None,
    open_log: Callable[[], AbstractContextManager[Logbook]] | None,
) -> Held:
    """What is told goes first, then the record of the antenna, ``setup.toml`` beside every file, the logbook."""
    kind, by_words = kind or known.facts.get("kind"), rung or read_told(changed).rung
    told = {"kind": kind, "line": lines, "measured_at": None if measured_at == "unknown" else measured_at}
    beside = read_beside_all([*([] if good is None else [good]), *now], told | {"rung": by_words})
    facts: dict[str, Any] = {}
    if beside is not None:
        good, now = beside.split(good)
        kind = kind or beside.facts.get("kind")
        lines = beside.line(kit) if lines is None else lines
        measured_at = beside.measured_at if measured_at == "unknown" else measured_at
        rung, facts = rung or beside.rung_between(good), {**beside.each[0]}
    logged = None
    if good is None and known.setup and open_log is not None and len(now) == 1:
        from sweepkit.records.nearest import find_baseline

        facts |= {} if site is None else {"site": site}
        place: Place = "radio" if measured_at == "unknown" and lines else measured_at  # as a review takes it
        with open_log() as opened:
            logged = find_baseline(opened, known, antenna or "", now[0], place=place, beside=facts)
        if logged is not None and logged.sweep is not None:
            good, rung = logged.sweep, rung or (logged.rung if by_words is None else None)
    of_all = {"baseline": good, "kind": kind, "lines": lines, "measured_at": measured_at, "rung": rung}
    return Held(now, of_all, beside.notes if beside is not None else (), logged)
