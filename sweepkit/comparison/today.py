"""Is this setup inside what its antenna usually does?"""

from __future__ import annotations

from collections.abc import Sequence

from sweepkit.antennas.rungs import WORDS, Rung
from sweepkit.comparison.arms import site_key
from sweepkit.comparison.between import SURROUNDINGS, differs
from sweepkit.comparison.differences import Difference, Gap, Side, judge, sums_of
from sweepkit.comparison.scale import value_on_scale
from sweepkit.comparison.setups import JUDGED, ComparedSetup, figures_at, find_dip, find_plane, geometry_of
from sweepkit.comparison.spread import Reerections, body_of, find_usual
from sweepkit.findings import Finding
from sweepkit.quantities import count_text

ONE_OF_TWO = 1.1436  # two figures share the 1 in 20: 2.2414 standard deviations in place of 1.96
NAMES = {"dip_hz": "dip", "r_ohm": "R"}
PLACE = (*SURROUNDINGS, "radial_height_m")


def judge_today(today: ComparedSetup, earlier: Sequence[ComparedSetup]) -> Finding:
    """``inside-usual`` or ``outside-usual`` of the earlier setups of the same antenna, the nearest there are.

    Those of other lengths or radials are left out. Those at this site, on this ground and so high go before the
    others; without any, what sites differ by is allowed for. ``usual-unknown`` without an earlier setup alike.
    """
    alike = [setup for setup in earlier if geometry_of(setup) == geometry_of(today) and setup.id != today.id]
    if not alike:
        missing = "no earlier setup of this antenna in the same state to hold it against"
        return Finding("usual-unknown", "note", missing, "log this one too: sweepkit log add")
    cloud, rung = nearest_setups(today, alike)
    plane = find_plane([today, *cloud])
    if plane is None:
        return Finding("usual-unknown", "note", "the earlier setups were measured at another plane", "")
    common = find_dip(cloud, plane)
    figures = {setup.id: figures_at(setup, plane, common) for setup in (today, *alike)}
    body = body_of(cloud)
    differences = []
    for name in JUDGED:
        spread = Reerections(alike, [value_on_scale(name, figures[setup.id][name]) for setup in alike])
        sides = [
            Side(
                label, sums_of(setups, name, figures, "setup", fine=0), len({site_key(one) for one in setups})
            )
            for label, setups in (("usual", cloud), ("today", [today]))
        ]
        barred = "R turns along a line that nobody told" if name == "r_ohm" and plane == "unknown" else None
        differences.append(
            judge(name, sides[0], sides[1], find_usual(name, spread, body), Gap(rung), barred=barred)
        )
    return _finding(differences, len(cloud), rung)


def nearest_setups(today: ComparedSetup, alike: Sequence[ComparedSetup]) -> tuple[list[ComparedSetup], Rung]:
    """The earlier setups with the least between them and today, and what lies between."""
    here = [setup for setup in alike if site_key(setup) == site_key(today)]
    same_place = [setup for setup in here if not differs((setup, today), PLACE)]
    if same_place:
        return same_place, "put-up-again"
    on_such_ground = [setup for setup in alike if not differs((setup, today), PLACE)]
    if on_such_ground and not here:
        return on_such_ground, "another-site"
    return here or list(alike), "other-ground"


def beside_logged(
    setups: Sequence[ComparedSetup], logged: Sequence[ComparedSetup]
) -> tuple[list[ComparedSetup], list[ComparedSetup]]:
    """What is compared, and what else the logbook holds: one setup alone gets its nearest earlier one as baseline.

    Logged setups that hold the same files do not count.
    """
    hashes = frozenset(sha256 for setup in setups for sha256 in setup.hashes)
    earlier = [setup for setup in logged if not setup.hashes & hashes]
    if len(setups) != 1:
        return list(setups), earlier
    today = setups[0]
    alike = [
        one for one in earlier if one.antenna == today.antenna and geometry_of(one) == geometry_of(today)
    ]
    baseline = nearest_setups(today, alike)[0][-1:] if alike else []
    return [*baseline, today], [one for one in earlier if one not in baseline]


def _finding(differences: Sequence[Difference], earlier: int, rung: Rung) -> Finding:
    where = {
        "put-up-again": "at this site",
        "another-site": "at other sites",
        "other-ground": "on other ground or at other heights",
    }[rung]
    against = f"{count_text(earlier, 'earlier setup')} {where}"
    dip = next(one for one in differences if one.quantity == "dip_hz")
    if not dip.scales:
        return Finding("usual-unknown", "note", f"this setup cannot be held against {against}: {dip.why}", "")
    odd = [one for one in differences if one.limit is not None and _nearer_end(one) > ONE_OF_TWO * one.limit]
    if not odd:
        text = f"inside what this antenna usually does: {_shift(dip)}, against {against}"
        return Finding("inside-usual", "note", text, "")
    text = "; ".join(f"{NAMES[one.quantity]} {_shift(one)}" for one in odd)
    return Finding(
        "outside-usual",
        "warning",
        f"outside what this antenna usually does: {text}, by {WORDS[rung]}; against {against}",
        "radio off and disconnected: look at radials, joints, line and what touches the wire before any trimming",
    )


def _nearer_end(one: Difference) -> float:
    """How far out the whole interval lies."""
    low, high = one.difference.low, one.difference.high
    if low is None or high is None:
        return abs(one.difference.value or 0.0)
    return max(low, -high, 0.0)


def _shift(difference: Difference) -> str:
    value, limit = difference.difference.value or 0.0, difference.limit or 0.0
    way = "above" if value > 0 else "below"
    if difference.quantity == "dip_hz":
        return f"{abs(value) / 1e3:.0f} kHz {way} the middle, usual is up to {limit / 1e3:.0f} kHz"
    return f"{abs(value):.2g} {way} the middle, usual is up to {limit:.2g}"
