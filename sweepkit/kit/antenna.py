"""What is known of one antenna and stays true from outing to outing."""

from __future__ import annotations

from dataclasses import dataclass

from sweepkit.kit.bad_gear import BadGear, refuse_outside

KINDS = ("dipole", "inverted-vee", "vertical", "loaded-whip", "end-fed", "loop", "random-wire")


@dataclass(frozen=True)
class AntennaNote:
    """What is known of one antenna and stays true from outing to outing.

    Parameters
    ----------
    kind : str
        One of :data:`KINDS`.
    length_m : float or None
        Feed to turning point, of each part that is trimmed, above 0. [m]
    line : tuple of str
        Its line, piece by piece from the radio, each as ``--line`` takes it; empty: not told.
    radials : int or None
        How many radials.
    radial_length_m : float or None
        Length of each. [m]
    radials_on_ground : bool or None
        They lie on the ground, or not.
    counterpoise_length_m : float or None
        Length of the counterpoise wire. [m]
    coil_h : float or None
        Inductance of the loading coil. [H]
    transformer : float or None
        Impedance ratio of the box at its feedpoint, 49 for 49:1. [-]

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
    radials_on_ground: bool | None = None
    counterpoise_length_m: float | None = None
    coil_h: float | None = None
    transformer: float | None = None

    def __post_init__(self) -> None:
        if self.kind not in KINDS:
            raise BadGear(
                f"kind is {self.kind!r}; one of {', '.join(KINDS)} was expected; choose one", key="kind"
            )
        lengths = {
            "length": self.length_m,
            "radial_length": self.radial_length_m,
            "counterpoise": self.counterpoise_length_m,
        }
        for key, value in lengths.items():
            refuse_outside("length_m", key, value, f'{key} = "10.2 m"')
        refuse_outside("radials", "radials", self.radials, "radials = 4")
        refuse_outside("coil_h", "coil", self.coil_h, 'coil = "11.3 uH"')
        refuse_outside("transformer", "transformer", self.transformer, 'transformer = "49:1"')
