"""``sweepkit.plan_trim``."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any

from sweepkit.answers.shown import Rows, Shown, same_as
from sweepkit.answers.told import (
    Hints,
    KitLike,
    LineLike,
    LogLike,
    SweepLike,
    as_length_m,
    as_sweep,
    known_of,
    line_and_place,
    opened_log,
    refuse_impossible,
)
from sweepkit.answers.trim_asked import TrimAsked
from sweepkit.antennas.kind import Move
from sweepkit.instrument import DEFAULT_DRAWS
from sweepkit.kit import Kit, as_kit
from sweepkit.sweep import Place, Sweep
from sweepkit.trim.from_sweep import TrimAnswer
from sweepkit.trim.from_sweep import plan_trim as plan_from_sweep
from sweepkit.trim.request import parse_earlier
from sweepkit.trim.wire import EarlierState

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from sweepkit.report.page import Page

NOT_IN_THE_ROW = ("schema", "file", "next_sweeps", "findings", "cautions")


@dataclass(frozen=True, eq=False, repr=False)
class ShownTrim(TrimAnswer, Shown):
    """The answer of :func:`sweepkit.plan_trim`.

    ``plan`` has the answer: ``action``, ``change_m``, ``first_move``, ``after_first_move_hz`` and more; ``review`` is
    that of the sweep. Tables for ``to_frame``: ``plan`` (a row), ``findings``, ``next_sweeps``.
    """

    __repr__ = Shown.__repr__

    def _tables(self) -> Mapping[str, Rows]:
        document = self.to_json()
        row = {"path": document["file"]["path"]} | {
            name: value for name, value in document.items() if name not in NOT_IN_THE_ROW
        }
        return {"plan": [row], "findings": document["findings"], "next_sweeps": document["next_sweeps"]}

    def _page(self) -> Page:
        from sweepkit.report.trim_page import trim_page

        return trim_page(self, pictures=False)

    def _pictured(self) -> Figure:
        from sweepkit.plots.one_sweep import plot_swr

        return plot_swr(self.review.as_measured(), target_hz=self.plan.target_hz)


def plan_trim(
    sweep: SweepLike,
    *,
    kind: str | None = None,
    length: str | float | None = None,
    target: str | float | None = None,
    band: str | None = None,
    segment: str | tuple[float, float] | None = None,
    by: Move | None = None,
    tail: str | float | None = None,
    tail_lies: str | None = None,
    radials: int | None = None,
    radial_length: str | float | None = None,
    radial_height: str | float | None = None,
    radials_on_ground: bool = False,
    counterpoise: str | float | None = None,
    coil: str | float | None = None,
    transformer: str | None = None,
    wire: str | None = None,
    must_work_wet: bool = False,
    earlier: Iterable[tuple[str | float, SweepLike]] = (),
    antenna: str | None = None,
    log: LogLike | None = None,
    kit: KitLike | None = None,
    lines: LineLike | Sequence[LineLike] | None = None,
    measured_at: Place = "unknown",
    region: int | None = None,
    draws: int = DEFAULT_DRAWS,
    seed: int = 0,
    **hints: Any,
) -> ShownTrim:
    """How much to trim one antenna: the first move, how sure it is, and what it leaves.

    Parameters
    ----------
    sweep : Sweep or path
        The antenna as it is now.
    kind : str, optional
        ``dipole``, ``inverted-vee``, ``vertical``, ``loaded-whip``, ``end-fed``, ``loop`` or ``random-wire``.
    length : str or float, optional
        Feed to turning point of each part that is trimmed: ``"10.2 m"``, ``"33 ft 4 in"``, or a number. [m]
    target : str or float, optional
        Where the dip is to go: ``"7.1 MHz"``, or a number. [Hz]
    band : str, optional
        Instead: the band that is to fit best, such as ``"40 m"``.
    segment : str or (float, float), optional
        Instead: a part of it, ``"7000-7074 kHz"`` or its two ends. [Hz]
    by : {"fold", "cut", "slide"}, optional
        How it is done; the kind's usual way where not said.
    tail : str or float, optional
        Fold that each part carries already. [m]
    tail_lies : str, optional
        How a fold lies: ``contact``, ``taped``, or its distance such as ``"2 cm"``.
    radials : int, optional
        How many raised radials.
    radial_length, counterpoise : str or float, optional
        Length of each radial, of a counterpoise wire. [m]
    radial_height : str or float, optional
        Height of the radials; 0 on the ground, where they are many unless ``radials`` says how many. [m]
    radials_on_ground : bool
        As a height of 0.
    coil : str or float, optional
        Loading coil: ``"11.3 uH"``, or a number. [H]
    transformer : str, optional
        Box at the feedpoint, such as ``"49:1"``.
    wire : str, optional
        ``bare``, ``insulated``, or how thick: ``"1 mm"``, or with its insulation ``"1 mm in 2.2 mm"``.
    must_work_wet : bool
        Aim higher, so that it works wet too.
    earlier : iterable of (str or float, Sweep or path)
        Earlier sweeps of the same antenna, oldest first, each after the length it had: ``"10.40 m"`` or metres; or
        how much longer it was than now, ``"+10 cm"``; ``"cut:+10 cm"`` says how it got from there to the next.
    antenna : str, optional
        Its name in kit or logbook: what is left out, kind and length too, is that of its record.
    log : Logbook or path, optional
        Where the name is looked up too; earlier sweeps of its setup then teach how this wire answers.
    kit, lines, measured_at, region, draws, seed, **hints
        As for :func:`sweepkit.review`.

    Returns
    -------
    ShownTrim
        The plan.

    Raises
    ------
    UnreadableFile
        A file that cannot be read right.
    BadInput
        What cannot be: a length that belongs to no dip, a target too far away, lengths that contradict.
    """
    refuse_impossible(draws=draws, seed=seed)
    gear = as_kit(kit)
    asked = TrimAsked(
        kind=kind,
        length=length,
        target=target,
        band=band,
        segment=segment,
        by=by,
        tail=tail,
        tail_lies=tail_lies,
        must_work_wet=must_work_wet,
        region=gear.region if region is None else region,
        beside={
            "radials": radials,
            "radial_length": radial_length,
            "radial_height": radial_height,
            "radials_on_ground": radials_on_ground,
            "counterpoise": counterpoise,
            "coil": coil,
            "transformer": transformer,
            "wire": wire,
        },
    )
    now = as_sweep(sweep, hints, gear)
    known = known_of(antenna, log, gear, present=now.source.sha256)
    wish = asked.wish(known.facts)
    then = [_earlier(length_then, each, wish["by"], hints, gear) for length_then, each in earlier]
    plan = partial(
        plan_from_sweep,
        now,
        **wish,
        kit=gear,
        **line_and_place(known, gear, lines=lines, measured_at=measured_at),
        draws=draws,
        seed=seed,
    )
    if not known.setup or log is None:
        return same_as(ShownTrim, plan(earlier=then))
    from sweepkit.records.past import past_of, plan_with

    with opened_log(log) as opened:
        past = past_of(opened, known, now, antenna=antenna or "", length_m=wish["length_m"], by=wish["by"])
    plan = partial(plan, own=past.own)
    return same_as(ShownTrim, plan(earlier=then) if then else plan_with(plan, past.earlier)[0])


def _earlier(
    length: str | float, sweep: SweepLike, by: Move, hints: Hints, kit: Kit
) -> tuple[EarlierState, Sweep]:
    """One earlier sweep and what the wire was like."""
    then = sweep if isinstance(sweep, Sweep) else as_sweep(sweep, hints, kit)
    name = then.source.path or "an earlier sweep"
    if isinstance(length, str):
        return parse_earlier(f"{length}={name}", by)[0], then
    return EarlierState(name, as_length_m(length, name="length of an earlier sweep"), False, by), then
