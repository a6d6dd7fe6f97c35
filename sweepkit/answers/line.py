"""``sweepkit.measure_line``."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sweepkit.answers.shown import Rows, Shown, same_as
from sweepkit.answers.told import (
    KitLike,
    LogLike,
    SweepLike,
    as_length_m,
    as_sweeps,
    opened_log,
    refuse_impossible,
)
from sweepkit.errors import BadInput
from sweepkit.feedline.line_findings import find_line_faults
from sweepkit.feedline.line_json import measurement_json
from sweepkit.feedline.loss_check import OwnRecord, check_against_record
from sweepkit.feedline.measure import LineMeasurement
from sweepkit.feedline.measure import measure_line as measure_sweeps
from sweepkit.feedline.swept import End, parse_ends
from sweepkit.feedline.through import THROUGH, read_through
from sweepkit.feedline.told import Told
from sweepkit.findings import Finding
from sweepkit.instrument import DEFAULT_DRAWS
from sweepkit.kit import Kit, as_kit
from sweepkit.lines import LinePiece, catalogued_piece
from sweepkit.report.page import Page
from sweepkit.sweep import Sweep

LISTS = ("loss_db", "reflections", "findings")
NOT_IN_THE_ROW = ("schema", "kit", *LISTS)


@dataclass(frozen=True, eq=False, repr=False)
class ShownLine(LineMeasurement, Shown):
    """The answer of :func:`sweepkit.measure_line`.

    Figures are ``length_m``, ``velocity_factor``, ``z0_ohm`` and ``loss_db`` at ``loss_hz``; ``reflections`` are
    places, nearest first; ``findings`` what is wrong. Tables for ``to_frame``: ``line`` (a row), ``loss_db`` (a row for
    each frequency), ``reflections``, ``findings``.
    """

    __repr__ = Shown.__repr__

    sweeps: tuple[Sweep, ...] = ()
    record: OwnRecord | None = None

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What the readers had to say, what is other than on its record, then what is wrong with the line."""
        read = dict.fromkeys(finding for sweep in self.sweeps for finding in sweep.findings)
        changed = [] if self.record is None else check_against_record(self, self.record)
        return (*read, *changed, *find_line_faults(self))

    def to_json(self) -> dict[str, Any]:
        """The answer as ``sweepkit feedline --json`` gives it."""
        return measurement_json(self, self.findings, self.record)

    def _tables(self) -> Mapping[str, Rows]:
        document = self.to_json()
        row = {name: value for name, value in document.items() if name not in NOT_IN_THE_ROW}
        return {"line": [row], **{name: document[name] for name in LISTS}}

    def _page(self) -> Page:
        from sweepkit.report.line_page import line_page

        return line_page(self, self.findings, self.sweeps, record=self.record, pictures=False)


def measure_line(
    sweeps: SweepLike | Iterable[SweepLike],
    *,
    ends: str | Sequence[str] | None = None,
    length: str | float | None = None,
    velocity_factor: float | None = None,
    type: str | LinePiece | None = None,
    kit: KitLike | None = None,
    piece: str | None = None,
    log: LogLike | None = None,
    draws: int = DEFAULT_DRAWS,
    seed: int = 0,
    **hints: Any,
) -> ShownLine:
    """Measure a piece of line swept with its far end open, shorted or unknown: length, loss, faults.

    Parameters
    ----------
    sweeps : Sweep or path, or several
        The piece, swept once or with several ends, on one grid.
    ends : str or sequence of str, optional
        ``open``, ``short`` or ``unknown`` for each sweep, in their order; left out: unknown, for one sweep alone.
        ``through`` for the path of one file of two ports with the piece between them.
    length : str or float, optional
        Length by tape: ``"15 m"``, or a number. [m]
    velocity_factor : float, optional
        In place of the length. [-]
    type : str or LinePiece, optional
        What it should be: a catalogued type, or the name of a line in the kit.
    kit : Kit or path, optional
        Where such a name is looked up.
    piece : str, optional
        The operator's own name of it: what changed since it was first swept by itself is found.
    log : Logbook or path, optional
        Where that earlier sweep is.
    draws, seed, **hints
        As for :func:`sweepkit.review`.

    Returns
    -------
    ShownLine
        Length or velocity factor, impedance, loss, places that reflect.

    Raises
    ------
    UnreadableFile
        A file that cannot be read right.
    BadInput
        Sweeps that do not show this line: the text names the sweep to take instead.
    """
    refuse_impossible(draws=draws, seed=seed)
    gear, through = as_kit(kit), ends == THROUGH
    if through and isinstance(sweeps, str | os.PathLike):
        swept = read_through(sweeps, **hints)
    else:
        read = as_sweeps(sweeps, hints, gear)
        named = [ends] if isinstance(ends, str) else list(ends or ())
        swept = list(zip(read, parse_ends(named, len(read), like="ends=['open', 'short']"), strict=True))
    told = Told(
        length_m=None if length is None else as_length_m(length, name="length"),
        velocity_factor=velocity_factor,
        piece=piece_named(type, gear) if isinstance(type, str) else type,
        is_record=isinstance(type, str) and type in gear.lines,
    )
    if (piece is None) != (log is None):
        raise BadInput("piece and log go together: the name of the piece, and the logbook that has it")
    return measure_swept(swept, told, through=through, piece=piece, log=log, draws=draws, seed=seed)


def measure_swept(
    swept: Sequence[tuple[Sweep, End]],
    told: Told,
    *,
    through: bool,
    piece: str | None,
    log: LogLike | None,
    draws: int,
    seed: int,
) -> ShownLine:
    """The same from sweeps with their far ends; of a named piece with its own record, where the logbook has one."""
    measured = measure_sweeps(swept, told, through=through, draws=draws, seed=seed)
    own, record = tuple(sweep for sweep, _ in swept), None
    if piece is not None and log is not None:
        from sweepkit.records.piece import own_record

        with opened_log(log) as opened:
            record = own_record(opened, piece, own, told, draws=draws, seed=seed)
    return same_as(ShownLine, measured, sweeps=own, record=record)


def piece_named(name: str, kit: Kit) -> LinePiece:
    """The operator's record of this line, else a catalogued type."""
    return kit.lines[name] if name in kit.lines else catalogued_piece(name, 1.0)
