"""Antennas that are trimmed as a whole: the dip goes close to 1/length, with what height and soil add."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from sweepkit.antennas.kind import Answer, Kind, Known, LengthAnswer, Seen, Usual
from sweepkit.antennas.trend import trends
from sweepkit.conversions import FloatArray

# Current on the coax: of wires without a choke at the feed, half of them where nobody tells, it moves the slope by so
# much (logarithmic spread), towards zero in four of five, since then coax that nobody trims holds a part of the tuning.
# Models of our own, 160 of insulated wire or bare, half of them with coax (tests/data/models/length_answers.csv).
COAX, COAX_SPREAD, TOWARDS_ZERO, UNCHOKED = 0.01, 1.8, 0.8, 0.5
AT_FEED_M = 0.5  # a choke as near is one at the feed; common practice, no source
# One loop in five, and by its insulation where nobody says it is bare. Common practice, no source.
ODD_LOOPS, ODD_SIGMA, INSULATION_SIGMA = 0.2, 0.015, 0.015
Shift = Callable[[Known, int, "np.random.Generator"], FloatArray]


def answer_from_trend(name: str, shift: Shift) -> Answer:
    """An answer that follows the trend of this name of modelled antennas, and what ``shift`` draws on top."""

    def answer(seen: Seen, known: Known, dice: np.random.Generator) -> LengthAnswer:
        """Slope and curvature for each draw; behind a transformer depth and width of the dip say nothing known."""
        n = seen.f_hz.size
        boxed = known.transformer not in (None, 1) or not np.isfinite(seen.loaded_q).any()
        trend = trends()[f"{name}-by-band" if boxed else name]
        slope = trend.draw(seen, dice) + shift(known, n, dice)
        return LengthAnswer(slope, trend.draw_curvature(n, dice), np.zeros(n))

    return answer


def by_coax(known: Known, n: int, dice: np.random.Generator) -> FloatArray:
    """What current on the coax adds to the slope of a dipole, shape (n,); nothing where a choke at the feed is told."""
    chance = UNCHOKED if known.choke_at_m is None else float(known.choke_at_m > AT_FEED_M)
    size = COAX * np.exp(dice.normal(0, COAX_SPREAD, n))
    size = np.where(dice.random(n) < TOWARDS_ZERO, size, -size)
    return np.where(dice.random(n) < chance, size, 0.0)


def by_insulation(known: Known, n: int, dice: np.random.Generator) -> FloatArray:
    """What insulation, which is in no model of the trend, adds to the slope of a loop, shape (n,).

    Loops are closed, so little current runs on their coax.
    """
    bare = known.wire is not None and known.wire.is_bare
    return dice.normal(0, np.where(dice.random(n) < ODD_LOOPS, ODD_SIGMA, 0.0 if bare else INSULATION_SIGMA))


DIPOLE = Kind(
    name="dipole",
    title="a dipole",
    part="leg",
    parts=2,
    move="fold",
    where="at the far end of each leg, both legs equally",
    # Bare wire 0.238 to 0.245 in the models; insulation shortens by up to 7 %, a second pair of a fan ends
    # up to 9 % longer (trade reports and models).
    length_range=(0.215, 0.272),
    length_usual=(0.2416, 0.025),
    repeatability=0.004,  # one wire, same site, put up again; common practice, no source
    usual=Usual(
        r_ohm=(28.0, 100.0),
        q=(7.0, 28.0),
        bandwidth=(0.020, 0.055),
        resonance="series",
        overtones=(3.09,),  # modelled, 7 m high: 21.80 MHz over 7.05 MHz
    ),
    answer=answer_from_trend("dipole", by_coax),
    basis="246 modelled dipoles",
)

INVERTED_VEE = Kind(
    name="inverted-vee",
    title="an inverted vee",
    part="leg",
    parts=2,
    move="fold",
    where="at the low end of each leg, both legs equally",
    length_range=(0.215, 0.275),  # as a dipole; the models reach from 0.237 to 0.249
    length_usual=(0.2438, 0.027),
    repeatability=0.004,  # as a dipole
    usual=Usual(
        r_ohm=(34.0, 95.0),
        q=(8.0, 24.0),
        bandwidth=(0.030, 0.058),
        resonance="series",
        overtones=(3.09,),  # as a dipole
    ),
    answer=answer_from_trend("inverted-vee", by_coax),
    basis="234 modelled inverted vees",
)

# Its length is that of the whole wire.
LOOP = Kind(
    name="loop",
    title="a full-wave loop",
    part="loop wire",
    parts=1,
    move="fold",
    where="in the loop wire, at the point opposite the feed",
    length_range=(0.93, 1.17),  # models 1.01 to 1.07; insulation shortens
    length_usual=(1.045, 0.027),
    repeatability=0.004,  # as a dipole
    usual=Usual(
        r_ohm=(50.0, 180.0), q=(8.0, 26.0), bandwidth=(0.0, 0.03), resonance="series", overtones=(2.0, 3.0)
    ),
    answer=answer_from_trend("loop", by_insulation),
    basis="160 modelled loops",
)

# Its length avoids resonances and a tuner does the rest, so there is nothing to trim.
RANDOM_WIRE = Kind(
    name="random-wire",
    title="a random wire",
    part="wire",
    parts=1,
    move="fold",
    where="",
    length_range=(0.0, float("inf")),
    length_usual=(1.0, 10.0),
    repeatability=0.004,  # as a dipole
    usual=Usual(
        r_ohm=(0.0, float("inf")),
        q=(0.0, float("inf")),
        bandwidth=(0.0, 1.0),
        resonance="parallel",
        overtones=(),
    ),
    answer=None,
)
