"""The one dip of an antenna that its sweeps are held to: the one that most of them show."""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from itertools import accumulate

CLUSTER = 0.06  # dips of like setups mostly lie within this share of their frequency; practice, no source
SERVES_SWR = 3.0  # a dip above that tells of no place that an antenna serves; common practice, no source
WORST_SWR = 1e6  # of a dip whose SWR is not known; above any that is


def find_usual_dip(dips: Sequence[tuple[float, float | None]]) -> int | None:
    """Which of the dips of all sweeps, each a frequency [Hz] and an SWR, is the usual one.

    The middle one of those that are the most within ``CLUSTER``, and of several such the deeper; ``None``: no dip.
    """
    known = sorted((math.log(f_hz), swr or WORST_SWR, number) for number, (f_hz, swr) in enumerate(dips))
    ln_f = [one[0] for one in known]
    sums = [0.0, *accumulate(min(swr, WORST_SWR) for _, swr, _ in known)]
    around = []
    for one in ln_f:
        first, last = bisect_left(ln_f, one - CLUSTER / 2), bisect_right(ln_f, one + CLUSTER / 2)
        around.append((first - last, (sums[last] - sums[first]) / (last - first), (first + last - 1) // 2))
    return known[min(around)[2]][2] if around else None
