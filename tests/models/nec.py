"""Wire antennas over real ground by the method of moments (NEC-2 through PyNEC), for tests and generators.

Needs the extra ``models``. A builder gives an Antenna; ``z_ohm`` gives its feedpoint impedance over
frequency. Segment counts do not depend on the trimmed length, so that impedance is a smooth function of it.
NEC-2 cannot put wire into soil: radials "on the ground" are 3 cm above it, or a perfect ground with a series
resistance stands for many of them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

Point = tuple[float, float, float]


@dataclass(frozen=True)
class Soil:
    """Relative permittivity and conductivity [S/m]; ``perfect`` for an ideal mirror.

    ``by_reflection``: its reflection coefficients in place of Sommerfeld's integrals, twenty times as quick, good for
    wires a tenth of a wavelength up.
    """

    permittivity: float = 13.0
    conductivity_s_m: float = 5e-3
    perfect: bool = False
    by_reflection: bool = False


# Word classes of soil as the trade uses them (practice: dry, average, wet); values after
# Rec. ITU-R P.527 curves read at HF, rounded.
SOILS = {
    "dry": Soil(5.0, 1e-3),
    "average": Soil(13.0, 5e-3),
    "wet": Soil(25.0, 2e-2),
    "sandy": Soil(8.0, 2e-3),
    "meadow": Soil(18.0, 1e-2),
    "perfect": Soil(perfect=True),
}


@dataclass(frozen=True)
class Wire:
    """A straight wire from start to end, cut into equal segments. [m]"""

    start: Point
    end: Point
    segments: int
    radius_m: float


@dataclass(frozen=True)
class Antenna:
    """Wires, the fed segment (wire index from 0, segment from 1) and what stands in series with the feed.

    ``coil_h`` with ``coil_q`` and ``coil_f`` across it sits at ``coil_at`` (wire, segment), or in series with the feed
    when that is None; ``series_ohm`` stands for losses in the ground system; ``sleeve`` is the insulation of the wires,
    outer over inner radius and permittivity. ``poor`` is a wire (index from 0) that is no copper, and its conductivity.
    """

    wires: tuple[Wire, ...]
    feed: tuple[int, int]
    soil: Soil = SOILS["average"]
    coil_h: float = 0.0
    coil_q: float = 200.0
    coil_f: float = 0.0
    coil_at: tuple[int, int] | None = None
    series_ohm: float = 0.0
    sleeve: tuple[float, float] | None = None
    poor: tuple[int, float] | None = None


def z_ohm(antenna: Antenna, f_hz: ArrayLike) -> NDArray[np.complex128]:
    """Feedpoint impedance over frequency, shape of ``f_hz``. [ohm]"""
    frequencies = np.atleast_1d(np.asarray(f_hz, dtype=np.float64))
    z = np.array([_wires_z_ohm(antenna, f) for f in frequencies])
    if antenna.coil_h and antenna.coil_at is None:
        z = z + _coil_z_ohm(antenna, frequencies)
    return z + antenna.series_ohm


def _coil_z_ohm(antenna: Antenna, f_hz: NDArray[np.float64]) -> NDArray[np.complex128]:
    return coil_z_ohm(f_hz, antenna.coil_h, antenna.coil_q, antenna.coil_f)


def coil_z_ohm(f_hz: ArrayLike, coil_h: float, q: float, own_f: float = 0.0) -> NDArray[np.complex128]:
    """A coil with losses and with capacitance of its own across it. [ohm]"""
    w = 2 * np.pi * np.asarray(f_hz, dtype=np.float64)
    z = w * coil_h * (1 / q + 1j)
    return np.asarray(z / (1 + 1j * w * own_f * z))


def _wires_z_ohm(antenna: Antenna, f_hz: float) -> complex:
    import PyNEC

    context = PyNEC.nec_context()
    geometry = context.get_geometry()
    thicker, henry_per_m = _sleeve(antenna)
    for tag, wire in enumerate(antenna.wires, start=1):
        geometry.wire(tag, wire.segments, *wire.start, *wire.end, wire.radius_m * thicker, 1.0, 1.0)
    touches_ground = any(min(w.start[2], w.end[2]) == 0 for w in antenna.wires)
    context.geometry_complete(1 if touches_ground else -1 if antenna.soil.perfect else 0)
    if antenna.soil.perfect:
        context.gn_card(1, 0, 0, 0, 0, 0, 0, 0)
    else:
        kind = 0 if antenna.soil.by_reflection else 2
        context.gn_card(kind, 0, antenna.soil.permittivity, antenna.soil.conductivity_s_m, 0, 0, 0, 0)
    context.ld_card(5, 0, 0, 0, 5.8e7, 0, 0)  # copper, 5.8e7 S/m (IEC 60028: 58 MS/m at 20 °C)
    if antenna.poor is not None:
        context.ld_card(5, antenna.poor[0] + 1, 0, 0, antenna.poor[1], 0, 0)
    if henry_per_m:
        context.ld_card(2, 0, 0, 0, 0.0, henry_per_m, 0.0)
    if antenna.coil_h and antenna.coil_at is not None:
        coil = complex(_coil_z_ohm(antenna, np.array([f_hz]))[0])
        wire_index, segment = antenna.coil_at
        context.ld_card(4, wire_index + 1, segment, segment, coil.real, coil.imag, 0)
    context.ex_card(0, antenna.feed[0] + 1, antenna.feed[1], 0, 1.0, 0, 0, 0, 0, 0)
    context.fr_card(0, 1, f_hz / 1e6, 0)
    context.xq_card(0)
    return complex(context.get_input_parameters(0).get_impedance()[0])


def _sleeve(antenna: Antenna) -> tuple[float, float]:
    """Insulation as a thicker wire with inductance along it: factor of the radius, henry per metre.

    A thin dielectric sleeve keeps the charge nearer to the wire: both follow from its capacitance in series
    with that of the wire (quasi-static; e.g. Popovic, CAD of Wire Antennas, 1991, from memory).
    """
    if antenna.sleeve is None:
        return 1.0, 0.0
    ratio, permittivity = antenna.sleeve
    share = 1 - 1 / permittivity
    return float(ratio**share), float(2e-7 * share * np.log(ratio))


def dipole(
    leg_m: float,
    *,
    height_m: float,
    soil: Soil = SOILS["average"],
    radius_m: float = 0.5e-3,
    segments: int = 41,
) -> Antenna:
    """Flat dipole, fed in the middle; ``segments`` is odd."""
    wire = Wire((-leg_m, 0, height_m), (leg_m, 0, height_m), segments, radius_m)
    return Antenna((wire,), (0, (segments + 1) // 2), soil)


def inverted_vee(
    leg_m: float,
    *,
    apex_m: float,
    droop_deg: float,
    soil: Soil = SOILS["average"],
    radius_m: float = 0.5e-3,
    segments: int = 20,
) -> Antenna:
    """Two legs that fall by ``droop_deg`` from the apex; one short level segment carries the feed."""
    half_m = leg_m / (2 * segments + 1)
    run = leg_m - half_m
    across, down = run * np.cos(np.radians(droop_deg)), run * np.sin(np.radians(droop_deg))
    if apex_m - down < 0.3:
        raise ValueError(f"the ends would be {apex_m - down:.2f} m high; keep them above 0.3 m")
    top_left, top_right = (-half_m, 0.0, apex_m), (half_m, 0.0, apex_m)
    wires = (
        Wire(top_left, top_right, 1, radius_m),
        Wire(top_right, (half_m + across, 0.0, apex_m - down), segments, radius_m),
        Wire(top_left, (-half_m - across, 0.0, apex_m - down), segments, radius_m),
    )
    return Antenna(wires, (0, 1), soil)


def vertical(
    radiator_m: float,
    *,
    radials: int,
    radial_m: float,
    base_m: float,
    radial_end_m: float | None = None,
    soil: Soil = SOILS["average"],
    radius_m: float = 1e-3,
    segments: int = 21,
    radial_segments: int = 15,
    coil_h: float = 0.0,
    coil_q: float = 200.0,
) -> Antenna:
    """Upright wire over radials that run evenly in all directions; 1 or 2 radials are counterpoise wires.

    ``radial_end_m`` is the height of the radials' far ends (level when None). With ``coil_h`` the coil sits
    between feed and radiator: a base-loaded whip.
    """
    end_m = base_m if radial_end_m is None else radial_end_m
    reach_m = float(np.sqrt(max(radial_m**2 - (base_m - end_m) ** 2, 0.0)))
    base: Point = (0.0, 0.0, base_m)
    wires = [Wire(base, (0.0, 0.0, base_m + radiator_m), segments, radius_m)]
    for k in range(radials):
        angle = 2 * np.pi * k / radials
        end = (reach_m * float(np.cos(angle)), reach_m * float(np.sin(angle)), end_m)
        wires.append(Wire(base, end, radial_segments, radius_m))
    return Antenna(tuple(wires), (0, 1), soil, coil_h=coil_h, coil_q=coil_q)


def with_coil_up(antenna: Antenna, mast_m: float, *, coil_h: float, coil_q: float, coil_f: float) -> Antenna:
    """The same upright wire lifted onto a mast of wire with the coil between them, the feed at the foot of the mast."""
    whip, *radials = antenna.wires
    foot: Point = whip.start
    top, tip = (0.0, 0.0, foot[2] + mast_m), (0.0, 0.0, whip.end[2] + mast_m)
    mast = Wire(foot, top, max(3, round(mast_m / 0.2)), whip.radius_m)
    wires = (mast, replace(whip, start=top, end=tip), *radials)
    return replace(
        antenna, wires=wires, feed=(0, 1), coil_h=coil_h, coil_q=coil_q, coil_f=coil_f, coil_at=(1, 1)
    )


def vertical_over_mirror(
    radiator_m: float,
    *,
    ground_loss_ohm: float,
    radius_m: float = 1e-3,
    segments: int = 21,
    coil_h: float = 0.0,
    coil_q: float = 200.0,
) -> Antenna:
    """Upright wire on a perfect ground with a series resistance: many radials lying on the soil."""
    wire = Wire((0.0, 0.0, 0.0), (0.0, 0.0, radiator_m), segments, radius_m)
    return Antenna(
        (wire,), (0, 1), SOILS["perfect"], coil_h=coil_h, coil_q=coil_q, series_ohm=ground_loss_ohm
    )


def end_fed(
    wire_m: float,
    *,
    feed_m: float,
    far_m: float,
    counterpoise_m: float,
    counterpoise_end_m: float | None = None,
    soil: Soil = SOILS["average"],
    radius_m: float = 0.5e-3,
    segments: int = 61,
    counterpoise_segments: int = 7,
) -> Antenna:
    """Straight sloping wire fed at its lower end against one counterpoise wire (high-impedance side)."""
    reach_m = float(np.sqrt(wire_m**2 - (far_m - feed_m) ** 2))
    drop_end_m = feed_m if counterpoise_end_m is None else counterpoise_end_m
    back_m = float(np.sqrt(counterpoise_m**2 - (feed_m - drop_end_m) ** 2))
    feed: Point = (0.0, 0.0, feed_m)
    wires = (
        Wire(feed, (reach_m, 0.0, far_m), segments, radius_m),
        Wire(feed, (-back_m, 0.0, drop_end_m), counterpoise_segments, radius_m),
    )
    return Antenna(wires, (0, 1), soil)


def with_shield(
    antenna: Antenna, shield_m: float, *, low_m: float = 0.1, radius_m: float = 2.5e-3
) -> Antenna:
    """Coax hung on one side of the feed: its shield runs down, then along the ground to a choke or the radio.

    It joins the start of the wire that is not trimmed last: the counterpoise of an end-fed, one leg of a vee.
    """
    start = antenna.wires[-1].start
    down_m = min(start[2] - low_m, shield_m)
    turn: Point = (start[0], start[1], start[2] - down_m)
    wires = [*antenna.wires, Wire(start, turn, max(3, round(down_m / 0.5)), radius_m)]
    if shield_m - down_m > 0.3:
        along: Point = (turn[0], turn[1] + shield_m - down_m, turn[2])
        wires.append(Wire(turn, along, max(3, round((shield_m - down_m) / 0.7)), radius_m))
    return replace(antenna, wires=tuple(wires))


def loop(
    around_m: float,
    *,
    height_m: float,
    upright: bool = False,
    soil: Soil = SOILS["average"],
    radius_m: float = 0.5e-3,
    segments: int = 15,
) -> Antenna:
    """Square loop fed in the middle of one side; ``height_m`` is that of its lowest wire."""
    side = around_m / 4
    corners: list[Point]
    if upright:
        corners = [(-side / 2, 0, height_m), (side / 2, 0, height_m)]
        corners += [(side / 2, 0, height_m + side), (-side / 2, 0, height_m + side)]
    else:
        corners = [(-side / 2, -side / 2, height_m), (side / 2, -side / 2, height_m)]
        corners += [(side / 2, side / 2, height_m), (-side / 2, side / 2, height_m)]
    wires = tuple(Wire(corners[k], corners[(k + 1) % 4], segments, radius_m) for k in range(4))
    return Antenna(wires, (0, (segments + 1) // 2), soil)


def with_folded_ends(antenna: Antenna, tail_m: float, *, spacing_m: float, segments: int = 5) -> Antenna:
    """The last wire ends of a dipole, vee, vertical or end-fed turned back on themselves.

    The antenna keeps its wire: what is folded is taken off the straight part. The tail runs back beside the
    wire at ``spacing_m``, segment beside segment; the bend is one short segment. For a dipole use
    ``inverted_vee`` with no droop, whose legs are wires of their own.
    """
    ends = _free_ends(antenna)
    wires = list(antenna.wires)
    for index in ends:
        wire = wires[index]
        start, end = np.array(wire.start), np.array(wire.end)
        length_m = float(np.linalg.norm(end - start))
        along = (end - start) / length_m
        side = np.cross(along, (0.0, 0.0, 1.0))
        side = np.array([0.0, 1.0, 0.0]) if np.linalg.norm(side) < 1e-9 else side / np.linalg.norm(side)
        turn = start + along * (length_m - tail_m)
        free = start + along * (length_m - 2 * tail_m)
        bend = turn + side * spacing_m
        back = free + side * spacing_m
        wires[index] = replace(wire, end=_point(free))
        wires.append(Wire(_point(free), _point(turn), segments, wire.radius_m))
        wires.append(Wire(_point(turn), _point(bend), 1, wire.radius_m))
        wires.append(Wire(_point(bend), _point(back), segments, wire.radius_m))
    return replace(antenna, wires=tuple(wires))


def _free_ends(antenna: Antenna) -> list[int]:
    """Wires whose far end is trimmed: both legs of a vee, else the fed wire."""
    if len(antenna.wires) == 1 and antenna.feed[1] != 1:
        raise ValueError("split the dipole into legs first: use inverted_vee with droop_deg=0")
    return [1, 2] if antenna.wires[0].segments == 1 else [0]


def _point(vector: NDArray[np.float64]) -> Point:
    return (float(vector[0]), float(vector[1]), float(vector[2]))


def through_transformer(
    z: ArrayLike,
    f_hz: ArrayLike,
    *,
    ratio: float = 49.0,
    magnetising_h: float = 8e-6,
    core_loss_ohm: float = 1500.0,
    leakage_h: float = 0.1e-6,
    capacitor_f: float = 100e-12,
    winding_f: float = 0.0,
    core_loss: float = 0.0,
) -> NDArray[np.complex128]:
    """Impedance at the 50 ohm side of a near-ideal transformer.

    The magnetising inductance, with its loss angle ``core_loss``, and the core loss lie across the low side,
    the leakage inductance in series, the compensating capacitor across the connector, the winding's own capacitance
    across the high side; typical sizes of home-made 49:1 transformers, common practice, no source.
    """
    w = 2 * np.pi * np.asarray(f_hz, dtype=np.float64)
    high_side = 1 / (1 / np.asarray(z, dtype=np.complex128) + 1j * w * winding_f)
    low_side = high_side / ratio
    core = 1 / (1 / low_side + 1 / core_loss_ohm + 1 / (1j * w * magnetising_h * (1 - 1j * core_loss)))
    return 1 / (1 / (core + 1j * w * leakage_h) + 1j * w * capacitor_f)
