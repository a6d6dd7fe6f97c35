"""The band-change card of an antenna without a tapped coil: what each place dipped at, with which lengths or links."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from sweepkit.figures import Figure
from sweepkit.several_bands.answer import Aim, BandsPlan, Last, Setting, State
from sweepkit.several_bands.places import Place
from sweepkit.several_bands.rows import row_of
from sweepkit.several_bands.seen import NEAR

COVERAGE_SDS = 1.959963984540054  # 95 % of a normal distribution lie within so many standard deviations


@dataclass(frozen=True)
class LoggedDips:
    """One logged sweep: its dips with their SWR [Hz, -], what the antenna was like, its setup and when."""

    dips: tuple[tuple[float, float], ...]
    lengths: Mapping[str, float]
    length_m: float | None
    setup: str
    when: str


def card_of_records(
    kind: str, records: Sequence[LoggedDips], places: Sequence[Place], *, aim: Aim, spread: float
) -> BandsPlan:
    """A row for each place from the last sweep that shows a dip near it; the aim changes nothing here."""
    rows, settings = [], []
    for place in places:
        near = [(record, f_hz) for record in records if (f_hz := _dip_near(record, place)) is not None]
        why = f"no dip within {NEAR:.0%} of {place.name} is on record"
        unknown = State.unknown(why if not near else "no sweep of today")
        rows.append(
            row_of(place, unknown, unknown, "cannot_say", (), why if not near else "from the logbook")
        )
        if near:
            settings.append(_setting(place, near, spread))
    none = Figure.none("no sweep of today")
    return BandsPlan(
        (), kind, aim, "retune", "from the logbook alone", none, none, none, (), tuple(rows),
        settings=tuple(settings), known_from=f"{len(records)} logged sweeps of this antenna",
    )  # fmt: skip


def _dip_near(record: LoggedDips, place: Place) -> float | None:
    """The dip of a record that is nearest the middle of a place, where one is near. [Hz]"""
    near_hz = min((f_hz for f_hz, _ in record.dips), key=lambda f_hz: _off(f_hz, place))
    return near_hz if _off(near_hz, place) < NEAR else None


def _setting(place: Place, near: Sequence[tuple[LoggedDips, float]], spread: float) -> Setting:
    """The last record's lengths; its dip, with the spread of this antenna's setups where there are several."""
    record, dip_hz = near[-1]
    ln_f = np.log(
        [f_hz for other, f_hz in near if (other.lengths, other.length_m) == (record.lengths, record.length_m)]
    )
    own = float(np.std(ln_f, ddof=1)) if ln_f.size > 2 else 0.0
    sd = float(np.sqrt((4 * spread**2 + max(ln_f.size - 1, 0) * own**2) / (4 + max(ln_f.size - 1, 0))))
    middle = float(np.exp(np.mean(ln_f))) if ln_f.size > 1 else dip_hz
    wide = COVERAGE_SDS * sd * float(np.sqrt(1 + 1 / ln_f.size))
    figure = Figure(middle, middle * np.exp(-wide), middle * np.exp(wide))
    none = Figure.none("not known from the logbook")
    return Setting(
        place.name, place.middle_hz, place.low_hz, place.high_hz, None, record.length_m, figure, none, none, none, none,
        Last(record.setup, record.when, dip_hz), dict(record.lengths) or None,
    )  # fmt: skip


def _off(f_hz: float, place: Place) -> float:
    return abs(float(np.log(f_hz / place.middle_hz)))
