"""``sweepkit.compare``."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sweepkit.answers.shown import Rows, Shown, same_as
from sweepkit.answers.told import (
    KitLike,
    LineLike,
    LogLike,
    SweepLike,
    as_bands,
    as_lines,
    as_place,
    as_sweeps,
    opened_log,
    refuse_impossible,
)
from sweepkit.antennas.rungs import RUNGS, Rung
from sweepkit.comparison import (
    BY,
    By,
    ComparedSetup,
    beside_logged,
    compare_setups,
    setups_from_sweeps,
    setups_of,
)
from sweepkit.comparison.answer import Comparison
from sweepkit.errors import BadInput
from sweepkit.instrument import DEFAULT_DRAWS
from sweepkit.kit import as_kit
from sweepkit.report.page import Page
from sweepkit.reviews import CheckSweeps
from sweepkit.sweep import Place, Sweep


@dataclass(frozen=True, repr=False)
class ShownComparison(Comparison, Shown):
    """The answer of :func:`sweepkit.compare`.

    ``differences`` with their verdicts, ``fairness``, ``setups``. Tables for ``to_frame``: ``setups`` (a row for each,
    the columns of ``sweepkit compare --csv``), ``differences``, ``groups``, ``serving``, ``fairness``.
    """

    __repr__ = Shown.__repr__

    sweeps: tuple[Sweep, ...] = ()

    def _tables(self) -> Mapping[str, Rows]:
        document = self.to_json()
        return {name: document[name] for name in ("setups", "differences", "groups", "serving", "fairness")}

    def _page(self) -> Page:
        from sweepkit.report.compare_page import compare_page

        return compare_page(self, sweeps=self.sweeps, pictures=False)


def compare(
    sweeps: SweepLike | Iterable[SweepLike] = (),
    *,
    by: By = "setup",
    log: LogLike | None = None,
    antennas: str | Sequence[str] | None = None,
    band: str | None = None,
    told: Mapping[str, Any] | None = None,
    rung: Rung | None = None,
    kit: KitLike | None = None,
    lines: LineLike | Sequence[LineLike] | None = None,
    measured_at: Place = "unknown",
    region: int | None = None,
    checks: CheckSweeps | None = None,
    draws: int = DEFAULT_DRAWS,
    seed: int = 0,
    **hints: Any,
) -> ShownComparison:
    """Compare sites, setups, antennas: same, different, or cannot say, and why.

    Parameters
    ----------
    sweeps : Sweep or path, or several
        Those of one folder with a ``setup.toml`` are one setup; each other one is a setup of its own. Left out: what
        the logbook holds is compared.
    by : str
        What the comparison is about, as ``sweepkit compare --by`` takes it: ``setup``, ``site``, ``antenna`` ...
    log : Logbook or path, optional
        Logbook whose setups are compared, or tell the usual spread of the sweeps; one sweep alone is compared with the
        nearest earlier setup of its antenna there.
    antennas : str or sequence of str, optional
        Only those of these antennas in the logbook.
    band : str, optional
        Compare the dip of this band, such as ``"40 m"``.
    told : mapping, optional
        What holds for all the sweeps, by the names of the logbook: ``{"kind": "dipole", "site": "meadow"}``.
    rung : {"swept-again", "joined-anew", "put-up-again", "another-site", "other-ground"}, optional
        What lies between the setups, where somebody knows (docs/compare.md).
    kit, lines, measured_at, region, checks, draws, seed, **hints
        As for :func:`sweepkit.review`; before ``setup.toml``.

    Returns
    -------
    ShownComparison
        Figures, differences with their verdicts, what is unfair.

    Raises
    ------
    UnreadableFile
        A file or a logbook that cannot be read.
    BadInput
        Nothing to compare, an antenna the logbook does not know, a sweep that cannot be reviewed.
    """
    refuse_impossible(draws=draws, seed=seed)
    if rung not in (None, *RUNGS):
        raise BadInput(f"rung is {rung!r}; it is one of {', '.join(RUNGS)}")
    if by not in BY:
        raise BadInput(f"--by is {by!r}; it is one of {', '.join(BY)}")
    gear = as_kit(kit)
    region = gear.region if region is None else region
    wanted = as_bands(band, region=region)
    read = as_sweeps(sweeps, hints, gear)
    names = [antennas] if isinstance(antennas, str) else list(antennas or ())
    logged: list[ComparedSetup] = []
    if log is not None:
        with opened_log(log) as opened:
            logged = setups_of(opened, names, nominal=draws == 0, without=_alone(read))
    made = setups_from_sweeps(
        read,
        told=told,
        kit=gear,
        lines=as_lines(lines),
        measured_at=as_place(measured_at),
        region=region,
        checks=checks,
        draws=draws,
        seed=seed,
    )
    if not made and not logged:
        raise BadInput("there is nothing to compare; name two sweeps or more, or a logbook")
    setups, background = beside_logged(made, logged, rung=rung) if made else (logged, [])
    answer = compare_setups(
        setups,
        by=by,
        background=background,
        band=wanted[0] if wanted else None,
        told=rung,
        direct_swr=gear.radio.direct_swr,
    )
    return same_as(ShownComparison, answer, sweeps=tuple(read))


def _alone(sweeps: Sequence[Sweep]) -> frozenset[str]:
    """The hash of one sweep alone: what is logged of its own setup beside it is earlier, too."""
    return frozenset({sweeps[0].source.sha256} if len(sweeps) == 1 else ())
