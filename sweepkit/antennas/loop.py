"""Full-wave loop; its length is that of the whole wire."""

from sweepkit.antennas.kind import Kind, Usual
from sweepkit.antennas.wires_alone import answer_from_trend

KIND = Kind(
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
        r_ohm=(50.0, 180.0),
        q=(8.0, 26.0),
        bandwidth=(0.0, 0.03),
        resonance="series",
        overtones=(2.0, 3.0),
    ),
    # Closed, so little current on the coax; insulation is in no model of the trend. Common practice, no source.
    answer=answer_from_trend("loop", odd=0.015, unmodelled=0.015),
    basis="160 modelled loops",
)
