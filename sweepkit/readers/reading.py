"""One file to one sweep, or one error that names the line and the hint to pass."""

from __future__ import annotations

import os

from sweepkit.errors import SweepkitError
from sweepkit.readers.assembly import assemble
from sweepkit.readers.hints import Hints, make_hints
from sweepkit.readers.opening import open_text
from sweepkit.readers.registry import choose_reader, glance
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
    hints = make_hints(
        columns=columns,
        unit=unit,
        decimal=decimal,
        reference_ohm=reference_ohm,
        trace=trace,
        recover_sign=recover_sign,
    )
    name = os.fsdecode(path)
    try:
        return _read(name, hints, measured_at)
    except SweepkitError as error:
        if error.path is None:
            error.path = name
        raise


def _read(name: str, hints: Hints, measured_at: Place) -> Sweep:
    text = open_text(name, glance)
    reader = choose_reader(text)
    rows, comments = reader.read(text, hints)
    source = Source(name, text.sha256, reader.NAME, comments)
    sweep = assemble(rows, source=source, measured_at=measured_at)
    if hints.recover_sign:
        from sweepkit.readers.sign_recovery import with_recovered_sign

        return with_recovered_sign(sweep)
    return sweep
