"""Half-wave dipole, both legs trimmed alike."""

from sweepkit.antennas.kind import Kind, Usual
from sweepkit.antennas.wires_alone import answer_from_trend

KIND = Kind(
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
    # One in ten of 160 models of insulated wire or bare, half of them with current on the coax, lies beyond 0.05 of
    # the trend (tests/data/models/length_answers.csv).
    answer=answer_from_trend("dipole", odd=0.08),
    basis="246 modelled dipoles",
)
