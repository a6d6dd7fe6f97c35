"""What lies between two sides of a comparison: the rung that was told, by an option, beside the files or in the log."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import sqrt

from sweepkit.antennas.rungs import Rung
from sweepkit.comparison.arms import BLOCKS, UNKNOWN_SITE, Arm, By, line_text, site_key
from sweepkit.comparison.differences import Gap
from sweepkit.comparison.setups import ComparedSetup

SURROUNDINGS = ("ground", "feed_height_m", "apex_height_m", "end_height_m")
LAY_OF_RADIALS = ("radials", "radial_length_m", "radial_height_m")
# Of the measurement's interval of a difference: where one calibration holds for both sides; and where both were swept
# through one line that nobody took apart, since line and analyzer give about as much each. Our choices.
ONE_CALIBRATION, ONE_LINE = 0.5, sqrt(0.5)
BY_WORD: dict[str, Rung] = {
    "kept": "swept-again",
    "rejoined": "joined-anew",
    "put-up-again": "put-up-again",
}  # words of the field ``since``


def gap_between(
    a: Arm, b: Arm | None, every: Sequence[ComparedSetup], by: By, fine: int, told: Rung | None
) -> Gap:
    """What is known of what lies between two sides, ``None`` being all others, by a division into blocks both share."""
    others = [s for s in every if s not in a.setups] if b is None else list(b.setups)
    both = [*a.setups, *others]
    told = told or (_of_setups(a.setups, others) if by == "setup" else _of_groups(by, fine, both))
    return Gap(
        told=told,
        site_held=by == "site" or (by != "setup" and fine < len(BLOCKS[by]) - 1),
        left=_left(both, kept=by == "setup" and told == "swept-again"),
        groups=by != "setup",
    )


def _of_groups(by: By, fine: int, both: Sequence[ComparedSetup]) -> Rung:
    """What would lie between two groups that differ by nothing else than what they were sorted by."""
    if by in ("radials", "line") and fine == 0:
        return "joined-anew"
    if by == "site" or fine < len(BLOCKS[by]) - 1 or len({site_key(one) for one in both}) == 1:
        return "put-up-again"
    return "another-site"


def _of_setups(a: Sequence[ComparedSetup], b: Sequence[ComparedSetup]) -> Rung | None:
    """What facts say: a word on what was done since, else sites, grounds and heights."""
    both = [*a, *b]
    words = {one.since for one in b if one.since} or {one.since for one in a if one.since}
    if len(both) == 2 and len(words) == 1:
        return BY_WORD[words.pop()]
    sites = {site_key(one) for one in both}
    if any(site.startswith(UNKNOWN_SITE) for site in sites):
        return None
    if differs(both, SURROUNDINGS) or (len(sites) > 1 and differs(both, LAY_OF_RADIALS)):
        return "other-ground"
    return "put-up-again" if len(sites) == 1 else "another-site"


def differs(setups: Iterable[ComparedSetup], names: Iterable[str]) -> bool:
    """Whether any of these facts is told to be another one; a fact that is missing is none."""
    every = list(setups)
    return any(len({one.facts[name] for one in every if name in one.facts}) > 1 for name in names)


def _left(both: Sequence[ComparedSetup], *, kept: bool) -> float:
    """What is left of the measurement's interval, since line or analyzer err alike on both sides."""
    if _is_one_calibration(both):
        return ONE_CALIBRATION
    return ONE_LINE if kept and _are_behind_one_line(both) else 1.0


def _are_behind_one_line(setups: Sequence[ComparedSetup]) -> bool:
    """Whether all were swept through the same told line."""
    through = all({"radio", "feedpoint"} <= set(sweep.planes) for one in setups for sweep in one.sweeps)
    return through and len({line_text(one) for one in setups}) == 1


def _is_one_calibration(setups: Sequence[ComparedSetup]) -> bool:
    """Whether one calibration, and one line behind it, is told to hold for all."""
    names = {None if _is_apart(one) else one.facts.get("calibrated") for one in setups}
    return len(names) == 1 and None not in names and len({line_text(one) for one in setups}) == 1


def _is_apart(setup: ComparedSetup) -> bool:
    """Whether its sweeps show that it does not share the calibration that is told for it."""
    return setup.amiss is not None and setup.amiss.code == "outing-disagrees"
