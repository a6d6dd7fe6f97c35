"""Is this setup inside what its antenna usually does?"""

from __future__ import annotations

from collections.abc import Sequence

from sweepkit.comparison.arms import site_key
from sweepkit.comparison.differences import Difference, Side, judge, pair_verdict, sums_of
from sweepkit.comparison.scale import value_on_scale
from sweepkit.comparison.setups import JUDGED, ComparedSetup, figures_at, find_dip, find_plane, geometry_of
from sweepkit.comparison.smallest import LEVEL
from sweepkit.comparison.spread import Reerections, body_of, find_usual
from sweepkit.findings import Finding

LEAST_EARLIER = 3
NAMES = {"dip_hz": "dip", "r_ohm": "R", "q": "Q", "bandwidth_hz": "bandwidth", "dip_swr": "SWR at the dip"}
SURROUNDINGS = ("ground", "feed_height_m", "apex_height_m", "end_height_m", "radial_height_m")


def judge_today(today: ComparedSetup, earlier: Sequence[ComparedSetup]) -> Finding:
    """Hold a setup against the earlier ones of the same antenna.

    Parameters
    ----------
    today : ComparedSetup
        The new one.
    earlier : sequence of ComparedSetup
        Setups of the same antenna; those of other lengths, radials or lines are left out. Where it never stood at
        this site, or on this ground, or so high, what sites differ by is allowed for.

    Returns
    -------
    Finding
        ``inside-usual`` or ``outside-usual``, or ``usual-unknown`` with fewer than three earlier setups alike.
    """
    alike = [setup for setup in earlier if geometry_of(setup) == geometry_of(today) and setup.id != today.id]
    if len(alike) < LEAST_EARLIER:
        missing = f"{len(alike)} earlier setups of this antenna in the same state; {LEAST_EARLIER} tell what is usual"
        return Finding("usual-unknown", "note", missing, "log this one too: sweepkit log add")
    here = [setup for setup in alike if site_key(setup) == site_key(today) and _is_same_place(setup, today)]
    held = len(here) >= LEAST_EARLIER
    cloud = here if held else alike
    plane = find_plane([today, *cloud])
    if plane is None:
        return Finding("usual-unknown", "note", "the earlier setups were measured at another plane", "")
    dip_hz = find_dip(cloud, plane)
    figures = {setup.id: figures_at(setup, plane, dip_hz) for setup in (today, *alike)}
    body = body_of(cloud)
    differences = []
    for name in JUDGED:
        spread = Reerections(alike, [value_on_scale(name, figures[setup.id][name]) for setup in alike])
        usual = find_usual(name, spread, body)
        sides = [
            Side(
                label, sums_of(setups, name, figures, "setup", fine=0), len({site_key(one) for one in setups})
            )
            for label, setups in (("usual", cloud), ("today", [today]))
        ]
        differences.append(judge(name, sides[0], sides[1], usual, site_held=held, level=LEVEL / len(JUDGED)))
    return _finding(differences, len(cloud), held=held)


def _is_same_place(one: ComparedSetup, other: ComparedSetup) -> bool:
    """No word on ground or height that is another one; a word that is missing is none."""
    return all(
        one.facts[name] == other.facts[name]
        for name in SURROUNDINGS
        if name in one.facts and name in other.facts
    )


def _finding(differences: Sequence[Difference], earlier: int, *, held: bool) -> Finding:
    where = "at this site" if held else "at other sites, on other ground or at other heights"
    against = f"{earlier} earlier setups {where}"
    verdict = pair_verdict(differences)
    if verdict == "cannot_say":
        return Finding("usual-unknown", "note", f"this setup cannot be held against {against}", "")
    if verdict == "same":
        dip = next(one for one in differences if one.quantity == "dip_hz")
        text = f"inside what this antenna usually does: {_shift(dip)}, against {against}"
        return Finding("inside-usual", "note", text, "")
    odd = [one for one in differences if one.verdict == "different"]
    text = "; ".join(f"{NAMES[one.quantity]} {_shift(one)}" for one in odd)
    return Finding(
        "outside-usual",
        "warning",
        f"outside what this antenna usually does: {text}; against {against}",
        "radio off and disconnected: look at radials, joints, line and what touches the wire before any trimming",
    )


def _shift(difference: Difference) -> str:
    value, limit = difference.difference.value or 0.0, difference.limit or 0.0
    way = "above" if value > 0 else "below"
    if difference.quantity in ("dip_hz", "bandwidth_hz"):
        return f"{abs(value) / 1e3:.0f} kHz {way} the middle, usual is up to {limit / 1e3:.0f} kHz"
    return f"{abs(value):.2g} {way} the middle, usual is up to {limit:.2g}"
