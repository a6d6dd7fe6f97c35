"""What is known at the radio over the swept part of one band."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sweepkit.analysis.curve import CurveValues
from sweepkit.conversions import (
    ComplexArray,
    FloatArray,
    gamma_abs_from_swr,
    gamma_from_z,
    swr_from_gamma_abs,
    z_from_gamma,
)
from sweepkit.sweep import Phase

ALL_LOST_DB = 99.0  # stands for a loss without limit, so that interpolation stays finite
FAR_ABOVE = 99.0  # stands for a reflection far above the ceiling
CEILING_SHARE = 10 ** (-1 / 20)  # nominal reflection within 1 dB of the ceiling; common practice, no source
# Or this share of draws at or above it: the end of the 95 % interval, JCGM 101:2008, 7.7
CEILING_DRAWS = 0.025


class WhereAsked:
    """An array of which a formula, element by element, is computed only where it is looked at."""

    def __init__(
        self, array: NDArray[Any] | CurveValues, formula: Callable[[NDArray[Any]], NDArray[Any]]
    ) -> None:
        self.shape = array.shape
        self._array, self._formula = array, formula

    def __getitem__(self, key: Any) -> NDArray[Any]:
        return self._formula(self._array[key])

    def first(self) -> WhereAsked:
        """Its first row, likewise."""
        array = self._array
        return WhereAsked(array.first() if isinstance(array, CurveValues) else array[0], self._formula)


class Between:
    """Values along a grid by weights, (m, k), of those at some points, (draws, m); made where they are looked at."""

    def __init__(self, values: FloatArray, weights: FloatArray) -> None:
        self.shape = (len(values), weights.shape[1])
        self._values, self._weights = values, weights

    def __getitem__(self, key: Any) -> FloatArray:
        rows, columns = key if isinstance(key, tuple) else (key, slice(None))
        return np.asarray(self._values[rows] @ self._weights[:, columns])


@dataclass(frozen=True, eq=False)
class AtRadio:
    """Curves over the swept part of a band, at the connector of the radio; nominal draw first."""

    f_hz: FloatArray  # rising, shape (k,); put the frequency of the lowest SWR among them
    # relative to the radio's reference, shape (draws, k) or (k,); NaN where a draw has none
    swr: FloatArray | WhereAsked
    z_ohm: ComplexArray | WhereAsked | None = None
    # what the sweep knows; with "unsigned" every reactance of z_ohm is taken as positive
    phase: Phase = "none"
    # total loss of the line with its mismatch: zeros without a line; NaN or inf where the far end reflects all; None:
    # line not told
    line_loss_db: FloatArray | Between | None = None
    # what the radio would see with the line open at its far end; None: no line or not told
    swr_ceiling: FloatArray | Between | None = None
    # what a box that the kit tells of loses behind the line; None: none was told
    box_loss_db: FloatArray | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "f_hz", np.asarray(self.f_hz, dtype=np.float64))
        if self.f_hz.ndim != 1 or self.f_hz.size == 0 or not (self.f_hz[1:] > self.f_hz[:-1]).all():
            raise ValueError("f_hz must have one axis, at least one point, and rise")
        for name in ("swr", "z_ohm", "line_loss_db", "swr_ceiling"):
            array = getattr(self, name)
            if array is None:
                continue
            rows = (
                array
                if isinstance(array, WhereAsked | Between) or np.ndim(array) == 2
                else np.atleast_2d(array)
            )
            if len(rows.shape) != 2 or rows.shape[1] != self.f_hz.size:
                raise ValueError(
                    f"{name} has shape {rows.shape}; it needs {self.f_hz.size} values for each draw"
                )
            object.__setattr__(self, name, rows)
        seen = self.swr[0] if isinstance(self.swr, WhereAsked) else self.swr  # one formula makes them all
        if (seen < 1).any():
            raise ValueError(f"swr has the value {np.nanmin(seen)}; it must be 1 or more")
        if (self.z_ohm is None) != (self.phase == "none"):
            raise ValueError(f"phase is {self.phase!r}; z_ohm belongs to 'signed' and 'unsigned'")

    def nominal(self, *, z0_ohm: float) -> Nominal:
        """The nominal draw, with how near the line's ceiling each point may be."""
        loss_db = None if self.line_loss_db is None else np.nan_to_num(self.line_loss_db[0], nan=ALL_LOST_DB)
        return Nominal(
            f_hz=self.f_hz,
            swr=self.swr[0],
            z_ohm=self._nominal_z_ohm(),
            phase=self.phase,
            z0_ohm=z0_ohm,
            line_loss_db=None if loss_db is None else np.minimum(loss_db, ALL_LOST_DB),
            nearness=self._nearness(),
            box_loss_db=np.zeros(self.f_hz.size) if self.box_loss_db is None else self.box_loss_db,
        )

    def _nominal_z_ohm(self) -> ComplexArray | WhereAsked | None:
        if isinstance(self.z_ohm, WhereAsked):
            return self.z_ohm.first()
        return None if self.z_ohm is None else np.asarray(self.z_ohm[0])

    def _nearness(self) -> FloatArray:
        """1 or more where an open line may be what is seen: nominal within 1 dB, or inside the interval."""
        if self.swr_ceiling is None:
            return np.zeros(self.f_hz.size)
        with np.errstate(divide="ignore", invalid="ignore"):  # a line so lossy that it shows SWR 1
            ratio = gamma_abs_from_swr(self.swr[0]) / gamma_abs_from_swr(self.swr_ceiling[0])
        nominal = np.nan_to_num(ratio, nan=0.0, posinf=FAR_ABOVE) / CEILING_SHARE
        swr, ceiling = np.broadcast_arrays(self.swr[:], self.swr_ceiling[:])
        reached = (swr >= ceiling)[1:]
        share = reached.mean(axis=0) if len(reached) else np.zeros(self.f_hz.size)
        return np.asarray(np.maximum(nominal, share / CEILING_DRAWS), dtype=np.float64)


@dataclass(frozen=True, eq=False)
class Nominal:
    """The nominal curves, shape (k,), which can be read between their points."""

    f_hz: FloatArray
    swr: FloatArray
    z_ohm: ComplexArray | WhereAsked | None
    phase: Phase  # what is known of z_ohm
    z0_ohm: float  # reference
    line_loss_db: FloatArray | None  # total, at most ALL_LOST_DB
    nearness: FloatArray  # 1 or more where the line's ceiling may be what is seen
    box_loss_db: FloatArray  # of a told box, 0 where none was told

    @property
    def told_loss_db(self) -> FloatArray:
        """Line and box as far as they were told, shape (k,). [dB]"""
        return self.box_loss_db if self.line_loss_db is None else self.line_loss_db + self.box_loss_db

    @classmethod
    def joined(cls, parts: Sequence[Nominal], *, with_impedance: bool) -> Nominal:
        """Curves of one kind one after the other, to be judged point by point."""
        first = parts[0]
        along = [one.name for one in fields(first) if isinstance(getattr(first, one.name), np.ndarray)]
        joined: dict[str, Any] = {
            name: np.concatenate([getattr(part, name) for part in parts]) for name in along
        }
        known = with_impedance and first.z_ohm is not None
        z_ohm = np.concatenate([part.z_ohm[:] for part in parts if part.z_ohm is not None]) if known else None
        return replace(first, **joined | {"z_ohm": z_ohm})

    def between(self, index: NDArray[np.intp], share: FloatArray) -> Nominal:
        """The same curves on straight lines from some points to the next, shape (index × share,)."""

        def line(here: NDArray[Any], there: NDArray[Any]) -> NDArray[Any]:
            return np.asarray(here[:, np.newaxis] + share * (there - here)[:, np.newaxis]).ravel()

        def along(values: NDArray[Any]) -> NDArray[Any]:
            return line(values[index], values[index + 1])

        gamma_abs = line(*(gamma_abs_from_swr(self.swr[at]) for at in (index, index + 1)))
        z_ohm = None
        if self.z_ohm is not None:
            gamma = line(*(gamma_from_z(self.z_ohm[at], self.z0_ohm) for at in (index, index + 1)))
            z_ohm = z_from_gamma(gamma, self.z0_ohm)
        return Nominal(
            f_hz=along(self.f_hz),
            swr=swr_from_gamma_abs(gamma_abs),
            z_ohm=z_ohm,
            phase=self.phase,
            z0_ohm=self.z0_ohm,
            line_loss_db=None if self.line_loss_db is None else along(self.line_loss_db),
            nearness=along(self.nearness),
            box_loss_db=along(self.box_loss_db),
        )

    def best(self, among: NDArray[np.bool_] | None = None) -> int | None:
        """Index of the lowest SWR, among some points only if told; ``None`` where there is none."""
        seen = self.swr if among is None else np.where(among, self.swr, np.inf)
        at = int(np.argmin(seen))  # of the first that is none, where there are such
        if seen[at] < np.inf:
            return at
        allowed = ~np.isnan(self.swr) if among is None else among & ~np.isnan(self.swr)
        lowest = int(np.argmin(np.where(allowed, self.swr, np.inf)))
        if allowed[lowest]:
            return lowest
        return int(np.argmax(allowed)) if allowed.any() else None  # all that are allowed are infinite
