"""Inverted vee: a dipole whose legs fall from the middle, both trimmed alike."""

from sweepkit.antennas.kind import Kind, Usual
from sweepkit.antennas.wires_alone import answer_from_trend

KIND = Kind(
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
    answer=answer_from_trend("inverted-vee", odd=0.08),  # as a dipole
    basis="234 modelled inverted vees",
)
