"""Files of one or more ports as a whole matrix, under the same guards as a sweep."""

from __future__ import annotations

import os
from pathlib import PurePath
from typing import Any

import numpy as np

from sweepkit.errors import SweepkitError, UnreadableFile
from sweepkit.readers.assembly import refuse_frequencies
from sweepkit.readers.hints import make_hints
from sweepkit.readers.opening import open_text
from sweepkit.readers.ports import scattering
from sweepkit.readers.registry import choose_reader, glance


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
    from sweepkit.readers.network_data import read_matrices

    numbers, layout = reader.take_apart(text, hints)
    read = read_matrices(numbers, layout, hints)
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
