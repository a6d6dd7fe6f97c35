"""``sweepkit.review``."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sweepkit.answers.shown import Rows, Shown, same_as
from sweepkit.answers.told import (
    KitLike,
    LineLike,
    LogLike,
    SweepLike,
    as_bands,
    as_lines,
    as_place,
    as_sweep,
    known_of,
    opened_log,
    refuse_impossible,
    told_beside,
)
from sweepkit.bands import Band
from sweepkit.instrument import DEFAULT_DRAWS
from sweepkit.kit import AntennaNote, as_kit
from sweepkit.reviews import CheckSweeps, Review
from sweepkit.reviews import review as review_sweep
from sweepkit.sweep import Place

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from sweepkit.report.page import Page

AT_A_PLANE = ("dips", "resonances", "swr_bandwidths")


@dataclass(frozen=True, eq=False, repr=False)
class ShownReview(Review, Shown):
    """The answer of :func:`sweepkit.review`.

    Its fields are those of a review: ``bands``, ``radio`` and ``feedpoint`` (planes with ``dips``, ``resonances`` and
    ``swr_bandwidths``), ``adequate``, ``next_sweeps``, ``findings``. Tables for ``to_frame``: ``sweep`` (a row, the
    columns of ``sweepkit review --csv``), ``bands``, ``dips``, ``resonances``, ``swr_bandwidths``, ``findings``,
    ``next_sweeps``.
    """

    __repr__ = Shown.__repr__

    def _tables(self) -> Mapping[str, Rows]:
        from sweepkit.report.tables import review_row

        document = self.to_json()
        planes = {name: plane for name, plane in document["planes"].items() if plane is not None}
        at_planes = {
            name: [{"plane": plane} | row for plane, parts in planes.items() for row in parts[name]]
            for name in AT_A_PLANE
        }
        rest = {name: document[name] for name in ("findings", "next_sweeps")}
        return {"sweep": [review_row(self)], "bands": document["bands"], **at_planes, **rest}

    def _page(self) -> Page:
        from sweepkit.report.review_page import review_page

        return review_page(self, pictures=False)

    def _pictured(self) -> Figure:
        from sweepkit.plots.one_sweep import plot_swr

        return plot_swr(self)


def review(
    sweep: SweepLike,
    *,
    kit: KitLike | None = None,
    lines: LineLike | Sequence[LineLike] | None = None,
    measured_at: Place = "unknown",
    region: int | None = None,
    bands: str | Band | Iterable[str | Band] | None = None,
    swr_limit: float | None = None,
    checks: CheckSweeps | None = None,
    antenna: AntennaNote | str | None = None,
    log: LogLike | None = None,
    site: str | None = None,
    unplugged: SweepLike | None = None,
    draws: int = DEFAULT_DRAWS,
    seed: int = 0,
    **hints: Any,
) -> ShownReview:
    """Review one sweep: which bands can be used, where the antenna dips, and how sure that is.

    Parameters
    ----------
    sweep : Sweep or path
        A sweep, or the file of one.
    kit : Kit or path, optional
        The operator's gear, or its kit.toml; without it the stated defaults.
    lines : LinePiece or str, or a sequence of them, optional
        Line in order from the radio: ``"RG-58 15 m"``, the name of a line in the kit, or ``"none"`` for a radio at the
        antenna; left out where it is not known, and then that of a ``setup.toml`` beside the file.
    measured_at : {"radio", "feedpoint", "unknown"}
        Where the file's numbers are true; ``unknown`` is what a ``setup.toml`` beside the file says, and with lines
        at the radio.
    region : {1, 2, 3}, optional
        ITU region of the band edges; before the kit's.
    bands : str or Band, or several, optional
        Bands to judge, such as ``"40 m"``; without them all that the sweep touches.
    swr_limit : float, optional
        Highest SWR for direct use; before the radio's. [-]
    checks : CheckSweeps, optional
        Sweeps of a load, an open and a short, which size the analyzer's errors.
    antenna : AntennaNote or str, optional
        What is known of the antenna, or its name in kit or logbook: says when an SWR is too good for it, and where
        watts go. Lines that are left out are then those of its record.
    log : Logbook or path, optional
        Where the name is looked up too; a finding says whether this is what the antenna usually does.
    site : str, optional
        Where it stands, by its name in the logbook.
    unplugged : Sweep or path, optional
        The same with the antenna unplugged, which clears or proves such a doubt.
    draws : int
        Members of the ensemble; 0 for nominal values only.
    seed : int
        Same seed, same answer.
    **hints
        For a file: ``columns``, ``unit``, ``decimal``, ``reference_ohm``, ``trace``, ``recover_sign``, as for
        :func:`sweepkit.read_sweep`.

    Returns
    -------
    ShownReview
        Figures at each known plane, bands, adequacy, findings.

    Raises
    ------
    UnreadableFile
        A file that cannot be read right.
    BadInput
        Fewer than two points; a sweep without phase at another reference than the radio's; an SWR limit of 1 or less; a
        band or a region that does not exist.
    """
    refuse_impossible(draws=draws, seed=seed, swr=swr_limit)
    gear = as_kit(kit)
    name = antenna if isinstance(antenna, str) else None
    read = as_sweep(sweep, hints, gear)
    known = known_of(name, log, gear)
    then = known.of_sweep(read.source.sha256)
    line = known.line(gear) if lines is None else as_lines(lines)
    answer = review_sweep(
        read,
        kit=gear,
        **told_beside(read, lines=line, measured_at=as_place(measured_at)),
        region=region,
        bands=as_bands(bands, region=gear.region if region is None else region),
        swr_limit=swr_limit,
        checks=checks,
        antenna=antenna if name is None else then.note(gear, name),
        unplugged=None if unplugged is None else as_sweep(unplugged, hints, gear),
        draws=draws,
        seed=seed,
    )
    if known.setup and log is not None:
        from sweepkit.comparison.today import with_usual

        with opened_log(log) as opened:
            answer = with_usual(
                answer, {**then.facts_then(gear, name), "antenna": name}, opened, kit=gear, site=site
            )
    return same_as(ShownReview, answer)
