"""End-fed half wave through its transformer: the whole wire is trimmed, at its far end."""

from sweepkit.antennas.kind import Kind, Usual
from sweepkit.antennas.wires_alone import answer_from_trend

KIND = Kind(
    name="end-fed",
    title="an end-fed half wave",
    part="wire",
    parts=1,
    move="fold",
    where="at the far end of the wire",
    length_range=(0.425, 0.56),
    length_usual=(0.474, 0.03),
    repeatability=0.004,  # as a dipole, with counterpoise and coax laid as before
    usual=Usual(
        r_ohm=(30.0, 115.0),
        q=(7.0, 30.0),
        bandwidth=(0.0, 0.092),
        resonance="parallel",
        overtones=(2.05, 3.11, 4.16),  # (n - 0.05) / 0.95: the end effect acts once per wire
    ),
    answer=answer_from_trend("end-fed"),
)
