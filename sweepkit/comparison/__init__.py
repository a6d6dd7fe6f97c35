"""Two or more setups compared: what they differ by, held against what setups of an antenna usually differ by.

``gather`` brings setups in from files or the logbook; ``setups`` finds the dip that is meant and takes its
figures off each; ``arms`` sorts them into sides, ``pairs`` goes through these, also where one has no dip; ``spread``
says what is usual and what could be seen, ``differences`` judges, ``fairness`` names what else is different; ``groups``
and ``serving`` say what each side is like and which band it serves. ``variance`` (with ``parts``), ``smallest`` and
``radials`` say what more the setups show; ``answer`` puts it together. ``today`` holds one setup against an antenna's
earlier ones.
"""

from __future__ import annotations

from sweepkit.comparison.answer import Comparison, compare_setups
from sweepkit.comparison.arms import BY, By
from sweepkit.comparison.gather import setups_from_sweeps, setups_of
from sweepkit.comparison.setups import ComparedSetup
from sweepkit.comparison.today import beside_logged

__all__ = [
    "BY",
    "By",
    "ComparedSetup",
    "Comparison",
    "beside_logged",
    "compare_setups",
    "setups_from_sweeps",
    "setups_of",
]
