"""One file to one sweep or network, or one error that names the line and the hint to pass.

A new reader is one module, and its name in the tuple of ``choose_reader``.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Mapping
from dataclasses import replace
from itertools import islice
from pathlib import PurePath
from types import ModuleType
from typing import Any

import numpy as np

from sweepkit.errors import NeedsHint, NotASweep, SweepkitError, UnreadableFile
from sweepkit.findings import Finding
from sweepkit.readers import touchstone, touchstone_keywords
from sweepkit.readers.assembly import assemble, refuse_frequencies
from sweepkit.readers.hints import Hints, make_hints
from sweepkit.readers.network_data import read_matrices
from sweepkit.readers.opening import Text, one_block, open_text
from sweepkit.readers.ports import scattering
from sweepkit.readers.records import numbers_of
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
            key = "reference_ohm"
            if key in used or key not in kit or all(f.code != "reference-assumed" for f in sweep.findings):
                return _said(sweep, used)
        except UnreadableFile as error:
            key = error.hint.replace("-", "_") if isinstance(error, NeedsHint) else ""
            if key in used or key not in kit:
                error.text += f" ({_told_text(used)} came from the kit)" if used else ""
                raise
        used[key] = kit[key]


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


def read_network(path: str | os.PathLike[str], *, reference_ohm: float | None = None) -> Any:
    """Read all ports of a Touchstone file.

    Parameters
    ----------
    path : str or path
        The file.
    reference_ohm : float, optional
        Reference resistance where the file states none. [ohm]

    Returns
    -------
    skrf.Network
        Scattering parameters, each port against its own reference, frequencies rising; named after the file.

    Raises
    ------
    UnreadableFile
        The file cannot be read right, or is a table.
    """
    name = os.fsdecode(path)
    try:
        return _network(name, reference_ohm)
    except SweepkitError as error:
        error.path = error.path or name
        raise


def _network(name: str, reference_ohm: float | None) -> Any:
    hints = make_hints(reference_ohm=reference_ohm)
    text = open_text(name, glance)
    reader = choose_reader(text)
    if not hasattr(reader, "take_apart"):
        raise UnreadableFile(
            "this is a table, which holds one port; expected Touchstone; use read_sweep(path).network", line=1
        )
    parts, layout = reader.take_apart(text, hints)
    read = read_matrices(text, parts, layout, hints)
    refuse_frequencies(read.f_hz, read.lines)
    s = scattering(read.parameters, layout.options, read.references_ohm, absolute=layout.absolute)
    order = np.argsort(read.f_hz, kind="stable")
    twice = np.flatnonzero(np.diff(read.f_hz[order]) == 0)
    wrong = np.flatnonzero(~np.isfinite(s).all(axis=(1, 2)))
    if wrong.size or twice.size:
        at = int(wrong[0]) if wrong.size else int(max(order[twice[0] : twice[0] + 2]))
        what = "no finite number" if wrong.size else "a frequency that stands here a second time"
        raise UnreadableFile(
            f"{what}; expected finite numbers, once per frequency; correct the line", line=int(read.lines[at])
        )
    import skrf

    frequency = skrf.Frequency.from_f(read.f_hz[order], unit="Hz")
    return skrf.Network(
        frequency=frequency, s=s[order], z0=np.array(read.references_ohm), name=PurePath(name).stem
    )


def choose_reader(text: Text) -> ModuleType:
    """The one reader that recognises a file; tables are asked last, for their half is loaded only then."""
    head = text.head
    for reader in (touchstone_keywords, touchstone):
        if reader.recognise(head):
            return reader
    from sweepkit.readers.tables import table
    from sweepkit.readers.tables.layout import refuse_other_layout

    if table.recognise(head):
        return table
    refuse_other_layout(head)
    raise NotASweep(
        "neither a Touchstone option line (# MHz S RI R 50) nor a table with a frequency column was found; "
        "expected one of them; export the sweep as Touchstone or CSV",
        line=1,
    )


def glance(text: Text) -> None:
    """Refuse a long file by its beginning: nothing recognises it, or what looks like a table has no rows."""
    reader = choose_reader(text)
    if hasattr(reader, "take_apart"):
        with contextlib.suppress(NeedsHint):  # the user may have given it
            text, hints = one_block(text, Hints())
            numbers_of(text, reader.take_apart(text, hints)[0], hints)
        return
    from sweepkit.readers.tables.layout import SAMPLE_LINES, find_layout

    find_layout(tuple(line for _, line, _ in islice(text.numbered(), SAMPLE_LINES)))
