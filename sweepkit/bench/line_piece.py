"""An adapter or a short piece swept into open, short and a resistor, as a piece of line."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.figures import Figure
from sweepkit.findings import Finding
from sweepkit.quantities import SPEED_OF_LIGHT_M_S

REFERENCE_OHM = 50.0
VELOCITY_FACTOR = 0.695  # PTFE in connectors; length and this are one pair, only their ratio was measured
# Of ln impedance about 50 ohm, where a piece is too short to tell it; common practice, no source
USUAL_SPREAD = 0.2
AS_ERRORS = 0.01  # the usual size of an analyzer's errors, against which that weighs; 40 dB
NO_LINE = 0.08  # rms of what a line leaves unexplained, beyond which it is none; common practice, no source
DB_PER_NEPER = 20 / np.log(10)
ROUNDS = 12


@dataclass(frozen=True, eq=False)
class LineFit:
    """The line that shows the same, on every draw, the nominal one first; loss at ``middle_hz``."""

    middle_hz: float
    z0_ohm: FloatArray
    delay_s: FloatArray
    loss_db: FloatArray
    unexplained: float

    @property
    def is_line(self) -> bool:
        """Whether a line explains what was seen."""
        return self.unexplained <= NO_LINE

    def figures(self) -> dict[str, Figure]:
        """Impedance, delay one way and loss, with intervals."""
        columns = {"z0_ohm": self.z0_ohm, "delay_s": self.delay_s, "loss_db": np.maximum(self.loss_db, 0.0)}
        return {name: Figure.from_draws(column, reason="no line") for name, column in columns.items()}

    def findings(self) -> tuple[Finding, ...]:
        """What is no line is named."""
        if self.is_line:
            return ()
        text = (
            f"no piece of line shows this: {self.unexplained:.2f} of full reflection stays unexplained; "
            "it is a transformer, a choke or a bad joint, so there is no block of a line"
        )
        return (Finding("not-a-line", "warning", text, "sweep it as --box transformer, or replace it"),)

    def block(self, key: str) -> str:
        """A ``[lines.NAME]`` that gives the same piece back."""
        loss_db = np.maximum(self.loss_db, 0.0)
        usual_db = float(loss_db.mean())  # an error must not make an adapter free of loss
        length_m = max(float(self.delay_s[0]), 1e-12) * VELOCITY_FACTOR * SPEED_OF_LIGHT_M_S
        k1 = 100 * usual_db / length_m / np.sqrt(self.middle_hz / 1e6)
        at = f'"{self.middle_hz / 1e6:.6g} MHz"'
        lines = [
            f"[lines.{key}]",
            f"z0_ohm = {self.z0_ohm[0]:.2f}",
            f"z0_tolerance = {_share(self.z0_ohm):.3f}",
            f"z0_at = {at}",
            f"velocity_factor = {VELOCITY_FACTOR:g}",
            f"velocity_factor_at = {at}",
            f"velocity_factor_tolerance = {_share(self.delay_s):.4f}",
            f"k1 = {k1:.4f}",
            "k2 = 0",
            f"loss_tolerance = {_share(loss_db, usual_db):.2f}",
            f'length = "{length_m:.4f} m"',
            "# one pair with the velocity factor:",
            "# their delay was measured",
            'length_tolerance = "0 cm"',
        ]
        return "\n".join(lines) + "\n"


def fit_line(
    f_hz: FloatArray,
    seen: tuple[ComplexArray, ComplexArray, ComplexArray],
    load_ohm: FloatArray,
    dice: np.random.Generator,
) -> LineFit:
    """Impedance, delay and loss of the line behind which open, short and a resistor were seen, shape (draws, n)
    each.

    Least squares by Gauss and Newton, all draws side by side, each pulled towards an impedance of its own. Loss goes
    with the root of frequency, and so does not ask for more than three figures.
    """
    middle_hz = float(np.sqrt(f_hz[0] * f_hz[-1]))
    p = np.stack(_start(f_hz, middle_hz, seen), axis=1)
    weight = np.sqrt(3 * f_hz.size) * AS_ERRORS / USUAL_SPREAD
    usual = USUAL_SPREAD * dice.standard_normal((len(p), 1))
    usual[0] = 0.0
    pull = (weight, usual)
    for _ in range(ROUNDS):
        off = _off(p, f_hz, middle_hz, seen, load_ohm, pull)
        steps = np.array([1e-5, 1e-5, 1e-5])
        slopes = np.stack(
            [
                (_off(p + np.eye(3)[k] * steps[k], f_hz, middle_hz, seen, load_ohm, pull) - off) / steps[k]
                for k in range(3)
            ],
            axis=2,
        )
        normal = np.einsum("dni,dnj->dij", slopes, slopes) + 1e-12 * np.eye(3)
        p = p - np.linalg.solve(normal, np.einsum("dni,dn->di", slopes, off)[..., np.newaxis])[..., 0]
        p[:, 0] = np.clip(p[:, 0], -2.0, 2.0)
    nominal = tuple(one[:1] for one in seen)
    left = _off(p[:1], f_hz, middle_hz, nominal, load_ohm[:1], (weight, usual[:1]))[0, :-1]
    return LineFit(
        middle_hz=middle_hz,
        z0_ohm=REFERENCE_OHM * np.exp(p[:, 0]),
        delay_s=p[:, 1] / (2 * np.pi * middle_hz),
        loss_db=DB_PER_NEPER * p[:, 2],
        unexplained=float(np.sqrt(2 * np.mean(left**2))),
    )


def _start(
    f_hz: FloatArray, middle_hz: float, seen: tuple[ComplexArray, ...]
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """50 ohm; delay and loss from the difference of open and short, which go there and back."""
    through = (seen[0] - seen[1]) / 2
    turned = -np.unwrap(np.angle(through), axis=1)
    angle = (turned[:, -1] - turned[:, 0]) / 2 * middle_hz / (f_hz[-1] - f_hz[0])
    loss = -np.log(np.maximum(np.abs(through), 1e-6)).mean(axis=1) / 2
    return np.zeros(len(through)), np.maximum(angle, 1e-4), loss


def _off(
    p: FloatArray,
    f_hz: FloatArray,
    middle_hz: float,
    seen: tuple[ComplexArray, ...],
    load_ohm: FloatArray,
    pull: tuple[float, FloatArray],
) -> FloatArray:
    """Line less what was seen, in real and imaginary parts; last the pull to usual ones; shape (draws, 6 n + 1)."""
    z0 = REFERENCE_OHM * np.exp(p[:, :1])
    share = f_hz / middle_hz
    turn = np.exp(-2 * (p[:, 2:3] * np.sqrt(share) + 1j * p[:, 1:2] * share))
    own = (z0 - REFERENCE_OHM) / (z0 + REFERENCE_OHM)
    parts = []
    for gamma, far in zip(seen, (1.0, -1.0, (load_ohm - z0) / (load_ohm + z0)), strict=True):
        inside = far * turn
        off = (own + inside) / (1 + own * inside) - gamma
        parts += [off.real, off.imag]
    return np.concatenate([*parts, pull[0] * (p[:, :1] - pull[1])], axis=1)


def _share(values: FloatArray, middle: float | None = None) -> float:
    """Spread of draws over their middle, from 0.001 to 1."""
    middle = float(values[0]) if middle is None else middle
    if values.size < 2 or middle <= 0:
        return 0.001
    return float(np.clip(values[1:].std() / middle, 0.001, 1.0))
