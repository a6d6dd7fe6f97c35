"""Every pair of sides in one quantity, with what it is held against and what would matter."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from sweepkit.antennas.rungs import Body, Rung
from sweepkit.comparison.arms import BLOCKS, Arm, By, site_key
from sweepkit.comparison.between import gap_between
from sweepkit.comparison.differences import (
    BANDWIDTH_SHARE,
    OTHERS,
    Difference,
    Figures,
    Side,
    Sums,
    judge,
    pair_sides,
    sums_of,
)
from sweepkit.comparison.fairness import Unfair
from sweepkit.comparison.gone import judge_gone
from sweepkit.comparison.spread import Reerections, find_usual
from sweepkit.reviews.summary import BANDWIDTH_SWR


def differences_of(
    name: str,
    arms: Sequence[Arm],
    by: By,
    figures: Figures,
    spread: Reerections,
    body: Body,
    fairness: Sequence[Unfair],
    told: Rung | None,
) -> list[Difference]:
    """Every pair of sides in one quantity.

    ``told``: what lies between, by an option.
    """
    barred = next((unfair.text for unfair in fairness if name in unfair.bars), None)
    every = [setup for arm in arms for setup in arm.setups]
    divisions = range(len(BLOCKS[by]))
    whole = [sums_of(every, name, figures, by, fine=fine) for fine in divisions]
    at_sites = Counter(site_key(setup) for setup in every)
    found = []
    for k, m in pair_sides(len(arms)):
        a, b = arms[k], None if m is None else arms[m]
        sums_a = [sums_of(a.setups, name, figures, by, fine=fine) for fine in divisions]
        if b is None:
            sums_b = [_less(whole[fine], sums_a[fine]) for fine in divisions]
            sites_b = frozenset(at_sites - Counter(site_key(setup) for setup in a.setups))
        else:
            sums_b = [sums_of(b.setups, name, figures, by, fine=fine) for fine in divisions]
            sites_b = b.sites
        fine = next((n for n in divisions if sums_a[n].keys() & sums_b[n].keys()), divisions[-1])
        shown = [arm for arm in (a, b) if arm is not None]
        judged = {setup.id for arm in shown for setup in arm.setups} if by == "setup" else ()
        usual = find_usual(name, spread, body, without=judged)
        gap = gap_between(a, b, every, by, fine, told)
        gone = None
        if name == "dip_hz" and by == "setup" and b is not None and barred is None:
            gone = judge_gone(a.setups[0], b.setups[0], figures, usual, gap)
        found.append(
            gone
            or judge(
                name,
                Side(a.label, sums_a[fine], len(a.sites)),
                Side(OTHERS if b is None else b.label, sums_b[fine], len(sites_b)),
                usual,
                gap,
                matters=_matters(name, shown, figures),
                barred=barred or _some_missing(name, shown, figures),
            )
        )
    return found


def _matters(name: str, arms: Sequence[Arm], figures: Figures) -> float | None:
    """A share of the narrowest bandwidth, of the dip; ``None`` for what has no such measure."""
    if name != "dip_hz":
        return None
    own = [figures[setup.id] for arm in arms for setup in arm.setups]
    known = [
        one["bandwidth_hz"].value / one["dip_hz"].value
        for one in own
        if one["bandwidth_hz"].value and one["dip_hz"].value
    ]
    return BANDWIDTH_SHARE * min(known) if known else None


def _some_missing(name: str, arms: Sequence[Arm], figures: Figures) -> str | None:
    """A bandwidth that only some setups have is that of the better ones, and says nothing of the side."""
    if name != "bandwidth_hz":
        return None
    for arm in arms:
        has = [figures[setup.id][name].value is not None for setup in arm.setups]
        if any(has) and not all(has):
            return f"some setups of {arm.label} have none, since their SWR stays above {BANDWIDTH_SWR:g}"
    return None


def _less(whole: Sums, part: Sums) -> Sums:
    """Sums of all others."""
    left = {block: sums - part[block] if block in part else sums for block, sums in whole.items()}
    return {block: sums for block, sums in left.items() if sums[0] > 0.5}
