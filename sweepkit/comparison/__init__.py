"""Two or more setups compared: what they differ by, held against what setups of an antenna usually differ by.

``gather`` brings setups in from files or the logbook; ``setups`` takes the figures of one dip off each; ``arms`` sorts
them into sides; ``spread`` says what is usual, ``differences`` judges, ``fairness`` names what else is different.
``variance`` (with ``parts``), ``smallest`` (with ``outlook``) and ``radials`` say what more the setups show;
``answer`` puts it together. ``today`` holds one setup against an antenna's earlier ones.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sweepkit.comparison.answer import Comparison, compare_setups
from sweepkit.comparison.arms import BY, By
from sweepkit.comparison.gather import setups_from_log, setups_from_sweeps
from sweepkit.comparison.setups import ComparedSetup

if TYPE_CHECKING:
    from sweepkit.sweep import Sweep

__all__ = [
    "BY",
    "By",
    "ComparedSetup",
    "Comparison",
    "compare",
    "compare_setups",
    "setups_from_log",
    "setups_from_sweeps",
]


def compare(sweeps: Sequence[Sweep | str | Path], *, by: By = "setup", **known: Any) -> Comparison:
    """Compare sweeps.

    Parameters
    ----------
    sweeps : sequence of Sweep or path
        Two or more. Those of one folder with a ``setup.toml`` are one setup.
    by : {"setup", "site", "antenna", "radials", "line"}
        What the comparison is about.
    **known
        As for :func:`sweepkit.review`.

    Returns
    -------
    Comparison
        Figures, differences with their verdicts, what is unfair.

    Raises
    ------
    UnreadableFile, BadInput
        A file that cannot be read, or a sweep that cannot be reviewed.
    """
    from sweepkit.readers import read_sweep

    read = [read_sweep(sweep) if isinstance(sweep, str | Path) else sweep for sweep in sweeps]
    return compare_setups(setups_from_sweeps(read, **known), by=by)
