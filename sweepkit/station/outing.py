"""Whether sweeps share one line and one calibration, and what they then tell of both together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sweepkit.feedline.chain import LineChain
from sweepkit.findings import Finding
from sweepkit.instrument import ErrorModel
from sweepkit.station.windows import Curve, are_enough

if TYPE_CHECKING:
    from sweepkit.station.linear import Check
    from sweepkit.station.posterior import Learned

CLEAR_LOG = float(np.log(20))  # evidence of 20 to 1 is called strong (Kass and Raftery 1995)


@dataclass(frozen=True, eq=False)
class Outing:
    """What several sweeps tell together of the line and the analyzer that they share, and what is wrong.

    Nothing is ``learned`` where they do not share them: what was told holds for each.
    """

    learned: Learned | None
    finding: Finding | None = None


def listen_each(
    curves: Sequence[Curve],
    chain: LineChain,
    model: ErrorModel,
    *,
    reference_ohm: float,
    checks: Sequence[Check] = (),
) -> list[Outing]:
    """What each sweep tells by itself, unless another line fits it far better; all of them side by side."""
    from sweepkit.station.doubt import doubt_line, mix_ups
    from sweepkit.station.posterior import learn_outings

    heard = learn_outings(
        [[curve] for curve in curves],
        chain,
        model,
        reference_ohm=reference_ohm,
        checks=checks,
        others=mix_ups(chain),
    )
    doubts = (
        doubt_line([curve], chain, model, learned, reference_ohm=reference_ohm, favours=favours)
        for curve, (learned, favours) in zip(curves, heard, strict=True)
    )
    return [
        Outing(None, doubt) if doubt else Outing(learned)
        for (learned, _), doubt in zip(heard, doubts, strict=True)
    ]


def share(
    curves: Sequence[Curve],
    chain: LineChain,
    model: ErrorModel,
    *,
    reference_ohm: float,
    checks: Sequence[Check] = (),
) -> Outing | None:
    """What they tell together, where one line and one calibration are likelier than one of each for every sweep.

    ``None`` where fewer than two tell anything, or one contradicts what was told: each is on its own then.
    """
    from sweepkit.station.doubt import doubt_line, mix_ups
    from sweepkit.station.posterior import learn_each, learn_outings

    telling = [curve for curve in curves if are_enough(curve, chain, reference_ohm)]
    if len(telling) < 2:
        return None
    alone = learn_each(telling, chain, model, reference_ohm=reference_ohm, checks=checks)
    if any(one is None for one in alone):
        return None
    ((together, favours),) = learn_outings(
        [telling], chain, model, reference_ohm=reference_ohm, checks=checks, others=mix_ups(chain)
    )
    odds = None if together is None else _log_odds(together, [one for one in alone if one is not None])
    if odds is None or odds < 0:
        return Outing(None, _disagree(len(telling), is_clear=odds is None or odds < -CLEAR_LOG))
    doubt = doubt_line(telling, chain, model, together, reference_ohm=reference_ohm, favours=favours)
    return Outing(None, doubt) if doubt else Outing(together)


def _log_odds(together: Learned, alone: Sequence[Learned]) -> float | None:
    """How much likelier the sweeps are with all shared, over the widths that all have; ``None`` without one."""
    widths = set(together.evidence).intersection(*(one.evidence for one in alone))
    gains = [together.evidence[width] - sum(one.evidence[width] for one in alone) for width in widths]
    return float(np.mean(gains)) if gains else None


def _disagree(count: int, *, is_clear: bool) -> Finding:
    how = (
        "do not fit one line and one calibration"
        if is_clear
        else "may not share one line and one calibration"
    )
    return Finding(
        "outing-disagrees",
        "warning" if is_clear else "note",
        f"these {count} sweeps {how} together; what was told of line and analyzer is kept for each",
        "was the analyzer calibrated again, or the line changed, in between? Review such sweeps one by one",
    )
