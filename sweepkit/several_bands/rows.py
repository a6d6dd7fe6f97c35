"""A row for each place, and what it says of a move."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from sweepkit.conversions import FloatArray
from sweepkit.figures import Figure
from sweepkit.several_bands.aim import LEAST_GAIN_DB, least_gain_db
from sweepkit.several_bands.answer import Action, Aim, BandRow, Effect, State
from sweepkit.several_bands.places import Place
from sweepkit.several_bands.state import Drawn

SHARE_LOST = 0.1  # of a place within the limit: so much is a loss too
LEAST_SEEN_DB = 0.02  # of a place's loss: smaller changes are the same


def effect_of(now: Drawn, after: Drawn) -> Effect:
    """By the loss, and by the share within the limit."""
    more_db = after.loss_db - now.loss_db
    low, high = np.quantile(more_db[1:], (0.025, 0.975)) if more_db.size > 1 else (more_db[0], more_db[0])
    if (low > 0 and more_db[0] > LEAST_SEEN_DB) or now.share[0] - after.share[0] > SHARE_LOST:
        return "loses"
    return "gains" if high < 0 and more_db[0] < -LEAST_SEEN_DB else "same"


def row_of(
    place: Place, now: State, after: State, effect: Effect, moved_by: tuple[str, ...], why: str
) -> BandRow:
    """The row of a place."""
    return BandRow(
        place.name,
        place.low_hz,
        place.high_hz,
        place.target_hz,
        place.weight,
        now,
        after,
        effect,
        moved_by,
        why,
    )


def row_between(
    place: Place,
    now: Drawn | None,
    after: Drawn | None,
    moved_by: tuple[str, ...],
    why: Callable[[Effect], str],
    *,
    with_interval: bool,
) -> BandRow:
    """The row of a place before and after a move; a place that the sweeps do not show then has no figures."""
    before = State.unknown(unseen(place)) if now is None else now.state.bare(with_interval)
    if now is None or after is None:
        gone = f"{unseen(place)} after the move"
        return row_of(place, before, State.unknown(gone), "cannot_say", moved_by, gone)
    effect = effect_of(now, after)
    return row_of(place, before, after.state.bare(with_interval), effect, moved_by, why(effect))


def row_unseen(place: Place, why: str) -> BandRow:
    """The row of a place of which nothing is known."""
    return row_of(place, State.unknown(why), State.unknown(why), "cannot_say", (), why)


def unseen(place: Place) -> str:
    """Why a place has no figures."""
    return f"{place.name} lies outside what was swept"


def figure_of(values: FloatArray, *, with_interval: bool) -> Figure:
    """A figure of draws, the measured one first; infinite ones have no answer."""
    finite = np.where(np.isfinite(values), values, np.nan)
    return Figure.from_draws(
        finite if with_interval else finite[:1], reason="the sweep does not show every place then"
    )


def decide_by_gain(
    gain_db: FloatArray, aim: Aim, full_m: float, *, set_aside: str | None = None
) -> tuple[Action, str]:
    """Leave what takes too little off the loss by the aim, shape (draws,), or what is not told from nothing.

    ``set_aside``: a place that no change surely betters, where the gain is that of the others.
    """
    gain = float(gain_db[0])
    what = "the mean of the losses" if aim == "mean" else "the loss of the worst place"
    if set_aside is not None:
        what = f"the loss of the worst place but {set_aside}, which no length surely betters"
    if gain < LEAST_GAIN_DB:
        said_db = np.floor(100 * max(gain, 0.0)) / 100
        return (
            "leave",
            f"a change gains {said_db:.2f} dB of {what}; less than {LEAST_GAIN_DB} is left alone",
        )
    if least_gain_db(gain_db) <= 0:
        return (
            "leave",
            f"a change would gain {gain:.2f} dB of {what}, which the sweep does not tell from nothing",
        )
    return ("shorten" if full_m < 0 else "lengthen"), f"the whole change takes {gain:.2f} dB off {what}"
