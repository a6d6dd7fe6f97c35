"""A box as a two-port, from what one side shows with known things at the other."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray


class TwoPort(NamedTuple):
    """A reciprocal two-port: reflection of its near side, of its far one, and there and back through it."""

    near: ComplexArray
    far: ComplexArray
    there_and_back: ComplexArray


def two_port(seen_open: ComplexArray, seen_short: ComplexArray, seen_load: ComplexArray) -> TwoPort:
    """The two-port behind which an open, a short and the reference were seen.

    The relation is that of a one-port calibration, solved the other way round (Pozar 2012, section 4.3 and 12.6):
    seen = near + there_and_back * g / (1 - far * g), with g = 1, -1 and 0.

    ``seen_open``, ``seen_short``, ``seen_load``: reflection at the near side; the load is the reference of the far
    side.
    Returns: arrays of the same shape. [-]
    """
    apart = seen_open - seen_short
    return TwoPort(
        near=seen_load,
        far=(seen_open + seen_short - 2 * seen_load) / apart,
        there_and_back=2 * (seen_open - seen_load) * (seen_load - seen_short) / apart,
    )


def lost_db(box: TwoPort) -> FloatArray:
    """What a two-port with its load behind it turns into heat, of the power that goes into it.

    ``box``: reciprocal, so that the way through is the root of there and back.
    Returns: loss; below 0 where errors outweigh it. [dB]
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(-10 * np.log10(np.abs(box.there_and_back) / (1 - np.abs(box.near) ** 2)))


# Of capacitor and inductance, in units of the mean admittance
STARTS = ((0.3, 0.1), (0.1, 0.3), (0.02, 0.02))


def shunt_conductance(f_hz: FloatArray, y_siemens: ComplexArray) -> FloatArray:
    """Conductance across the winding of a transformer, behind its compensation and its leakage inductance.

    A capacitor across the connector and an inductance in series are taken out; they are those that leave a conductance
    and a susceptance as smooth over frequency as load, core and winding have them: constants, f and 1/f. Each row finds
    its own.

    Parameters
    ----------
    f_hz : float array, shape (n,)
        Frequency. [Hz]
    y_siemens : complex array, shape (rows, n)
        Admittance at the connector. [S]

    Returns
    -------
    float array, shape (rows, n)
        That of load and core together. [S]
    """
    w, u = 2 * np.pi * f_hz, f_hz / np.sqrt(f_hz[0] * f_hz[-1])
    basis = np.linalg.qr(np.stack([np.ones_like(u), u, 1 / u], axis=1))[0]
    scale, middle = float(np.abs(y_siemens[0]).mean()), float(w.mean())
    ways = w / middle

    def behind(parts: FloatArray, y: ComplexArray) -> ComplexArray:
        return np.asarray(1 / (1 / (y - 1j * ways * parts[0]) - 1j * ways * parts[1]))

    starts = np.array(STARTS)
    rows = []
    for row in y_siemens / scale:
        parts = _smoothest(lambda parts, row=row: _off(behind(parts, row), basis), starts)  # type: ignore[misc]
        starts = np.clip(parts[np.newaxis], 1e-3, 2.9)  # from there the next is near
        rows.append(behind(parts, row).real * scale)
    return np.stack(rows)


def _off(y: ComplexArray, basis: FloatArray) -> FloatArray:
    """What is not as smooth as load, core and winding."""
    sides = np.stack([y.real, y.imag], axis=1)
    return np.asarray((sides - basis @ (basis.T @ sides)).ravel())


def _smoothest(off: Callable[[FloatArray], FloatArray], starts: FloatArray) -> FloatArray:
    """Capacitor and inductance, neither below none, that leave the least."""
    from scipy.optimize import least_squares

    found = [least_squares(off, start, bounds=([0.0, 0.0], [3.0, 3.0]), max_nfev=60) for start in starts]
    return np.asarray(min(found, key=lambda one: float(one.cost)).x)
