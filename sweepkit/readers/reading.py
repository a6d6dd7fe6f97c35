"""One file to one sweep, or one error that names the line and the hint to pass."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from sweepkit.errors import NeedsHint, SweepkitError, UnreadableFile
from sweepkit.findings import Finding
from sweepkit.readers.assembly import assemble
from sweepkit.readers.hints import Hints, make_hints
from sweepkit.readers.opening import open_text
from sweepkit.readers.registry import choose_reader, glance
from sweepkit.readers.slips import find_slips
from sweepkit.sweep import Place, Source, Sweep


def read_sweep(
    path: str | os.PathLike[str],
    *,
    columns: str | None = None,
    unit: str | None = None,
    decimal: str | None = None,
    reference_ohm: float | None = None,
    trace: str | None = None,
    recover_sign: bool = False,
    measured_at: Place = "unknown",
    if_needed: Mapping[str, str | float] | None = None,
) -> Sweep:
    """Read a sweep from any analyzer's file, or say exactly why not.

    Parameters
    ----------
    path : str or path
        The file.
    columns : str, optional
        What each column holds, such as ``f,r,x``; ``-`` leaves a column out.
    unit : {"Hz", "kHz", "MHz", "GHz"}, optional
        Unit of the frequencies where the file states none.
    decimal : {"comma", "point"}, optional
        Decimal mark where the file leaves it open.
    reference_ohm : float, optional
        Reference resistance where the file states none. [ohm]
    trace : str, optional
        Which reflection of several: ``s22``, or words of a column's name.
    recover_sign : bool
        Find the sign of an unsigned reactance where the sweep itself tells it.
    measured_at : {"radio", "feedpoint", "unknown"}
        The connector at which the numbers are true.
    if_needed : mapping, optional
        The first four of these hints, as a kit tells them; each is used for a file that leaves it open, and said.

    Returns
    -------
    Sweep
        Frequencies rising; what was repaired or is doubtful stands in its findings.

    Raises
    ------
    UnreadableFile
        The file cannot be read right. ``NeedsHint``, a kind of it, where one of the arguments settles it.
    BadInput
        A hint that cannot mean anything.
    """
    told = {"columns": columns, "unit": unit, "decimal": decimal, "reference_ohm": reference_ohm}
    open_ones = {key: value for key, value in (if_needed or {}).items() if told.get(key) is None}
    name = os.fsdecode(path)
    try:
        return _read(name, told, open_ones, trace=trace, recover_sign=recover_sign, measured_at=measured_at)
    except SweepkitError as error:
        if error.path is None:
            error.path = name
        raise


def _read(
    name: str, told: dict[str, Any], kit: dict[str, Any], *, measured_at: Place, **others: Any
) -> Sweep:
    """The sweep; each thing the file leaves open is taken from the kit, one after the other."""
    used: dict[str, Any] = {}
    while True:
        try:
            sweep = _read_as_told(name, make_hints(**told | used, **others), measured_at)
        except NeedsHint as error:
            key = error.hint.replace("-", "_")
            if key in used or key not in kit:
                raise _with_kit(error, used) from error
        except UnreadableFile as error:
            raise _with_kit(error, used) from error
        else:
            key = "reference_ohm"
            if (
                key in used
                or key not in kit
                or not any(f.code == "reference-assumed" for f in sweep.findings)
            ):
                return _said(sweep, used)
        used[key] = kit[key]


def _with_kit(error: UnreadableFile, used: dict[str, Any]) -> UnreadableFile:
    if used:
        error.text += f" ({_told_text(used)} came from the kit)"
    return error


def _said(sweep: Sweep, used: dict[str, Any]) -> Sweep:
    if not used:
        return sweep
    text = f"the file leaves something open; the kit's [analyzer] told {_told_text(used)}"
    finding = Finding("kit-hints", "note", text, "nothing to do if this analyzer wrote the file")
    source = replace(sweep.source, hints=tuple(used.items()))
    return replace(sweep, source=source, findings=(*sweep.findings, finding))


def _told_text(used: dict[str, Any]) -> str:
    return ", ".join(f"{name} = {value}" for name, value in used.items())


def _read_as_told(name: str, hints: Hints, measured_at: Place) -> Sweep:
    text = open_text(name, glance)
    reader = choose_reader(text)
    rows, comments = reader.read(text, hints)
    slips = find_slips(rows)
    if any(finding.code == "row-doubtful" for finding in rows.findings):
        slips = ()  # once is enough
    source = Source(name, text.sha256, reader.NAME, comments)
    rows = replace(rows, printed_row=None, findings=(*rows.findings, *slips))
    del text  # of a large file it weighs as much as the numbers
    sweep = assemble(rows, source=source, measured_at=measured_at)
    if hints.recover_sign:
        from sweepkit.readers.sign_recovery import with_recovered_sign

        return with_recovered_sign(sweep)
    return sweep
