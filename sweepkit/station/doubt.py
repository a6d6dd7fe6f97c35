"""Whether another line than the one that was told fits a sweep far better, and which."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import NamedTuple

from sweepkit.feedline.chain import LineChain
from sweepkit.findings import Finding
from sweepkit.instrument import ErrorModel
from sweepkit.lines import LinePiece, read_catalogue
from sweepkit.station.evidence import BY_ANALYZER
from sweepkit.station.posterior import MOST_OFF, Learned, weigh_lines
from sweepkit.station.windows import Curve, are_enough, is_wide

# One line in a hundred is told wrongly, and some ten others are tried; common practice, no source. [nepers]
LEAST_ODDS = math.log(1000)
# A line as told that is less likely than this, two in three beforehand, is held against all others; our choice.
HARDLY = 0.2
# Sigma of what was told; nearer by, an alternative is asked for only where a first look favours one
STRAINED = 2.0
FIRST_LOOK = 2.0  # a first look is off by no more in nine of ten sweeps of our models [nepers]
FREE_SIGMA = 0.04  # of a velocity factor nobody is sure of
OTHER_SIGMA = 0.015  # of one as catalogued for another type
NEAR = 0.1  # a catalogued velocity factor nearer than this to the told one is covered by the free one
IMPEDANCES = {50.0: 75.0, 75.0: 50.0}  # what is taken for the other


class Alternative(NamedTuple):
    """Another line, in what it differs, and the piece that does."""

    chain: LineChain
    what: str
    piece: int | None = None


def doubt_line(
    curves: Sequence[Curve],
    chain: LineChain,
    model: ErrorModel,
    learned: Learned | None,
    *,
    reference_ohm: float,
    favours: float,
) -> Finding | None:
    """A finding where another line fits far better.

    Where what was ``learned`` with the line as told fits without much in it that nobody told of, only mix-ups of
    pieces are asked for; where it fits at ease, too, only if the first look ``favours`` one by so many nepers. In
    sweeps over many bands what is no single resonance behind one line may look like one behind another: none is named
    where the line as told does not describe the sweep.
    """
    as_told = learned is not None and float(learned.kinds[0]) > HARDLY
    at_ease = as_told and learned is not None and learned.strain < STRAINED
    if (at_ease and not favours > LEAST_ODDS - FIRST_LOOK) or not any(
        are_enough(curve, LineChain(), reference_ohm) for curve in curves
    ):
        return None
    others = list(_alternatives(chain, mix_ups_only=as_told))
    lines = [chain, *(other.chain for other in others)]
    told, *seen = weigh_lines(curves, lines, model, reference_ohm=reference_ohm)
    if told is None and as_told and not favours > LEAST_ODDS:
        return None  # it fits in narrower windows
    if told is None and any(is_wide(curve.f_hz) for curve in curves):
        return None
    likelier = [
        (other, one)
        for other, one in zip(others, seen, strict=True)
        if one is not None and one.strain <= MOST_OFF and _odds(one, told) > LEAST_ODDS
    ]
    if not likelier:
        return None
    return _finding(chain, *max(likelier, key=lambda found: sum(found[1].evidence.values())))


def mix_ups(chain: LineChain) -> list[LineChain]:
    """Lines that a told one is mixed up with, of as many pieces."""
    return [other.chain for other in _alternatives(chain, mix_ups_only=True)]


def _odds(one: Learned, other: Learned | None) -> float:
    """How much likelier, in nepers; than one that describes no antenna, by far."""
    if other is None:
        return math.inf
    return sum(one.evidence.values()) - sum(other.evidence.values())


def _alternatives(chain: LineChain, *, mix_ups_only: bool) -> Iterator[Alternative]:
    pieces = chain.pieces
    if pieces != pieces[::-1]:
        yield Alternative(LineChain(pieces[::-1]), "the pieces in reverse order")
    for k, piece in enumerate(pieces):
        for told_ohm, other_ohm in IMPEDANCES.items():
            if abs(piece.z0_ohm / told_ohm - 1) < NEAR:
                other = replace(piece, z0_ohm=other_ohm)
                yield Alternative(_with(pieces, k, other), f"{other_ohm:g} ohm for {piece.name}", k)
        if mix_ups_only or (k and piece == pieces[k - 1]):  # of equal ones in a row any one stands for all
            continue
        for factor, word in ((0.5, "half"), (2.0, "twice")):
            other = replace(
                piece, length_m=factor * piece.length_m, length_sigma_m=factor * piece.length_sigma_m
            )
            yield Alternative(_with(pieces, k, other), f"{piece.name} at {word} the length told", k)
        for velocity_factor, sigma in _velocity_factors(piece):
            other = replace(piece, velocity_factor=velocity_factor, velocity_factor_sigma=sigma)
            yield Alternative(_with(pieces, k, other), "", k)


def _velocity_factors(piece: LinePiece) -> Iterator[tuple[float, float]]:
    yield piece.velocity_factor, FREE_SIGMA
    if piece.velocity_factor_at_hz is None:
        for factor in sorted({round(each.velocity_factor, 2) for each in read_catalogue().values()}):
            if abs(factor / piece.velocity_factor - 1) > NEAR:
                yield factor, OTHER_SIGMA


def _with(pieces: Sequence[LinePiece], k: int, other: LinePiece) -> LineChain:
    return LineChain([*pieces[:k], other, *pieces[k + 1 :]])


def _finding(told: LineChain, other: Alternative, seen: Learned) -> Finding:
    what, tell = other.what, "check every piece; --line takes them in order from the radio"
    if other.piece is not None:
        was, now = told.pieces[other.piece], other.chain.pieces[other.piece]
        off = float(seen.mean[BY_ANALYZER + len(told.pieces) + other.piece])
        velocity_factor = now.velocity_factor * (1 + now.velocity_factor_sigma * off)
        key = f"z0_ohm = {now.z0_ohm:g}"
        if now.length_m != was.length_m:
            key = f'length = "{now.length_m:.3g} m"'
        elif not what:
            length_m = was.length_m * was.velocity_factor / velocity_factor
            key = f"velocity_factor = {velocity_factor:.2f}"
            what = (
                f"velocity factor {velocity_factor:.2f} for {was.name}, {was.velocity_factor:.2f} told (or "
                f"{length_m:.1f} m, {was.length_m:g} told),"
            )
        tell = f"check type and length of {was.name}; where it is so, tell it in the kit: {key}"
    return Finding(
        "line-told-wrong",
        "warning",
        f"{what} fits this sweep far better than the line as told; what was told is kept",
        tell,
    )
