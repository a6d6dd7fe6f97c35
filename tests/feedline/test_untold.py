"""What one untold thing adds to a reflection is what the chain itself makes of it, to first order."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sweepkit.feedline.chain import LineChain
from sweepkit.feedline.plane import add_chain
from sweepkit.feedline.untold import PLACES, UNTOLD_M, UNTOLD_OHM, untold_terms
from sweepkit.lines import parse_piece

F_HZ = np.linspace(6e6, 30e6, 50)
AT_FEED = 0.5 * np.exp(1j * F_HZ / 3e6)
SMALL = 1e-3  # of the ordinary size; what is left of higher order is as small beside it


def cut(piece, at_m):
    return [replace(piece, length_m=at_m), replace(piece, length_m=piece.length_m - at_m)]


def added(pieces, joint_ohm=None):
    drawn = LineChain(pieces).nominal
    if joint_ohm is not None:
        drawn = replace(drawn, joint_ohm=joint_ohm)
    return add_chain(F_HZ, AT_FEED, drawn)[0]


@pytest.mark.identity
@pytest.mark.parametrize("spec", ["RG-58 9 m", "RG-59 9 m"])
@pytest.mark.parametrize("place", range(PLACES))
def test_a_joint_and_a_piece_at_each_place(spec, place):
    piece = parse_piece(spec)
    read = added([piece])
    powers = np.stack([np.ones_like(read), read, read**2])
    by_joint, by_piece = (
        (untold_terms(F_HZ, LineChain([piece]), reference_ohm=50.0)[k] * powers).sum(axis=0)
        for k in (place, PLACES + place)
    )
    share = SMALL / np.sqrt(PLACES)
    parts = cut(piece, piece.length_m * place / (PLACES - 1))
    joint = np.array([[0.0, share * UNTOLD_OHM, 0.0]])
    np.testing.assert_allclose((added(parts, joint) - read) / SMALL, by_joint, rtol=0, atol=2e-6)

    short_m = 1e-3  # so short that what it turns along itself is nothing
    off = share * UNTOLD_M / short_m
    other = replace(piece, z0_ohm=piece.z0_ohm * (1 + off), length_m=short_m)
    before, after = parts
    host = after if place < PLACES - 1 else before
    shorter = replace(host, length_m=host.length_m - short_m)
    pieces = [before, other, shorter] if host is after else [shorter, other, after]
    size = np.abs(by_piece).max()
    np.testing.assert_allclose((added(pieces) - read) / SMALL, by_piece, rtol=0, atol=0.03 * size)


def test_places_are_even_along_the_delay_of_several_pieces():
    """Half of the delay lies behind 8.2 m of foam: a joint there or between the pieces is the same thing."""
    both = LineChain([parse_piece("RG-8X 8.2 m"), parse_piece("RG-58 13.2 m")])
    read = added(both.pieces)
    terms = untold_terms(F_HZ, both, reference_ohm=50.0)[1]
    joint = np.array([[0.0, SMALL / 2 * UNTOLD_OHM, 0.0]])
    delays = [piece.length_m / piece.velocity_factor for piece in both.pieces]
    assert delays[0] == pytest.approx(sum(delays) / 3, rel=1e-9)
    by_joint = terms[0] + terms[1] * read + terms[2] * read**2
    np.testing.assert_allclose((added(both.pieces, joint) - read) / SMALL, by_joint, rtol=0, atol=2e-6)
