"""The band-change card of a whip from its logged settings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from sweepkit.findings import Finding
from sweepkit.quantities import frequency_text
from sweepkit.several_bands.answer import (
    BandsPlan,
)
from sweepkit.several_bands.fitted_whip import FittedWhip
from sweepkit.several_bands.places import Place
from sweepkit.several_bands.seen import Around, SeenAll, SeenPlace
from sweepkit.several_bands.whip import WhipAnswer
from sweepkit.several_bands.whip_model import (
    MODEL_SIGMA,
    SeenSetting,
    fit_whip,
)
from sweepkit.several_bands.whip_told import EarlierSetting, UsedSetting, WhipWish
from sweepkit.trim.dip import DipEnsemble

AS_ON_RECORD = 5e-4  # of ln f: less is no word worth


def card_of_whip(
    used: Sequence[UsedSetting],
    wish: WhipWish,
    places: Sequence[Place],
    around: Around,
    *,
    spread: float,
    today: EarlierSetting | None = None,
    draws: int,
) -> BandsPlan:
    """The band-change card of a whip from its logged settings, at least two of them.

    ``spread`` is what a new setup moves the dip by, one standard deviation of the logarithm; all rows move by what
    ``today`` differs. No ``draws`` beside the best fit, no intervals.
    """
    seen = [
        SeenSetting(each.tap, each.whip_m, each.dip_hz, float(np.hypot(each.sigma, spread))) for each in used
    ]
    members, seed = draws + 1, around.seed
    fitted = fit_whip(seen, wish.coil, wish.ground, members=members, seed=seed)
    last = replace(wish, tap=used[-1].tap, length_m=used[-1].whip_m)  # whose resistance is known
    whip = FittedWhip(
        last, fitted, _as_dip(used[-1], members, seed), None, members, seed, tuple(used), 0.0, spread
    )
    said = ""
    dip = None if today is None else today.dip
    if today is not None and dip is not None:
        expected_hz = whip.one_hz(today.tap, today.whip_m)
        offset = float(np.log(dip.measured_hz / expected_hz))
        whip = replace(whip, offset=offset, spread=float(np.hypot(dip.spread(), MODEL_SIGMA)))
        way = "higher" if offset > 0 else "lower"
        moved = f"{abs(dip.measured_hz - expected_hz) / 1e3:.0f} kHz at {frequency_text(dip.measured_hz)}"
        alike = abs(offset) < AS_ON_RECORD
        said = (
            "today it dips as on record"
            if alike
            else f"today all dips lie {abs(offset):.1%} {way} than on record ({moved})"
        )
    nowhere = SeenAll((), tuple(SeenPlace(place, None) for place in places), ())
    plan = WhipAnswer(whip, nowhere, replace(around, with_interval=draws > 0), len(used)).plan()
    note = Finding("today-differs", "note", said, "") if said else None
    known = f"{len(used)} logged sweeps of this whip, coil formula and open line"
    reason = said or "from the logbook alone"
    return replace(
        plan, reason=reason, moves=(), known_from=known, findings=(*((note,) if note else ()), *plan.findings)
    )


def _as_dip(used: UsedSetting, members: int, seed: int) -> DipEnsemble:
    """A logged dip as draws."""
    dice = np.random.default_rng([seed, 83])
    f_hz = used.dip_hz * np.exp(dice.normal(0, used.sigma, members))
    f_hz[0] = used.dip_hz
    ohm = (
        np.full(members, np.nan) if used.r_ohm is None else used.r_ohm * np.exp(dice.normal(0, 0.12, members))
    )
    if used.r_ohm is not None:
        ohm[0] = used.r_ohm
    return DipEnsemble(f_hz, np.full(members, used.swr), ohm, np.full(members, np.nan))
