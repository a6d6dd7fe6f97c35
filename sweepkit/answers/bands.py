"""``sweepkit.plan_bands``: several places on one antenna."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, fields
from functools import partial
from typing import Any, Literal, TypedDict, Unpack, cast

from sweepkit.answers.band_card import band_change_card, is_today
from sweepkit.answers.bands_asked import BandsAsked, plan_asked
from sweepkit.answers.shown import Rows, Shown, same_as
from sweepkit.answers.told import (
    HINTS,
    KitLike,
    LineLike,
    LogLike,
    SweepLike,
    as_sweep,
    as_sweeps,
    known_of,
    known_told,
    line_and_place,
    opened_log,
    refuse_impossible,
)
from sweepkit.errors import BadInput
from sweepkit.instrument import DEFAULT_DRAWS
from sweepkit.kit import as_kit
from sweepkit.plain_types import HIDDEN
from sweepkit.report.page import Page
from sweepkit.reviews.heat import box_of
from sweepkit.several_bands.answer import BandsPlan
from sweepkit.several_bands.from_sweeps import Look
from sweepkit.sweep import Place, Sweep

Length = str | float  # "10.2 m", or metres
LISTS = (
    "bands",
    "moves",
    "settings",
    "sensitivities",
    "feed_end",
    "avoid",
    "clear",
    "next_sweeps",
    "findings",
)
NOT_IN_THE_ROW = (*LISTS, "schema", "files", "cautions", "other_aim")


class BandsTold(TypedDict, total=False):
    """What :func:`sweepkit.plan_bands` takes besides, by the names of the options of ``sweepkit trim``."""

    target: str | float | Sequence[str | float]  # where a dip is to go [Hz]
    band: str | Sequence[str]
    segment: str | Sequence[str]  # "7000-7074 kHz"
    weight: Mapping[str, float]  # how much each place matters
    aim: Literal["mean", "worst"]
    kind: str
    length: Length | Mapping[str, Length]  # of the wire, or one leg for each place [m]
    by: Literal["fold", "cut", "slide"]
    tail: Length
    tail_lies: str
    earlier: Iterable[tuple[Length, SweepLike]]  # as the option has it before its "=", and the sweep then
    radials: int
    radial_length: Length
    radial_height: Length
    counterpoise: Length
    choke_at: str
    coil: str | float
    transformer: str
    tap: float
    turns: float
    tap_step: float
    coil_diameter: Length
    coil_pitch: Length
    whip_range: str  # "1.8-4.0 m"
    one_length: bool
    columns: str  # this and what follows: hints for reading files
    unit: str
    decimal: str
    reference_ohm: float
    trace: str
    recover_sign: bool


@dataclass(frozen=True, repr=False)
class ShownBands(BandsPlan, Shown):
    """The answer of :func:`sweepkit.plan_bands`.

    ``action``, ``reason``, ``moves`` of the parts, ``bands`` before and after, or ``settings`` for each place. Tables
    for ``to_frame``: ``bands``, ``plan`` (a row), ``moves``, ``settings`` and the other lists of the JSON.
    """

    __repr__ = Shown.__repr__

    sweeps: tuple[Sweep, ...] = field(default=(), metadata=HIDDEN)

    def _tables(self) -> Mapping[str, Rows]:
        document = self.to_json()
        row = {name: value for name, value in document.items() if name not in NOT_IN_THE_ROW}
        return {"bands": document["bands"], "plan": [row], **{name: document[name] for name in LISTS[1:]}}

    def _page(self) -> Page:
        from sweepkit.report.bands_page import bands_page

        return bands_page(self, self.sweeps, pictures=False)


def plan_bands(
    sweeps: SweepLike | Iterable[SweepLike] = (),
    *,
    antenna: str | None = None,
    log: LogLike | None = None,
    kit: KitLike | None = None,
    lines: LineLike | Sequence[LineLike] | None = None,
    measured_at: Place = "unknown",
    region: int | None = None,
    draws: int = DEFAULT_DRAWS,
    seed: int = 0,
    **told: Unpack[BandsTold],
) -> ShownBands:
    """What to change for several places on one antenna, or the settings of one from its records.

    Parameters
    ----------
    sweeps : Sweep or path, or several
        The antenna as it is now: one wide sweep, or one for each place. Left out: its card from the logbook.
    antenna : str, optional
        Its name in kit or logbook: what is not told is that of its record.
    log : Logbook or path, optional
        Where the name is looked up too, and its settings.
    kit, lines, measured_at, region, draws, seed
        As for :func:`sweepkit.review`.
    **told
        What ``sweepkit trim`` takes for several places, by the names of its options with ``_`` for ``-``; lengths as
        text or in metres, frequencies as text or in hertz, one or several: ``band=["40 m", "20 m"]``,
        ``length={"40 m": 10.61, "20 m": 5.36}``, ``weight={"40 m": 3}``, ``earlier=[("+10 cm", "a.s1p")]``. Hints for
        reading files, too.

    Returns
    -------
    ShownBands
        The plan.

    Raises
    ------
    UnreadableFile
        A file that cannot be read right.
    BadInput
        What cannot be: no place, a place twice, a length that belongs to no dip.
    """
    unknown = [name for name in told if name not in BandsTold.__annotations__]
    if unknown:
        raise TypeError(f"unexpected keyword argument {unknown[0]!r}")
    refuse_impossible(draws=draws, seed=seed)
    gear, words = as_kit(kit), dict(told)
    hints = {name: words.pop(name) for name in HINTS if name in words}
    now = as_sweeps(sweeps, hints, gear)
    then = [(state, as_sweep(sweep, hints, gear)) for state, sweep in told.get("earlier", ())]
    names = [sweep.source.path or f"sweep {k + 1}" for k, (_, sweep) in enumerate(then)]
    asked = BandsAsked(
        gear=gear,
        known=partial(known_told, told),
        read=dict(zip(names, (sweep for _, sweep in then), strict=True)).__getitem__,
        log=None if log is None else partial(opened_log, log),
        draws=draws,
        seed=seed,
        antenna=antenna,
        region=region,
        earlier=[f"{_text(state)}={name}" for (state, _), name in zip(then, names, strict=True)],
        **_written(words),
    )
    known = known_of(antenna, log, gear, present=now[0].source.sha256 if now else None)
    where = line_and_place(known, gear, lines=lines, measured_at=measured_at)
    look = cast(Look, {"kit": gear, **where, "draws": draws, "seed": seed})
    before: list[Sweep] = []
    if not now or is_today(asked, now, known.facts):
        if log is None or antenna is None:
            raise BadInput(
                "no sweep is given; one of the antenna as it stands, or antenna and log, were expected"
            )
        plan = band_change_card(asked, known.facts, now[0] if now else None, look)
    else:
        look["box"] = box_of(asked.note, gear.boxes)
        plan, before = plan_asked(asked, now, known, look)
    return same_as(ShownBands, plan, sweeps=(*now, *before))


def _written(told: Mapping[str, Any]) -> dict[str, Any]:
    """What was told, as it is written on the command line; what that reads is read the same way."""
    written: dict[str, Any] = {
        "targets": [_text(each, "Hz") for each in _several(told.get("target"))],
        "bands": _several(told.get("band")),
        "segments": _several(told.get("segment")),
        "weights": told.get("weight", {}),
    }
    length = told.get("length")
    if isinstance(length, Mapping):
        written["lengths"] = [f"{place}={_text(each)}" for place, each in length.items()]
    elif length is not None:
        written["lengths"] = [_text(length)]
    taken = {one.name for one in fields(BandsAsked)} - {"earlier"}
    for name in taken & told.keys():
        is_length = name in ("tail", "coil_diameter", "coil_pitch")
        written[name] = _text(told[name]) if is_length else told[name]
    return written


def _several(told: Any) -> list[Any]:
    """One or several, as a list."""
    if told is None:
        return []
    return [told] if isinstance(told, str | float | int) else list(told)


def _text(told: str | float, unit: str = "m") -> str:
    """A quantity with its unit."""
    return told if isinstance(told, str) else f"{float(told)!r} {unit}"
