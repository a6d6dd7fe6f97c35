"""Sweep: one file's reflection over frequency, with what is known of its phase and where it was measured."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sweepkit.conversions import ComplexArray, FloatArray, renormalise_gamma
from sweepkit.errors import BadInput
from sweepkit.findings import Finding
from sweepkit.printed_step import PrintedStep
from sweepkit.visible import visible

Phase = Literal["signed", "unsigned", "none"]
Place = Literal["radio", "feedpoint", "unknown"]

FREQUENCY_RANGE_HZ = (0.0, 1e12)  # a sweep outside it has its unit wrong


@dataclass(frozen=True)
class Source:
    """Where a sweep came from.

    Parameters
    ----------
    path : str
        File as the user named it; empty for a sweep made in Python.
    sha256 : str
        Hash of the file's bytes, hexadecimal; empty for a sweep made in Python.
    reader : str
        Name of the reader that took the file.
    comments : tuple of str
        Remarks found in the file, in order, without their comment mark.
    hints : tuple of (name, value)
        What the file left open and the kit told.
    """

    path: str = ""
    sha256: str = ""
    reader: str = "python"
    comments: tuple[str, ...] = ()
    hints: tuple[tuple[str, str | float], ...] = ()

    @property
    def name(self) -> str:
        """The file without its folders; text of a user."""
        return self.path.replace("\\", "/").rsplit("/", 1)[-1]


@dataclass(frozen=True, eq=False)
class Sweep:
    """One sweep. Arrays are read-only copies; nothing that is handed out can change it.

    Parameters
    ----------
    f_hz : float array, shape (n,)
        Frequency, rising, 0 or more. [Hz]
    gamma : complex array, shape (n,), or None
        Reflection coefficient against ``reference_ohm``; ``None`` where the file has no signed phase. [-]
    gamma_abs : float array, shape (n,)
        Its magnitude. [-]
    reference_ohm : float
        Reference resistance of the numbers, above 0. [ohm]
    phase : {"signed", "unsigned", "none"}
        ``signed``: complex reflection. ``unsigned``: the size of the reactance is known, its sign is not.
        ``none``: magnitude only.
    gamma_folded : complex array, shape (n,), or None
        For ``unsigned`` only: the reflection with every reactance taken as positive. [-]
    measured_at : {"radio", "feedpoint", "unknown"}
        The connector at which the numbers are true.
    source : Source
        Where it came from.
    findings : tuple of Finding
        What the reader had to say.
    printed_step : PrintedStep, optional
        What the file prints and in which steps; ``None`` for a sweep made in Python.

    Raises
    ------
    ValueError
        Shapes, order or signs that no sweep can have.
    """

    f_hz: FloatArray
    gamma: ComplexArray | None
    gamma_abs: FloatArray
    reference_ohm: float = 50.0
    phase: Phase = "signed"
    gamma_folded: ComplexArray | None = None
    measured_at: Place = "unknown"
    source: Source = field(default_factory=Source)
    findings: tuple[Finding, ...] = ()
    printed_step: PrintedStep | None = None

    def __post_init__(self) -> None:
        for name in ("f_hz", "gamma", "gamma_abs", "gamma_folded"):
            array = getattr(self, name)
            if array is not None:
                kind = np.complex128 if name in ("gamma", "gamma_folded") else np.float64
                frozen = np.array(array, dtype=kind)
                frozen.flags.writeable = False
                object.__setattr__(self, name, frozen)
        _check(self)

    def __repr__(self) -> str:
        """What it is in one line; the numbers are in its arrays."""
        name = visible(self.source.name)
        span = f"{self.f_hz[0] / 1e6:.3f} to {self.f_hz[-1] / 1e6:.3f} MHz, {self.f_hz.size} points"
        told = "" if self.measured_at == "unknown" else f", at the {self.measured_at}"
        phase = {"signed": "with phase", "unsigned": "reactance without sign", "none": "without phase"}[
            self.phase
        ]
        return f"Sweep {name}: {span}, {phase}, reference {self.reference_ohm:g} ohm{told}".replace(" :", ":")

    @classmethod
    def from_gamma(cls, f_hz: ArrayLike, gamma: ArrayLike, **known: Any) -> Sweep:
        """A sweep with phase.

        Parameters
        ----------
        f_hz : float array, shape (n,)
            Frequency, rising. [Hz]
        gamma : complex array, shape (n,)
            Reflection coefficient. [-]
        **known
            Other fields of the class.
        """
        complex_gamma = np.asarray(gamma, dtype=np.complex128)
        return cls(np.asarray(f_hz), complex_gamma, np.abs(complex_gamma), phase="signed", **known)

    @classmethod
    def from_magnitude(cls, f_hz: ArrayLike, gamma_abs: ArrayLike, **known: Any) -> Sweep:
        """A sweep without phase.

        Parameters
        ----------
        f_hz : float array, shape (n,)
            Frequency, rising. [Hz]
        gamma_abs : float array, shape (n,)
            Magnitude of the reflection coefficient. [-]
        **known
            Other fields of the class.
        """
        return cls(np.asarray(f_hz), None, np.asarray(gamma_abs), phase="none", **known)

    @classmethod
    def from_folded(cls, f_hz: ArrayLike, gamma_folded: ArrayLike, **known: Any) -> Sweep:
        """A sweep whose reactance has lost its sign.

        Parameters
        ----------
        f_hz : float array, shape (n,)
            Frequency, rising. [Hz]
        gamma_folded : complex array, shape (n,)
            Reflection coefficient with every reactance taken as positive. [-]
        **known
            Other fields of the class.
        """
        folded = np.asarray(gamma_folded, dtype=np.complex128)
        return cls(np.asarray(f_hz), None, np.abs(folded), phase="unsigned", gamma_folded=folded, **known)

    @property
    def rounding(self) -> FloatArray:
        """Standard deviation of the reflection at each point from the printed digits alone; 0 where not known. [-]"""
        known = next(one for one in (self.gamma, self.gamma_folded, self.gamma_abs) if one is not None)
        return self.rounding_of(known)

    def rounding_of(self, values: NDArray[Any]) -> FloatArray:
        """The same of other values, shape (..., n), that print as those of this sweep."""
        if self.printed_step is None:
            return np.zeros(values.shape)
        return self.printed_step.rounding(values, self.reference_ohm)

    @property
    def network(self) -> Any:
        """The sweep as a new scikit-rf Network; changing it changes nothing here.

        Raises
        ------
        BadInput
            The sweep has no signed phase.
        """
        if self.gamma is None:
            raise BadInput(
                f"this sweep has no signed phase (phase: {self.phase}), so it is no network; "
                "use gamma_abs, or read a file with phase",
                path=self.source.path or None,
            )
        import skrf

        frequency = skrf.Frequency.from_f(self.f_hz, unit="Hz")
        return skrf.Network(frequency=frequency, s=self.gamma.reshape(-1, 1, 1), z0=self.reference_ohm)

    def renormalised(self, reference_ohm: float) -> Sweep:
        """The same sweep against another reference resistance.

        Parameters
        ----------
        reference_ohm : float
            New reference, above 0. [ohm]

        Raises
        ------
        BadInput
            Without phase the magnitude at another reference cannot be known.
        """
        if reference_ohm == self.reference_ohm:
            return self
        if self.gamma is not None:
            gamma = renormalise_gamma(self.gamma, self.reference_ohm, reference_ohm)
            return replace(self, gamma=gamma, gamma_abs=np.abs(gamma), reference_ohm=reference_ohm)
        if self.gamma_folded is not None:
            folded = renormalise_gamma(self.gamma_folded, self.reference_ohm, reference_ohm)
            return replace(self, gamma_folded=folded, gamma_abs=np.abs(folded), reference_ohm=reference_ohm)
        raise BadInput(
            f"magnitudes against {self.reference_ohm:g} ohm say nothing about SWR at {reference_ohm:g} ohm; "
            "export the sweep with phase, or at the radio's reference",
            path=self.source.path or None,
        )


def sweeps_on_one_grid(
    f_hz: ArrayLike,
    gamma: ArrayLike,
    sources: Sequence[Source],
    printed_steps: Sequence[PrintedStep | None] = (),
    **known: Any,
) -> list[Sweep]:
    """As :meth:`Sweep.from_gamma` of each row of reflections, shape (sweeps, n), with one set of checks for all."""
    gammas = np.array(gamma, dtype=np.complex128)
    if gammas.ndim != 2 or len(gammas) != len(sources) or not np.isfinite(gammas).all():
        raise ValueError(
            f"gamma has shape {gammas.shape}; it needs a row of finite numbers for each of {len(sources)}"
        )
    sizes = np.abs(gammas)
    for array in (gammas, sizes):
        array.flags.writeable = False
    sweeps: list[Sweep] = []
    for row, (source, step) in enumerate(zip(sources, printed_steps or [None] * len(sources), strict=True)):
        if not sweeps:
            sweeps.append(Sweep.from_gamma(f_hz, gammas[row], source=source, printed_step=step, **known))
            continue
        sweep = object.__new__(Sweep)  # what the first was checked for is true of its rows too
        own = {"gamma": gammas[row], "gamma_abs": sizes[row], "source": source, "printed_step": step}
        sweep.__dict__.update(sweeps[0].__dict__, **own)
        sweeps.append(sweep)
    return sweeps


def _check(sweep: Sweep) -> None:
    """Refuse what no sweep can be; the message shows the value and the rule."""
    n = sweep.f_hz.size
    if sweep.f_hz.ndim != 1 or n < 1:
        raise ValueError(f"f_hz has shape {sweep.f_hz.shape}; a sweep has one axis and at least one point")
    for name in ("gamma", "gamma_abs", "gamma_folded"):
        array = getattr(sweep, name)
        if array is None:
            continue
        if array.shape != (n,):
            raise ValueError(f"{name} has shape {array.shape}; it needs a value for each of {n} frequencies")
        if not np.isfinite(array).all():
            raise ValueError(f"{name} is not finite at point {int(np.argmin(np.isfinite(array)))}")
    low, high = FREQUENCY_RANGE_HZ
    if not (np.isfinite(sweep.f_hz).all() and sweep.f_hz[0] >= low and sweep.f_hz[-1] <= high):
        raise ValueError(f"frequencies must lie between {low:g} and {high:g} Hz")
    if not (sweep.f_hz[1:] > sweep.f_hz[:-1]).all():
        raise ValueError(f"f_hz does not rise at point {int(np.argmax(np.diff(sweep.f_hz) <= 0)) + 1}")
    if (sweep.gamma_abs < 0).any():
        raise ValueError("gamma_abs has a negative value; a magnitude is 0 or more")
    if not (np.isfinite(sweep.reference_ohm) and sweep.reference_ohm > 0):
        raise ValueError(f"reference_ohm is {sweep.reference_ohm}; it must be above 0")
    if (sweep.gamma is not None) != (sweep.phase == "signed"):
        raise ValueError(f"phase is {sweep.phase!r}; gamma belongs to phase 'signed' and to nothing else")
    if (sweep.gamma_folded is not None) != (sweep.phase == "unsigned"):
        raise ValueError("gamma_folded belongs to phase 'unsigned' and to nothing else")
