"""Random wire: its length avoids resonances and a tuner does the rest, so there is nothing to trim."""

from sweepkit.antennas.kind import Kind, Usual

KIND = Kind(
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
