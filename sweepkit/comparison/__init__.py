"""Two or more setups compared: what they differ by, held against what setups of an antenna usually differ by.

``gather`` brings setups in from files or the logbook; ``setups`` takes the figures of one dip off each; ``arms`` sorts
them into sides; ``spread`` says what is usual, ``differences`` judges, ``fairness`` names what else is different.
``variance`` (with ``parts``), ``smallest`` (with ``outlook``) and ``radials`` say what more the setups show;
``answer`` puts it together. ``today`` holds one setup against an antenna's earlier ones.
"""

from __future__ import annotations

from sweepkit.comparison.answer import Comparison, compare_setups
from sweepkit.comparison.arms import BY, By
from sweepkit.comparison.gather import setups_from_log, setups_from_sweeps
from sweepkit.comparison.setups import ComparedSetup

__all__ = [
    "BY",
    "By",
    "ComparedSetup",
    "Comparison",
    "compare_setups",
    "setups_from_log",
    "setups_from_sweeps",
]
