"""Two or more setups compared: figures, differences with their verdicts, fairness, and what more would show."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations, pairwise
from typing import Any

import numpy as np

from sweepkit.antennas.rungs import Body, Rung
from sweepkit.bands import Band
from sweepkit.comparison.arms import Arm, By, outing_key, sort_arms
from sweepkit.comparison.differences import (
    Difference,
    Figures,
    pair_verdict,
)
from sweepkit.comparison.fairness import Unfair, find_unfair, listed
from sweepkit.comparison.groups import Group, describe_groups
from sweepkit.comparison.pairs import differences_of
from sweepkit.comparison.parts import split_spread
from sweepkit.comparison.radials import RadialTrend, describe_radials
from sweepkit.comparison.scale import sd_of_measurement, value_on_scale
from sweepkit.comparison.serving import Serving, describe_serving
from sweepkit.comparison.setups import (
    FOLLOWING,
    JUDGED,
    SHOWN,
    ComparedSetup,
    common_dips,
    figures_at,
    find_plane,
)
from sweepkit.comparison.spread import (
    Outlook,
    Reerections,
    Usual,
    body_of,
    describe_outlook,
    find_usual,
    squares_of_steps,
    sweep_by_sweep,
)
from sweepkit.comparison.variance import Split
from sweepkit.errors import BadInput
from sweepkit.figures import Figure
from sweepkit.kit.radio import DIRECT_SWR
from sweepkit.plain_types import to_plain

SCHEMA = "sweepkit/compare/2"
NOT_SHOWN = (
    "One port shows what comes back, not what goes out: neither efficiency nor pattern nor current on the outside "
    "of the line. A lower SWR may mean more loss."
)
ONE_DIP = (
    "These sweeps span several bands, and one dip of them is compared: whether the rest of the curve changed is for "
    "sweepkit diagnose to say."
)
SEVERAL_BANDS = 2.0  # ends of a sweep of more than one band; our choice
OF_RADIALS = ("dip_hz", "r_ohm", "q")
LIKE_ANTENNAS = 0.1  # dips of two antennas further apart are on other bands, and are not compared


@dataclass(frozen=True)
class Comparison:
    """Everything said of two or more setups.

    Parameters
    ----------
    by : By
        What was compared.
    setups : tuple of ComparedSetup
        In the order given.
    figures : mapping
        Of each setup by its id, by quantity.
    arms : tuple of Arm
        Sides.
    differences : tuple of Difference
        Of each pair of sides, in each quantity.
    fairness : tuple of Unfair
        What stands between them besides.
    ranking : tuple of str or None
        Lines with the least loss first, where that is the question; ``None`` where a ranking would mean nothing.
    why_no_ranking : str
        Why.
    radials : mapping of str to RadialTrend
        What radials did to dip, R and Q.
    background : tuple of ComparedSetup
        Other setups of the same antennas.
    usual : mapping of str to Usual or None
        What setups usually differ by on each rung, by quantity.
    groups : tuple of Group
        What each side is like; none where each setup is a side of its own.
    serving : tuple of Serving
        Which antenna serves which band, where antennas are the question.
    """

    by: By
    setups: tuple[ComparedSetup, ...]
    figures: Figures
    arms: tuple[Arm, ...]
    differences: tuple[Difference, ...]
    fairness: tuple[Unfair, ...]
    ranking: tuple[str, ...] | None
    why_no_ranking: str
    radials: Mapping[str, RadialTrend]
    background: tuple[ComparedSetup, ...]
    usual: Mapping[str, Usual | None]
    groups: tuple[Group, ...] = ()
    serving: tuple[Serving, ...] = ()

    @cached_property
    def variance(self) -> Mapping[str, Split]:
        """Spread of dip, R and Q in its parts, from all setups there are."""
        return split_spread([*self.setups, *self.background], self.figures)

    @cached_property
    def outlook(self) -> tuple[Outlook, ...]:
        """What could be seen with how many setups."""
        return describe_outlook(self.usual)

    @property
    def not_shown(self) -> tuple[str, ...]:
        """What no figure here tells."""
        swept = [one for setup in self.setups for one in setup.sweeps]
        is_wide = any(one.stop_hz > SEVERAL_BANDS * one.start_hz for one in swept)
        return (NOT_SHOWN, ONE_DIP) if is_wide and self.differences else (NOT_SHOWN,)

    @property
    def pairs(self) -> dict[tuple[str, str], list[Difference]]:
        """Differences of each pair of sides."""
        pairs: dict[tuple[str, str], list[Difference]] = {}
        for difference in self.differences:
            pairs.setdefault((difference.a, difference.b), []).append(difference)
        return pairs

    def to_json(self) -> dict[str, Any]:
        """As promised, plain types only."""
        document = {
            "schema": SCHEMA,
            "by": self.by,
            "setups": [
                {"id": setup.id, "site": setup.site, "antenna": setup.antenna, "when": setup.when}
                | {name: self.figures[setup.id][name] for name in SHOWN}
                for setup in self.setups
            ],
            "groups": self.groups,
            "serving": self.serving,
            "differences": self.differences,
            "verdicts": [
                {"a": a, "b": b, "verdict": pair_verdict(own)} for (a, b), own in self.pairs.items()
            ],
            "fairness": self.fairness,
            "ranking": self.ranking,
            "why_no_ranking": self.why_no_ranking,
            "variance": self.variance,
            "outlook": self.outlook,
            "radials": self.radials,
            "not_shown": " ".join(self.not_shown),
        }
        return {name: to_plain(part) for name, part in document.items()}


def compare_setups(
    setups: Sequence[ComparedSetup],
    *,
    by: By = "setup",
    background: Sequence[ComparedSetup] = (),
    band: Band | None = None,
    told: Rung | None = None,
    direct_swr: float = DIRECT_SWR,
) -> Comparison:
    """Compare two or more setups, each id once.

    ``background`` are other setups of the same antennas, which tell their usual spread; ``band`` is where the dip to
    compare is, without it the dip that most setups show. ``told`` lies between the setups; setups that cannot be that
    are a ``BadInput``. Up to ``direct_swr`` a band is used without a tuner.
    """
    if not setups:
        raise BadInput(
            "there is nothing to compare; name two files or more, --antenna NAME, or --log PATH for all of a logbook"
        )
    _refuse_untrue(setups, by, told)
    everything = [*setups, *background]
    common = common_dips(everything, setups, band)
    plane = find_plane(setups)
    figures = {one.id: figures_at(one, plane, common[one.antenna]) for one in everything}
    singly = sweep_by_sweep(everything, plane, common)
    arms, unknown = sort_arms(setups, by)
    bands_apart = _other_bands(arms, by, figures)
    apart = (bands_apart, _no_common_dip(setups, background, figures))
    fairness = (*find_unfair(setups, arms, unknown, by), *(one for one in apart if one is not None))
    known = (*JUDGED, *FOLLOWING)
    values = {name: [value_on_scale(name, figures[setup.id][name]) for setup in everything] for name in known}
    spreads = {
        name: Reerections(everything, values[name], squares_of_steps(everything, _on_scale(name, singly)))
        for name in known
    }
    body = body_of(setups)
    differences = (
        [
            difference
            for name in known
            for difference in differences_of(name, arms, by, figures, spreads[name], body, fairness, told)
        ]
        if len(arms) > 1
        else []
    )
    ranking, why_no_ranking = _ranking(arms, by, figures, fairness)
    usual = {name: find_usual(name, spreads[name], body) for name in known}
    return Comparison(
        by=by,
        setups=tuple(setups),
        figures=figures,
        arms=tuple(arms),
        differences=tuple(differences),
        fairness=fairness,
        ranking=ranking,
        why_no_ranking=why_no_ranking,
        radials=_radials(arms, figures, spreads, body) if by == "radials" and len(arms) > 1 else {},
        background=tuple(background),
        usual=usual,
        groups=() if by == "setup" else describe_groups(arms, by, figures, usual),
        serving=describe_serving(setups, direct_swr=direct_swr) if by == "antenna" else (),
    )


def _refuse_untrue(setups: Sequence[ComparedSetup], by: By, told: Rung | None) -> None:
    """Refuse what facts say is not so."""
    if told is None:
        return
    if by != "setup":
        raise BadInput(f"what lies between was told, and --by {by} sorts the setups; give one of the two")
    for name in ("site", "antenna"):
        others = sorted({setup.facts[name] for setup in setups if setup.facts.get(name) is not None})
        if len(others) > 1:
            raise BadInput(
                f"one {name} was told, by an option that says what lies between; the setups are of {len(others)}: "
                f"{', '.join(others[:6])}; leave the option out, or correct setup.toml or the logbook"
            )


def _other_bands(arms: Sequence[Arm], by: By, figures: Figures) -> Unfair | None:
    """Antennas that dip on different bands."""
    if by != "antenna":
        return None
    dips = {
        arm.label: [value_on_scale("dip_hz", figures[setup.id]["dip_hz"]) for setup in arm.setups]
        for arm in arms
    }
    middles = {label: float(np.nanmean(own)) for label, own in dips.items() if np.isfinite(own).any()}
    apart = frozenset(
        frozenset(pair)
        for pair in combinations(middles, 2)
        if abs(middles[pair[0]] - middles[pair[1]]) > LIKE_ANTENNAS
    )
    if not apart:
        return None
    return Unfair(
        "different-bands",
        "antennas dip on different bands; dip and bandwidth of those are not compared; --band names one they share",
        ("dip_hz", "bandwidth_hz"),
        apart,
    )


def _no_common_dip(
    setups: Sequence[ComparedSetup], background: Sequence[ComparedSetup], figures: Figures
) -> Unfair | None:
    """Setups that do not show the dip that is compared."""
    without = [setup.id for setup in setups if figures[setup.id]["dip_hz"].value is None]
    if not without:
        return None
    if len(without) == len(setups):
        return _not_of_the_logged(setups, background)
    return Unfair(
        "no-common-dip",
        f"no dip in common with the others: {listed(without)}; another antenna or band, or it left the sweep",
    )


def _not_of_the_logged(setups: Sequence[ComparedSetup], background: Sequence[ComparedSetup]) -> Unfair | None:
    """Setups that dip, but nowhere near where the logbook has the dip of their antenna."""
    if not background or not any(any(sweep.planes.values()) for one in setups for sweep in one.sweeps):
        return None
    names = listed(sorted({one.antenna for one in background if one.antenna is not None}))
    return Unfair(
        "no-common-dip",
        f"no dip in common with what the logbook has of {names}; another antenna under this name? Leave --antenna "
        "out, or give the name of this one",
    )


def _on_scale(name: str, singly: Mapping[str, list[dict[str, Figure]]]) -> dict[str, list[float]]:
    return {id_: [value_on_scale(name, figures[name]) for figures in rows] for id_, rows in singly.items()}


def _ranking(
    arms: Sequence[Arm], by: By, figures: Figures, fairness: Sequence[Unfair]
) -> tuple[tuple[str, ...] | None, str]:
    """Only lines can be ranked by what a sweep shows: what is lost in them."""
    if by != "line":
        return None, "no ranking: which is better is a question of signals, and a sweep does not show them"
    if fairness:
        return None, f"no ranking: {fairness[0].text}"
    losses = {}
    for arm in arms:
        told = [figures[setup.id]["line_loss_db"] for setup in arm.setups]
        losses[arm.label] = [loss for loss in told if loss.value is not None]
    if not all(losses.values()):
        return None, "no ranking: the loss of a line is not known"
    ends = {
        label: (
            min(loss.low or loss.value or 0.0 for loss in own),
            max(loss.high or loss.value or 0.0 for loss in own),
        )
        for label, own in losses.items()
    }
    order = sorted(ends, key=lambda label: ends[label])
    if any(ends[first][1] >= ends[second][0] for first, second in pairwise(order)):
        return None, "no ranking: the losses lie within what they are known to"
    return tuple(
        order
    ), "by the loss in the line, the least first; of the antennas behind them it says nothing"


def radial_setups(arms: Sequence[Arm]) -> tuple[list[ComparedSetup], bool]:
    """Setups that show what radials do: those of the outing with most numbers of them, else all."""
    setups = [setup for arm in arms for setup in arm.setups if int(setup.facts["radials"]) > 0]
    outings: dict[Any, list[ComparedSetup]] = {}
    for setup in setups:
        outings.setdefault((setup.antenna, outing_key(setup)), []).append(setup)
    best = max(outings.values(), key=lambda own: len({setup.facts["radials"] for setup in own}), default=[])
    same = len({setup.facts["radials"] for setup in best}) > 1
    return (best, True) if same else (setups, False)


def _radials(
    arms: Sequence[Arm], figures: Figures, spreads: Mapping[str, Reerections], body: Body
) -> dict[str, RadialTrend]:
    """What radials did, where the setups are of one antenna."""
    setups, same = radial_setups(arms)
    if len({setup.antenna for setup in setups}) != 1:
        return {}
    trends = {}
    for name in OF_RADIALS:
        own = [(int(setup.facts["radials"]), figures[setup.id][name]) for setup in setups]
        own = [(count, figure) for count, figure in own if (figure.value or 0.0) > 0]
        usual = find_usual(name, spreads[name], body)
        if own and usual is not None:
            trends[name] = describe_radials(
                [count for count, _ in own],
                np.array([figure.value for _, figure in own], dtype=np.float64),
                spread=usual.joined if same else usual.setup,
                told_sd=np.array([sd_of_measurement(name, figure) for _, figure in own]),
            )
    return trends
