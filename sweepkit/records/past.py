"""What the logbook adds to trimming: earlier lengths of a wire, how predictions came out, its own wavelengths."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import hypot
from math import log as log_of
from typing import Any, TypeVar, cast

from sweepkit.antennas.catalogue import KINDS
from sweepkit.antennas.kind import Kind, Move
from sweepkit.antennas.which import choose_dip
from sweepkit.errors import BadInput
from sweepkit.figures import Figure
from sweepkit.kit.known import KnownAntenna
from sweepkit.logbook import Logbook, LoggedSweep, list_sweeps, read_if_whole
from sweepkit.quantities import SPEED_OF_LIGHT_M_S
from sweepkit.records.nearest import logged_dips
from sweepkit.sweep import Sweep
from sweepkit.trim.predictions import PastPrediction
from sweepkit.trim.wire import EarlierState
from sweepkit.trim.wish import OwnAnswer

ALIKE = ("kind", "radials", "counterpoise_m", "coil_h", "transformer")  # setups whose answers are compared
LEAST_STEP = 0.005  # of ln(length): less says nothing of the answer
STEEPEST, SHALLOWEST = -1.5, -0.1  # answers that antennas of any kind give
# Of their spread is a sweep's own: line and analyzer err alike; common practice, no source
OF_ONE_OUTING = 0.5
NO_INTERVAL_SIGMA = 0.002  # of the dip, where no interval was kept
LEAST_CHANGE_M = 0.001  # lengths nearer than this are the same wire swept again

T = TypeVar("T")  # an answer


@dataclass(frozen=True, eq=False)
class Past:
    """What the logbook knows of a wire before its present sweep."""

    earlier: tuple[tuple[EarlierState, Sweep], ...] = ()
    own: tuple[OwnAnswer, ...] = ()
    predictions: tuple[PastPrediction, ...] = ()


def past_of(
    log: Logbook, known: KnownAntenna, now: Sweep, *, antenna: str, length_m: float, by: Move
) -> Past:
    """Earlier sweeps of the antenna's setup that still bear on it, and how past predictions came out."""
    if not known.setup:
        return Past()
    of_antenna = [each for each in list_sweeps(log, antenna=antenna) if "set_aside" not in each.facts]
    own = [each for each in of_antenna if each.setup.id == known.setup]
    states = _states(own, now.source.sha256, length_m, by)
    earlier = tuple(
        (state, sweep) for state, each in states if (sweep := read_if_whole(log, each)) is not None
    )
    others = [each for each in of_antenna if each.setup.id != known.setup]
    return Past(earlier, tuple(_own_answers(log, others, known.facts)), tuple(_predictions(log, of_antenna)))


def plan_with(
    plan: Callable[..., T], earlier: Sequence[tuple[EarlierState, Sweep]]
) -> tuple[T, Sequence[tuple[EarlierState, Sweep]], str | None]:
    """The plan, the earlier sweeps that it rests on (they go together), and why it does not rest on them."""
    if not earlier:
        return plan(), (), None
    try:
        return plan(earlier=earlier), earlier, None
    except BadInput as error:
        return plan(), (), error.text


def used_text(earlier: Sequence[tuple[EarlierState, Sweep]], why_not: str | None) -> str:
    """Which earlier sweeps of the logbook the answer rests on, or why it does not."""
    names = "; ".join(state.name for state, _ in earlier)
    if why_not is not None:
        return f"earlier sweeps of the logbook were left out ({names}): {why_not}"
    return f"earlier sweeps of this setup, from the logbook: {names}"


def _states(
    own: Sequence[LoggedSweep], sha256: str, length_m: float, by: Move
) -> list[tuple[EarlierState, LoggedSweep]]:
    """Each earlier length of this wire with its last sweep, since anything else was changed."""
    present = next((number for number, each in enumerate(own) if each.sha256 == sha256), len(own))
    chain: list[LoggedSweep | None] = [*own[: present + 1], *([None] if present == len(own) else [])]
    is_told = present < len(own) and own[present].setup.facts.get("calibrated") is not None
    found: list[tuple[EarlierState, LoggedSweep]] = []
    for then, following in pairwise(chain):
        assert then is not None  # only the last of the chain is not in the logbook
        facts = following.facts if following else {}
        if "changed" in facts:
            found = []
            continue
        then_m = then.facts.get("length_m")
        next_m = facts.get("length_m") if following else length_m
        if then_m is None or next_m is None:
            found = []
        elif abs(then_m - next_m) >= LEAST_CHANGE_M:
            word = facts.get("by", by)
            how = cast("Move", "cut" if word == "add" else word)
            name = f"sweep {then.id}, {then.name}"
            found.append((EarlierState(name, then_m, False, how, one_calibration=is_told), then))
    return found


def _own_answers(
    log: Logbook, others: Sequence[LoggedSweep], facts: Mapping[str, Any]
) -> Iterator[OwnAnswer]:
    """How the antenna answered to cuts and slides at its other setups, those like the present one only."""
    for setup in dict.fromkeys(each.setup.id for each in others):
        run: list[LoggedSweep] = []
        for each in (each for each in others if each.setup.id == setup):
            unlike = any(each.setup.facts.get(name) != facts.get(name) for name in ALIKE)
            if unlike or "length_m" not in each.facts:
                continue
            if "changed" in each.facts or each.facts.get("by") == "fold":
                run = []
            run.append(each)
        if (answer := _answer_of(log, run)) is not None:
            yield answer


def _answer_of(log: Logbook, run: Sequence[LoggedSweep]) -> OwnAnswer | None:
    """From the first and the last of sweeps between which the length alone was changed."""
    dips = [(each.facts["length_m"], dip) for each in run if (dip := _own_dip_hz(log, each)) is not None]
    if len(dips) < 2:
        return None
    (first_m, first_hz), (last_m, last_hz) = dips[0], dips[-1]
    step = log_of(last_m / first_m)
    if abs(step) < LEAST_STEP:
        return None
    slope = log_of((last_hz.value or 1.0) / (first_hz.value or 1.0)) / step
    if not STEEPEST < slope < SHALLOWEST:
        return None  # something else changed, too
    sigma = OF_ONE_OUTING * hypot(_sigma(first_hz), _sigma(last_hz)) / abs(step)
    return OwnAnswer(slope, sigma, len(dips))


def _sigma(dip_hz: Figure) -> float:
    """One sigma over the dip, from its interval of 95 %."""
    if dip_hz.value is None or dip_hz.low is None or dip_hz.high is None:
        return NO_INTERVAL_SIGMA
    return (dip_hz.high - dip_hz.low) / (2 * 1.96 * dip_hz.value)


def _predictions(log: Logbook, sweeps: Sequence[LoggedSweep]) -> list[PastPrediction]:
    """Sweeps of this antenna for which a dip had been predicted, with the dip nearest to it."""
    past = []
    for each in sweeps:
        predicted = _predicted_hz(each)
        if predicted is None:
            continue
        near = [dip.dip_hz for dip in logged_dips(log, each) if dip.dip_hz.value is not None]
        middle_hz = predicted.value or 0.0
        if near:
            dip_hz = min(near, key=lambda figure: abs((figure.value or 0.0) - middle_hz))
            past.append(PastPrediction(each.id, predicted, dip_hz))
    return past


def _predicted_hz(sweep: LoggedSweep) -> Figure | None:
    """What was predicted of a sweep; an interval that does not hold its own middle counts for nothing."""
    middle, low, high = (sweep.facts.get(f"predicted{end}_hz") for end in ("", "_low", "_high"))
    if middle is None:
        return None
    if low is None or high is None or not low <= middle <= high:
        return Figure(middle)
    return Figure(middle, low, high)


def _own_dip_hz(log: Logbook, each: LoggedSweep) -> Figure | None:
    """The dip that belongs to the logged length and kind."""
    kind = KINDS.get(str(each.setup.facts.get("kind")))
    found = [dip.dip_hz for dip in logged_dips(log, each) if dip.dip_hz.value is not None]
    if kind is None or not found:
        return None
    try:
        number = choose_dip(kind, each.facts["length_m"], [dip.value or 0.0 for dip in found]).number
    except BadInput:
        return None
    return None if number is None else found[number]


def own_wavelengths(log: Logbook, kind: Kind, antenna: str) -> Iterator[float]:
    """Length in wavelengths at the dip of each logged sweep of this antenna, of this kind."""
    for each in list_sweeps(log, antenna=antenna):
        length_m, same_kind = each.facts.get("length_m"), each.setup.facts.get("kind") == kind.name
        if length_m is None or not same_kind or "set_aside" in each.facts:
            continue
        if (dip_hz := _own_dip_hz(log, each)) is not None:
            yield (dip_hz.value or 0.0) * length_m / SPEED_OF_LIGHT_M_S
