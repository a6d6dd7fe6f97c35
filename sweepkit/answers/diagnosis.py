"""``sweepkit.diagnose``."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

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
from sweepkit.kit import as_kit
from sweepkit.plain_types import HIDDEN
from sweepkit.report.page import Page
from sweepkit.sweep import Place, Sweep


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
    where = line_and_place(known, gear, lines=lines, measured_at=measured_at)
    kind, by_words = kind or known.facts.get("kind"), rung or read_told(changed).rung
    place = where["measured_at"]
    told = {"kind": kind, "line": where["lines"], "measured_at": None if place == "unknown" else place}
    beside = read_beside_all([*([] if good is None else [good]), *now], told | {"rung": by_words})
    if beside is not None:
        good, now = beside.split(good)
        kind = kind or beside.facts.get("kind")
        where["lines"] = beside.line(gear) if where["lines"] is None else where["lines"]
        where["measured_at"] = place = beside.measured_at if place == "unknown" else place
        rung = rung or beside.rung_between(good)
    if good is None and log is not None and len(now) == 1:
        from sweepkit.records.nearest import find_baseline

        with opened_log(log) as opened:
            found = find_baseline(
                opened,
                known,
                antenna or "",
                now[0],
                place="radio" if place == "unknown" and where["lines"] else place,
                beside=beside.each[0] if beside is not None else None,
            )
        if found is not None and found.sweep is not None:
            good = found.sweep
            rung = rung or (found.rung if by_words is None else None)
    answer = find_causes(
        now,
        baseline=good,
        changed=changed,
        kind=kind,
        rung=rung,
        far_end=told_end(far_end),
        test=None if test is None else (test[0], as_sweep(test[1], hints, gear)),
        kit=gear,
        **where,
        draws=draws,
        seed=seed,
    )
    if beside is not None:
        answer = replace(answer, notes=(*beside.notes, *answer.notes))
    return same_as(ShownDiagnosis, answer, sweeps=tuple(now if good is None else [good, *now]))
