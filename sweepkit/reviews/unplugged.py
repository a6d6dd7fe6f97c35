"""The sweep with the antenna unplugged: whether it was the antenna that read low, or line and box alone."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from sweepkit.analysis.delay import smoothest_delay_s
from sweepkit.bands import Band
from sweepkit.conversions import swr_from_gamma_abs
from sweepkit.errors import BadInput
from sweepkit.feedline.chain import ChainDraws
from sweepkit.feedline.losses import matched_loss_db
from sweepkit.findings import Finding
from sweepkit.next_tests import step_of_test
from sweepkit.quantities import SPEED_OF_LIGHT_M_S, frequency_text
from sweepkit.reviews.plane import LARGEST_GAMMA
from sweepkit.reviews.planes import Planes
from sweepkit.station.point_verdicts import LOSS_NAMED_DB, LOSS_TOO_MUCH_DB
from sweepkit.sweep import Sweep

CODE = "antenna-unplugged"
SEEN_TURNS = 0.15  # a delay that turns the reflection less than this over the sweep is not told from none
# Round trip; a box with its capacitors looks like up to 4 m of line; common practice, no source
BOX_DELAY_S = 40e-9


@dataclass(frozen=True)
class Unplugged:
    """What the test says of one band.

    ``cleared``: nothing but the antenna takes the power; ``proved``: line and box take it without one; ``open``:
    neither. The finding is the same in words.
    """

    answer: Literal["cleared", "proved", "open"]
    finding: Finding


def judge_unplugged(
    test: Sweep, swept: Sweep, planes: Planes, bands: tuple[Band, ...], *, reference_ohm: float
) -> Mapping[str, Unplugged]:
    """Answers by the name of the band, for those that the test covers.

    What comes back with nothing plugged in went to the far end and back, so half of the missing decibels are the loss
    one way: beyond 3 dB line and box alone make a low SWR, and up to 1 dB above the told line they hide nothing. A
    test that is the sweep itself, reaches no band or was taken at another place is a ``BadInput``.
    """
    path = test.source.path or None
    if test.source.sha256 and test.source.sha256 == swept.source.sha256:
        raise BadInput(
            "--test-sweep is the sweep that is reviewed; name the one without the antenna", path=path
        )
    _refuse_another_place(test, planes)
    seen = test.renormalised(reference_ohm)
    answers = {}
    for band in bands:
        inside = (seen.f_hz >= band.low_hz) & (seen.f_hz <= band.high_hz)
        f_hz = np.array([(band.low_hz + band.high_hz) / 2])
        if inside.any():
            gamma_abs = float(seen.gamma_abs[inside].mean())
        elif seen.f_hz[0] <= f_hz[0] <= seen.f_hz[-1]:
            gamma_abs = float(np.interp(f_hz[0], seen.f_hz, seen.gamma_abs))
        else:
            continue
        answers[band.name] = _answer(gamma_abs, _line_db(f_hz[0], planes))
    if bands and not answers:
        wanted = f"{frequency_text(float(swept.f_hz[0]))[:-4]} to {frequency_text(float(swept.f_hz[-1]))}"
        raise BadInput(
            f"--test-sweep runs from {frequency_text(float(test.f_hz[0]))[:-4]} to "
            f"{frequency_text(float(test.f_hz[-1]))} and reaches none of the bands; sweep {wanted} again",
            path=path,
        )
    return answers


def _answer(gamma_abs: float, line_db: float) -> Unplugged:
    size = min(max(gamma_abs, 1e-6), LARGEST_GAMMA)
    one_way_db, swr = -10 * np.log10(size), float(swr_from_gamma_abs(size))
    shown = f"with the antenna unplugged the SWR is {swr:.1f}" if swr < 100 else "unplugged, all comes back"
    if one_way_db >= LOSS_TOO_MUCH_DB:
        text = f"proved: {shown}; line and box take the power without an antenna"
        step = "radio off and disconnected: unplug piece by piece from the far end until the SWR jumps; that one it is"
        return Unplugged("proved", Finding("swr-too-good", "stop", text, step))
    if one_way_db - line_db <= LOSS_NAMED_DB:
        text = f"{shown}: line and box hide nothing, it is the antenna that takes the power"
        step = "what of it heats coil, choke or ground stands in the ledger (--explain)"
        return Unplugged("cleared", Finding("line-cleared", "note", text, step))
    text = (
        f"{shown}, which neither clears nor proves: line and box lose {one_way_db:.1f} dB, more than was told"
    )
    return Unplugged(
        "open", Finding("swr-too-good", "warning", text, f"measure the line alone; {step_of_test(CODE)}")
    )


def _line_db(f_hz: float, planes: Planes) -> float:
    """Matched loss of the told line in front of the antenna, where the sweeps look through it."""
    chain = _chain(planes)
    return 0.0 if chain is None else float(matched_loss_db(np.array([f_hz]), chain)[0, 0])


def _chain(planes: Planes) -> ChainDraws | None:
    if planes.chain is None or planes.measured_at == "feedpoint" or not planes.chain.chain.pieces:
        return None
    return planes.chain.part(slice(0, 1))


def _refuse_another_place(test: Sweep, planes: Planes) -> None:
    """A told line must be in the test where it is in the sweep, and not where it is not."""
    if test.gamma is None or planes.chain is None:
        return
    chain = _chain(planes)
    told_s = 0.0
    if chain is not None:
        told_s = (
            2
            * sum(piece.length_m / piece.velocity_factor for piece in chain.chain.pieces)
            / SPEED_OF_LIGHT_M_S
        )
    seen_s = smoothest_delay_s(test.f_hz, test.gamma)
    least_s = max(SEEN_TURNS / float(test.f_hz[-1] - test.f_hz[0]), BOX_DELAY_S)
    if told_s > 2 * least_s and seen_s < 0.5 * told_s:
        found = "shows no line, but one was told; sweep from the radio's end of it"
    elif seen_s > told_s + least_s and seen_s > 2 * told_s:
        found = "has a line in it that was not told; sweep from the same place as before"
    else:
        return
    raise BadInput(f"--test-sweep {found}", path=test.source.path or None)
