"""Every pair of sides in one quantity, with what lies between, what it is held against and what would matter."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence

from sweepkit.antennas.rungs import RUNGS, Body, Rung
from sweepkit.comparison.arms import BLOCKS, UNKNOWN_SITE, Arm, By, line_text, site_key
from sweepkit.comparison.differences import (
    BANDWIDTH_SHARE,
    OTHERS,
    Difference,
    Figures,
    Gap,
    Scale,
    Side,
    Sums,
    in_words,
    judge,
    limit_sds,
    on_rung,
    pair_sides,
    place_on_ladder,
    sums_of,
)
from sweepkit.comparison.fairness import Unfair
from sweepkit.comparison.setups import ComparedSetup
from sweepkit.comparison.spread import Reerections, Usual, find_usual
from sweepkit.figures import Figure
from sweepkit.reviews.summary import BANDWIDTH_SWR

SURROUNDINGS = ("ground", "feed_height_m", "apex_height_m", "end_height_m")
LAY_OF_RADIALS = ("radials", "radial_length_m", "radial_height_m")
# Of the measurement's interval of a difference: where one calibration holds for both sides; and where both were swept
# through one line that nobody took apart, since line and analyzer give about as much each. Our choices.
ONE_CALIBRATION, ONE_LINE = 0.5, math.sqrt(0.5)
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


STEPS_IN_WIDTH = 3  # steps inside the dip's width with which no sweep could jump it; our choice


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
    """Every pair of sides in one quantity; ``told`` lies between, by an option."""
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
        labels = [arm.label for arm in shown]
        barred = next((unfair.text for unfair in fairness if unfair.bars_between(name, labels)), None)
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


def judge_gone(
    a: ComparedSetup, b: ComparedSetup, figures: Figures, usual: Usual | None, gap: Gap
) -> Difference | None:
    """The difference in dip of two setups of which one shows none; ``None`` where nothing follows from that."""
    for seen, other in ((a, b), (b, a)):
        dip_hz = figures[seen.id]["dip_hz"].value
        if dip_hz is None or figures[other.id]["dip_hz"].value is not None:
            continue
        least = least_move(other, dip_hz, _width_hz(figures[seen.id]))
        if usual is not None and least is not None:
            return _judged(a.id, b.id, other.id, dip_hz, least, usual, gap)
    return None


def least_move(setup: ComparedSetup, dip_hz: float, width_hz: float | None) -> tuple[float, float] | None:
    """How far a dip from here went at least to be in none of the sweeps: of the natural logarithm, and in Hz."""
    if width_hz is None or any(any(sweep.planes.values()) for sweep in setup.sweeps):
        return None
    reach = [
        (
            min(math.log(dip_hz / max(sweep.start_hz, 1.0)), math.log(sweep.stop_hz / dip_hz)),
            min(dip_hz - sweep.start_hz, sweep.stop_hz - dip_hz),
        )
        for sweep in setup.sweeps
        if sweep.start_hz < dip_hz < sweep.stop_hz and sweep.step_hz * STEPS_IN_WIDTH <= width_hz
    ]
    return max(reach, default=None)


def _width_hz(figures: Mapping[str, Figure]) -> float | None:
    """The dip's width, or the one its Q gives where it stays above 2:1."""
    if figures["bandwidth_hz"].value is not None:
        return figures["bandwidth_hz"].value
    dip_hz, q = figures["dip_hz"].value, figures["q"].value
    return None if dip_hz is None or not q else dip_hz / q


def _judged(
    a: str, b: str, without: str, dip_hz: float, least: tuple[float, float], usual: Usual, gap: Gap
) -> Difference:
    spreads = {rung: on_rung(rung, usual, (1.0, 1.0), (1, 1)) for rung in RUNGS}
    limits = {
        rung: limit_sds("dip_hz", usual.body, rung, spread) * spread.sd for rung, spread in spreads.items()
    }
    scales = tuple(
        Scale(rung, dip_hz * math.expm1(limit), least[0] > limit) for rung, limit in limits.items()
    )
    gone = (
        f"{without} has no dip near {dip_hz / 1e6:.3f} MHz, nor anywhere in its sweep: it went more than "
        f"{in_words('dip_hz', least[1])} or is gone"
    )
    is_beyond = gap.told is not None and least[0] > limits[gap.told]
    place = place_on_ladder(tuple(scale for scale in scales if scale.beyond))
    return Difference(
        quantity="dip_hz",
        a=a,
        b=b,
        difference=Figure.none(gone),
        scales=scales,
        told=gap.told,
        verdict="different" if is_beyond else "cannot_say",
        why="; ".join(part for part in (gone, place, f"held against {usual.words}") if part),
        held_against=usual.words,
    )
