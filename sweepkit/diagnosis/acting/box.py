"""The transformer of a wire fed at its end: it stays where it is while the wire gets longer, wetter or higher.

Capacitance across the connector, leakage in series, then the winding's own capacitance and the magnetising inductance
across; all without loss, so that a wire behind it stays a wire. Sizes of home-made ones: common practice, no source.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray


class Box(NamedTuple):
    """What stands between connector and wire, seen at the connector's level of impedance."""

    connector_f: float
    leakage_h: float
    winding_f: float
    magnetising_h: float


BOXES = {"end-fed": Box(100e-12, 0.1e-6, 49 * 6e-12, 8e-6), "random-wire": Box(0.0, 0.06e-6, 9 * 5e-12, 8e-6)}


def behind(box: Box, f_hz: FloatArray, z: ComplexArray, *, reference_ohm: float) -> ComplexArray:
    """Impedance of the wire from that at the connector, both over the reference."""
    across_connector, in_series, across_wire = _parts(box, f_hz, reference_ohm)
    return np.asarray(1 / (1 / (1 / (1 / z - across_connector) - in_series) - across_wire))


def before(box: Box, f_hz: FloatArray, z: ComplexArray, *, reference_ohm: float) -> ComplexArray:
    """The other way round."""
    across_connector, in_series, across_wire = _parts(box, f_hz, reference_ohm)
    return np.asarray(1 / (1 / (1 / (1 / z + across_wire) + in_series) + across_connector))


def _parts(
    box: Box, f_hz: FloatArray, reference_ohm: float
) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
    omega = 2 * np.pi * f_hz
    return (
        np.asarray(1j * omega * box.connector_f * reference_ohm),
        np.asarray(1j * omega * box.leakage_h / reference_ohm),
        np.asarray((1j * omega * box.winding_f + 1 / (1j * omega * box.magnetising_h)) * reference_ohm),
    )
