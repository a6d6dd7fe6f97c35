"""What every kind of antenna says of itself."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from sweepkit.conversions import FloatArray
from sweepkit.quantities import SPEED_OF_LIGHT_M_S

Move = Literal["fold", "cut", "slide"]


@dataclass(frozen=True, eq=False)
class Seen:
    """What a sweep shows of one dip, on every draw.

    Parameters
    ----------
    f_hz : float array, shape (n,)
        Frequency of the dip at the feedpoint. [Hz]
    length_m : float array, shape (n,)
        Length of each trimmed part. [m]
    swr : float array, shape (n,)
        SWR at the dip; NaN where it is not known. [-]
    loaded_q : float array, shape (n,)
        Q of the dip with the 50 ohm of the line across it; NaN where it is not known. [-]
    """

    f_hz: FloatArray
    length_m: FloatArray
    swr: FloatArray
    loaded_q: FloatArray

    @property
    def wavelengths(self) -> FloatArray:
        """Length of each part in wavelengths at the dip, shape (n,). [-]"""
        return self.f_hz * self.length_m / SPEED_OF_LIGHT_M_S


@dataclass(frozen=True)
class Known:
    """What else the operator knows; nothing of it is required.

    Parameters
    ----------
    radials : int or None
        Number of raised radials or counterpoise wires.
    radial_length_m : float or None
        Length of each. [m]
    radials_on_ground : bool
        They lie on the ground, and there are many.
    counterpoise_m : float or None
        Length of a counterpoise wire. [m]
    coil_h : float or None
        Inductance of a loading coil. [H]
    transformer : float or None
        Impedance of the antenna over that at the connector, 1 without one. [-]
    choke_at_m : float or None
        How far down the coax from the feedpoint the choke sits; ``inf`` without one. [m]
    choke_ohm : complex or None
        What its winding shows at the dip in question. [ohm]
    """

    radials: int | None = None
    radial_length_m: float | None = None
    radials_on_ground: bool = False
    counterpoise_m: float | None = None
    coil_h: float | None = None
    transformer: float | None = None
    choke_at_m: float | None = None
    choke_ohm: complex | None = None


@dataclass(frozen=True, eq=False)
class LengthAnswer:
    """How the dip answers to length, on every draw: d ln f = slope * dl + curvature / 2 * dl**2, dl = d ln L.

    Parameters
    ----------
    slope, curvature : float array, shape (n,)
        First and second derivative of ln f with respect to ln L. [-]
    log_weight : float array, shape (n,)
        How well what lies behind a draw agrees with the sweep; 0 for all where nothing was compared. [-]
    """

    slope: FloatArray
    curvature: FloatArray
    log_weight: FloatArray


@dataclass(frozen=True)
class Usual:
    """What a healthy antenna of the kind usually shows at its dip: ranges that hold nine of ten models.

    Parameters
    ----------
    r_ohm : (float, float)
        Resistance at the connector. [ohm]
    q : (float, float)
        Q of the antenna alone. [-]
    bandwidth : (float, float)
        SWR-2 bandwidth over the frequency of the dip. [-]
    resonance : {"series", "parallel"}
        Whether the reactance rises or falls through the dip.
    overtones : tuple of float
        Further dips over the first. [-]
    """

    r_ohm: tuple[float, float]
    q: tuple[float, float]
    bandwidth: tuple[float, float]
    resonance: Literal["series", "parallel"]
    overtones: tuple[float, ...]


Answer = Callable[[Seen, Known, np.random.Generator], LengthAnswer]


@dataclass(frozen=True)
class Kind:
    """One kind of antenna.

    Parameters
    ----------
    name : str
        As written on the command line.
    title : str
        In a sentence, with its article.
    part : str
        What the operator changes.
    parts : {1, 2}
        How many parts change together, by the same amount each.
    move : {"fold", "cut", "slide"}
        How it is usually done.
    where : str
        Where to change it.
    length_range : (float, float)
        Length of a part, in wavelengths at the dip, beyond which it cannot be this kind. [-]
    length_usual : (float, float)
        Middle of that length, and its spread as a standard deviation of the logarithm. [-]
    repeatability : float
        Shift of the dip between two erections at one site, as a fraction. [-]
    usual : Usual
        What a healthy one shows.
    answer : callable or None
        How its dip answers to length; ``None`` where there is nothing to trim.
    basis : str
        What that is known from, in words after "from".
    """

    name: str
    title: str
    part: str
    parts: Literal[1, 2]
    move: Move
    where: str
    length_range: tuple[float, float]
    length_usual: tuple[float, float]
    repeatability: float
    usual: Usual
    answer: Answer | None
    basis: str = ""


def known_beside(
    facts: Mapping[str, Any],
    *,
    radials: int | None = None,
    radials_on_ground: bool = False,
    **told: float | None,
) -> Known:
    """What a kind of antenna takes beside its length: as told, else as the facts have it.

    ``radials``: how many raised ones.
    ``**told``: ``radial_length_m``, ``counterpoise_m``, ``coil_h``, ``transformer``; ``None`` where not told.
    """
    names = ("radial_length_m", "counterpoise_m", "coil_h", "transformer")
    return Known(
        radials=facts.get("radials") if radials is None else radials,
        radials_on_ground=radials_on_ground or (radials is None and facts.get("radial_height_m") == 0),
        **{name: facts.get(name) if told.get(name) is None else told[name] for name in names},
    )
