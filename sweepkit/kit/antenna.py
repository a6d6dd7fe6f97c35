"""What is known of one antenna and stays true from outing to outing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from sweepkit.facts import IN_KIT, KINDS
from sweepkit.kit.bad_gear import BadGear, refuse_outside, refuse_untrue

# Facts that the logbook keeps under the same names and in the same form.
AS_LOGGED = (
    *(
        fact.name
        for fact in IN_KIT["antenna"]
        if fact.level and fact.kind in ("count", "length", "inductance", "ratio")
    ),
    "choke_at",
    "wire",
)


@dataclass(frozen=True)
class AntennaNote:
    """What is known of one antenna and stays true from outing to outing.

    Parameters
    ----------
    kind : str
        One of ``sweepkit.facts.KINDS``.
    length_m : float or None
        Feed to turning point, of each part that is trimmed, above 0. [m]
    line : tuple of str
        Its line, piece by piece from the radio, each as ``--line`` takes it; empty: not told.
    radials : int or None
        How many radials.
    radial_length_m : float or None
        Length of each. [m]
    radial_height_m : float or None
        Their height; 0 on the ground. [m]
    counterpoise_m : float or None
        Length of the counterpoise wire. [m]
    coil_h : float or None
        Inductance of the loading coil. [H]
    transformer : float or None
        Impedance ratio of the box at its feedpoint, 49 for 49:1. [-]
    lengths_m : mapping of str to float
        One leg for each place, of fans, linked and trap dipoles. [m]
    tap, turns, tap_step : float or None
        Turns of a coil in use, there are, and from tap to tap.
    coil_diameter_m, coil_pitch_m : float or None
        Of the coil, wire middle to middle; from turn to turn. [m]
    whip_range_m : (float, float) or None
        Shortest and longest whip. [m]
    choke_at : str or None
        How far down the coax a choke sits, or ``none``.
    wire : str or None
        Bare, insulated, or how thick, as ``--wire`` takes it.
    places : tuple of str
        Bands that it is to serve.
    weights : mapping of str to float
        How much each of them matters. [-]
    box : str or None
        Name of the box in the kit, where that was told in place of the ratio.
    choke : str or None
        Name of the kit's box that is its choke.

    Raises
    ------
    BadGear
        A value that no antenna has.
    """

    kind: str
    length_m: float | None = None
    line: tuple[str, ...] = ()
    radials: int | None = None
    radial_length_m: float | None = None
    radial_height_m: float | None = None
    counterpoise_m: float | None = None
    coil_h: float | None = None
    transformer: float | None = None
    lengths_m: Mapping[str, float] = field(default_factory=dict)
    tap: float | None = None
    turns: float | None = None
    tap_step: float | None = None
    coil_diameter_m: float | None = None
    coil_pitch_m: float | None = None
    whip_range_m: tuple[float, float] | None = None
    choke_at: str | None = None
    wire: str | None = None
    places: tuple[str, ...] = ()
    weights: Mapping[str, float] = field(default_factory=dict)
    box: str | None = None
    choke: str | None = None

    def __post_init__(self) -> None:
        if self.kind not in KINDS:
            raise BadGear(
                f"kind is {self.kind!r}; one of {', '.join(KINDS)} was expected; choose one", key="kind"
            )
        refuse_untrue(self, IN_KIT["antenna"])
        for name, length_m in self.lengths_m.items():
            refuse_outside("length_m", "lengths", length_m, f'lengths = {{"{name}" = "10.61 m"}}')
        for name, weight in self.weights.items():
            if not weight > 0:
                raise BadGear(f"weights: {name} has {weight:g}; a number above 0 was expected", key="weights")
        if self.whip_range_m is not None and not 0 < self.whip_range_m[0] < self.whip_range_m[1]:
            text = 'whip_range does not rise; shortest and longest were expected; write ["1.8 m", "4.0 m"]'
            raise BadGear(text, key="whip_range")
