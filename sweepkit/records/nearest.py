"""Logged sweeps of an antenna: the dips of one, the nearest earlier one, what is said against it, a baseline."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from sweepkit.antennas.rungs import RUNGS, WORDS, Rung, body_of_kind
from sweepkit.errors import BadInput
from sweepkit.facts import BY_NAME, CHANGED
from sweepkit.figures import Figure
from sweepkit.kit.known import KnownAntenna
from sweepkit.logbook import Logbook, LoggedSweep, list_sweeps, read_if_whole, summary_of
from sweepkit.logbook.listing import usual_dip_hz
from sweepkit.logbook.sharing import DISAGREES
from sweepkit.records.antenna import standing_facts
from sweepkit.reviews.common_dip import PLANES, find_common_dip, is_beyond, nearest_first
from sweepkit.reviews.summary import DipSummary, Summary
from sweepkit.sweep import Place, Sweep

STATE = (
    "length_m",
    "lengths",
    "tail_m",
    "radials",
    "radial_length_m",
    "counterpoise_m",
    "tap",
    "coil_h",
    "line",
)
PLACE = ("ground", "feed_height_m", "apex_height_m", "end_height_m", "radial_height_m")

Facts = Mapping[str, Any]


@dataclass(frozen=True)
class Nearest:
    """An earlier sweep.

    ``rung``: what lies between, as far as the facts say.
    ``differs``: facts on the state of the antenna that are told to be other ones.
    """

    sweep: LoggedSweep
    rung: Rung
    differs: tuple[str, ...]


def find_nearest(log: Logbook, facts: Facts, **known: Any) -> Nearest | None:
    """The first of :func:`by_nearness`."""
    return next(iter(by_nearness(log, facts, **known)), None)


def by_nearness(
    log: Logbook,
    facts: Facts,
    *,
    setup: str | None = None,
    without: Collection[str] = (),
    before: int | None = None,
) -> list[Nearest]:
    """Earlier sweeps of the antenna, first the last one of the same setup, else the one with the least between.

    That is state, then site, ground and height. ``without`` are hashes of raw files that do not count, its own first
    of all; of sweeps ``before`` a number only those swept before it count.
    """
    if facts.get("antenna") is None:
        return []
    sweeps = list_sweeps(log, antenna=str(facts["antenna"]))
    place = next((k for k, sweep in enumerate(sweeps) if sweep.id == before), len(sweeps))
    known = [
        (k, _nearness(sweep, facts, setup))
        for k, sweep in enumerate(sweeps[:place])
        if sweep.sha256 not in without and "set_aside" not in sweep.facts and "piece" not in sweep.setup.facts
    ]
    known = _after_changes(sweeps, known, setup)
    known.sort(key=lambda pair: (pair[1].rung != "joined-anew", _apart(pair[1]), -pair[0]))
    return [near for _, near in known]


def _apart(near: Nearest) -> tuple[int, int]:
    return len(near.differs), RUNGS.index(near.rung)


def _after_changes(
    sweeps: Sequence[LoggedSweep], known: list[tuple[int, Nearest]], setup: str | None
) -> list[tuple[int, Nearest]]:
    """Without sweeps of the setup from before a change of it that was told."""
    changes = [
        k
        for k, near in known
        if near.sweep.setup.id == setup and any(name in sweeps[k].facts for name in CHANGED)
    ]
    last = max(changes, default=-1)
    return [(k, near) for k, near in known if near.sweep.setup.id != setup or k >= last]


def _nearness(sweep: LoggedSweep, facts: Facts, setup: str | None) -> Nearest:
    """What lies between a sweep and one of which these facts are known; what nobody told is no difference."""
    then = {**sweep.setup.facts, **sweep.facts}

    rung: Rung = "another-site"
    if sweep.setup.id == setup:
        rung = "joined-anew"
    elif differing(then, facts, PLACE):
        rung = "other-ground"
    elif "site" in then and then["site"] == facts.get("site"):
        rung = "put-up-again"
    return Nearest(sweep, rung, differing(then, facts, STATE))


def differing(then: Facts, now: Facts, names: Sequence[str]) -> tuple[str, ...]:
    """Facts that are told of both and are other ones."""
    return tuple(
        name
        for name in names
        if then.get(name) is not None and now.get(name) is not None and _other(name, then[name], now[name])
    )


def _other(name: str, a: Any, b: Any) -> bool:
    if name == "lengths":
        from sweepkit.several_bands.told import parse_logged_lengths_m

        return parse_logged_lengths_m(a) != parse_logged_lengths_m(b)
    return list(a) != list(b) if isinstance(a, list | tuple) else bool(a != b)


@dataclass(frozen=True)
class Baseline:
    """An earlier sweep: ``logged`` in the logbook, ``sweep`` as read, ``rung`` what lies between.

    Measured at another connector than the sweep in question, it is no baseline, and ``sweep`` is None.
    """

    logged: LoggedSweep
    sweep: Sweep | None
    rung: Rung
    differs: tuple[str, ...] = ()  # facts on the state of the antenna that are told to be other ones

    @property
    def measured_at(self) -> str:
        """Where it was measured."""
        return str(self.logged.facts.get("measured_at", "unknown"))


def find_baseline(
    log: Logbook,
    known: KnownAntenna,
    antenna: str,
    now: Sweep,
    *,
    place: Place,
    beside: Facts | None = None,
) -> Baseline | None:
    """The nearest whole one that was measured at the same connector; else the nearest of another, which is none.

    ``None`` where the logbook has no such sweep. Where the sweep is not in the logbook itself, nobody told its
    site, unless facts ``beside`` its file did: another one is allowed for.
    """
    known = known.of_sweep(now.source.sha256)
    facts = {
        **(known.facts if known.is_present else standing_facts(known.facts)),
        **(beside or {}),
        "antenna": antenna,
    }
    every = by_nearness(log, facts, without={now.source.sha256})
    found = [Baseline(near.sweep, None, near.rung, near.differs) for near in every]
    for one in found:
        if one.measured_at == place and (sweep := read_if_whole(log, one.logged)) is not None:
            return replace(one, sweep=sweep)
    return next((one for one in found if one.measured_at != place), None)


def dips_of(summary: Summary) -> Sequence[DipSummary]:
    """Those of the first plane that is known."""
    return next((summary.planes[name] for name in PLANES if name in summary.planes), ())


def logged_dips(log: Logbook, sweep: LoggedSweep) -> Sequence[DipSummary]:
    """Those of a logged sweep; none where it has no figures."""
    try:
        return dips_of(summary_of(log, sweep))
    except BadInput:
        return ()


def say_against(log: Logbook, sweep: LoggedSweep) -> str:
    """``sweep 31, setup 9: dip 7.082 MHz, 74 kHz below sweep 30: more than joining anew explains``.

    Raises ``BadInput``: it has no figures, and why.
    """
    summary = summary_of(log, sweep)
    head = f"sweep {sweep.id}, setup {sweep.setup.number}"
    facts = {**sweep.setup.facts, **sweep.facts}
    near = find_nearest(log, facts, setup=sweep.setup.id, without={sweep.sha256}, before=sweep.id)
    antenna = facts.get("antenna")
    usual_hz = None if antenna is None else usual_dip_hz(log, str(antenna))
    dip = next(iter(nearest_first(dips_of(summary), usual_hz)), None)
    if dip is None:
        return f"{head}: no dip inside the sweep"
    if near is None:
        return f"{head}: dip {_mhz(dip.dip_hz)}; no earlier sweep of this antenna to hold it against"
    try:
        pair = find_common_dip(summary, summary_of(log, near.sweep), near_hz=usual_hz)
    except BadInput:
        pair = None
    if pair is None:
        return f"{head}: dip {_mhz(dip.dip_hz)}; no dip in common with sweep {near.sweep.id}"
    return f"{head}: dip {_mhz(pair[0].dip_hz)}, {_against(pair, near, sweep)}"


def say_apart(log: Logbook, sweep: LoggedSweep) -> str | None:
    """That a sweep with figures and the others of its outing do not share a line and a calibration, if so."""
    if DISAGREES not in summary_of(log, sweep).findings:
        return None
    told = sweep.setup.facts.get("calibrated")
    others = f"the others told as calibrated {told!r}" if told else "the others of its setup on that day"
    kept = "what was told of line and analyzer is kept" if told else "each is reviewed by itself"
    return (
        f"sweep {sweep.id} and {others} do not fit one line and one calibration, so {kept}; was the analyzer "
        "calibrated again, or the line changed, in between?"
    )


def _against(pair: tuple[DipSummary, DipSummary], near: Nearest, sweep: LoggedSweep) -> str:
    """The shift, and what explains it."""
    now, then = pair[0].dip_hz, pair[1].dip_hz
    shift_hz = (now.value or 0.0) - (then.value or 0.0)
    way = "above" if shift_hz > 0 else "below"
    moved = f"{abs(shift_hz) / 1e3:.0f} kHz {way} sweep {near.sweep.id}"
    if near.rung == "joined-anew" and any(name in sweep.facts for name in CHANGED):
        return f"{moved}; a change was told"
    if near.differs:
        return f"{moved}, which had another {words_of(near.differs)}"
    body = body_of_kind(sweep.setup.facts.get("kind"))
    told = f"log edit {sweep.id} --set changed=... (or length=..., or set-aside=...) tells why"
    if is_beyond("dip_hz", then, now, body=body, rung=near.rung):
        return f"{moved}: more than {WORDS[near.rung]} explains; {told}"
    r_now, r_then = pair[0].r_ohm, pair[1].r_ohm
    if _is_r_alike(near, sweep) and is_beyond("r_ohm", r_then, r_now, body=body, rung=near.rung):
        return (
            f"{moved}, but R {r_then.value:.1f} -> {r_now.value:.1f} ohm: more than {WORDS[near.rung]} explains; "
            f"{told}"
        )
    return f"{moved}: no more than {WORDS[near.rung]} explains"


def _is_r_alike(near: Nearest, sweep: LoggedSweep) -> bool:
    """Whether R of both is that of one plane: of one setup, or measured at the feedpoint; a line turns it."""
    at = {each.facts.get("measured_at") for each in (near.sweep, sweep)}
    return near.rung == "joined-anew" or at == {"feedpoint"}


def _mhz(figure: Figure) -> str:
    return f"{(figure.value or 0.0) / 1e6:.3f} MHz"


def words_of(names: Sequence[str]) -> str:
    """Facts by name, for a sentence."""
    keys = ("set of lengths" if name == "lengths" else BY_NAME[name].key for name in names)
    return " and ".join(key.replace("_", " ") for key in keys)
