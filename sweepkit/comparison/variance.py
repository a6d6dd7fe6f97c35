"""How much of the spread of a quantity is due to antennas, sites, setups and the instrument.

Model: value = mean + antenna + site + setup + instrument, each part normal with a variance of its own; antennas and
sites crossed in any way, setups inside one antenna and one site. An interaction of antenna and site counts as setup.

Method: restricted maximum likelihood (REML) with components of 0 or more. Of balanced data whose components come out
positive it gives the same as analysis of variance; of unbalanced crossed data the latter's answer depends on the
order of the factors and may be negative, REML's does not [Patterson and Thompson, Biometrika 58, 545-554, 1971;
Searle, Casella, McCulloch, Variance Components, Wiley 1992] (from memory).

Intervals: the values of a component that the likelihood, at its best in the others, does not refuse. The limit is not
the one of many data (3.84): it is the exact one of a lone variance estimated with as many degrees of freedom as speak
of the component, 4.6 for one degree. A few levels give wide intervals, and that is what they know.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from sweepkit.comparison.variance_design import Design, Labels, read_design
from sweepkit.comparison.variance_likelihood import Cells, fold_up, minus_two_log
from sweepkit.conversions import FloatArray
from sweepkit.figures import Figure

NAMES = ("antenna", "site", "setup", "instrument")
LEAST, MOST = math.log(1e-9), math.log(1e5)  # range of a variance, of that of all values
NONE_LEFT = 1e-8  # a variance below this share of that of all values is printed as 0
COVERAGE = 0.95
STEPS = 30  # of the logarithm of a variance at the ends of an interval, at most
CLOSE = 1e-3  # of that logarithm, and of minus twice the log-likelihood, whose slope there is 1 and more


@dataclass(frozen=True)
class Component:
    """One part of the spread.

    ``names``: part, or parts that the data cannot tell apart and that are given together.
    ``sd``: standard deviation with its 95 % interval, or why there is none, on the scale of the values.
    ``freedom``: degrees of freedom that speak of it; 0 where it was told.
    """

    names: tuple[str, ...]
    sd: Figure
    freedom: int


@dataclass(frozen=True)
class Split:
    """Spread of one quantity in its parts.

    ``components``: antenna, site, setup and instrument, in this order.
    ``together``: sums of parts that cannot be told apart.
    ``values``, ``left_out``: values that were used, and those without a number.
    """

    components: tuple[Component, ...]
    together: tuple[Component, ...]
    values: int
    left_out: int

    def to_json(self) -> dict[str, Any]:
        """As promised."""
        parts = {part.names[0]: part.sd.to_json() for part in self.components}
        together = [{"parts": list(part.names), "sd": part.sd.to_json()} for part in self.together]
        return {"parts": parts, "together": together, "values": self.values}


def split_variance(
    values: FloatArray,
    *,
    antenna: Sequence[str],
    site: Sequence[str],
    setup: Sequence[str],
    told_sd: FloatArray | None = None,
) -> Split:
    """Split the spread of one quantity, one value per sweep on the scale of the analysis; NaN where there is none.

    A setup has one antenna and one site. ``told_sd`` is that of each measurement; repeats can add to the instrument,
    not take away from it.
    """
    plain = np.asarray(values, dtype=np.float64)
    told = np.zeros(plain.size) if told_sd is None else np.asarray(told_sd, dtype=np.float64) ** 2
    for name, other in (("antenna", antenna), ("site", site), ("setup", setup), ("told_sd", told)):
        if len(other) != plain.size:
            raise ValueError(
                f"{name} has {len(other)} entries, values has {plain.size}; they must be as many"
            )
    good = np.isfinite(plain) & np.isfinite(told)
    plain, told = plain[good], told[good]
    left_out = int(good.size - plain.size)
    if plain.size < 2:
        return _nothing(f"{plain.size} value(s): a spread needs at least two", plain.size, left_out)
    size = float(plain.std())
    if size <= 1e-14 * float(np.abs(plain).max()):
        return _nothing("all values are equal", plain.size, left_out)
    codes = [
        np.unique(np.asarray(lab, dtype=str)[good], return_inverse=True)[1].reshape(-1)
        for lab in (antenna, site, setup)
    ]
    for name, code in zip(("antenna", "site"), codes[:2], strict=True):
        if np.unique(np.stack([codes[2], code]), axis=1).shape[1] > int(codes[2].max()) + 1:
            raise ValueError(f"a setup has more than one {name}; it must have one")
    design = read_design(*codes, told=told_sd is not None)
    return _Fit(design, (plain - plain.mean()) / size, told / size**2, size).split(left_out)


class _Fit:
    """Restricted likelihood over the logarithms of the variances that are to be fitted."""

    def __init__(self, design: Design, values: FloatArray, told: FloatArray, size: float) -> None:
        self.design, self.size, self.told = design, size, told
        levels = design.levels
        self.few = "antenna" if levels["antenna"] <= levels["site"] else "site"
        self.many = "site" if self.few == "antenna" else "antenna"
        self.order = ("instrument", "setup", self.few, self.many)
        lab = design.labels
        alone = np.zeros(values.size, dtype=np.intp)
        few: Labels = lab[self.few] if self.few in design.kept else alone
        many: Labels = lab[self.many] if self.many in design.kept else alone
        # Where setups and sweeps are the same thing, the instrument stands for both.
        self.cells: Cells = fold_up(values, lab["setup"], few, many, told)
        self.free = [k for k, name in enumerate(self.order) if name in design.kept]
        repeats = float(np.sum(self.cells.setups * (self.cells.sweeps - 1)))
        fine = float(self.cells.within.sum()) / repeats if repeats else 0.5
        inside = float(np.sum(self.cells.setups - 1))
        middle = float(self.cells.between.sum()) / inside if inside else 0.5
        guess = np.log(np.clip([fine, middle, 0.5, 0.5], 1e-8, 1.0))
        self.guess = guess[self.free]
        self.best, self.least = self._minimise(self.guess, None)

    def split(self, left_out: int) -> Split:
        """Figures of all parts."""
        together = []
        for group in self.design.groups:
            freedom = max(self.design.freedom[name] for name in group)
            together.append(Component(group, self._figure(group[0], max(freedom, 1)), freedom))
        parts = tuple(self._part(name) for name in NAMES)
        return Split(parts, tuple(together), self.told.size, left_out)

    def _part(self, name: str) -> Component:
        if name == "instrument" and name not in self.design.kept:
            return Component((name,), Figure(self.size * math.sqrt(float(self.told.mean()))), 0)
        reason = self.design.reason(name)
        freedom = max(self.design.freedom[name], 0)
        return Component((name,), Figure.none(reason) if reason else self._figure(name, freedom), freedom)

    def _figure(self, name: str, freedom: int) -> Figure:
        place = self.free.index(self.order.index(name))
        limit = self.least + lone_variance_limit(freedom)
        ends = [self._end(place, limit, outer) for outer in (LEAST, MOST)]
        told = float(self.told.mean()) if name == "instrument" else 0.0
        shown = [0.0 if (v := math.exp(t)) < NONE_LEFT else v for t in (ends[0], self.best[place], ends[1])]
        low, value, high = (self.size * math.sqrt(told + v) for v in shown)
        return Figure(value, min(low, value), max(high, value))

    def _end(self, place: int, limit: float, outer: float) -> float:
        """Where the likelihood crosses the limit between its best and ``outer``."""
        inside, near = float(self.best[place]), self.best
        if self._minimise(near, (place, outer))[1] <= limit:
            return outer
        below, outside = self.least - limit, inside
        step = math.copysign(1.0, outer - inside)
        while True:
            outside = max(min(outside + step, MOST), LEAST)
            tried, least = self._minimise(near, (place, outside))
            if least > limit or outside == outer:
                break
            inside, near, step, below = outside, tried, 2 * step, least - limit
        above, kept = least - limit, 0
        for _ in range(
            STEPS
        ):  # false position; an end that stays counts half (Illinois; Dowell and Jarratt 1971)
            middle = inside + (outside - inside) * below / (below - above)
            near, least = self._minimise(near, (place, middle))
            if abs(least - limit) < CLOSE or abs(outside - inside) < CLOSE:
                break
            if least <= limit:
                inside, below, above = middle, least - limit, above / (2 if kept > 0 else 1)
                kept = 1
            else:
                outside, above, below = middle, least - limit, below / (2 if kept < 0 else 1)
                kept = -1
        return middle

    def _minimise(self, start: FloatArray, held: tuple[int, float] | None) -> tuple[FloatArray, float]:
        """Best logarithms of the variances, with one of them held where told."""
        from scipy.optimize import minimize

        logs = start.copy()
        moving = [k for k in range(logs.size) if held is None or k != held[0]]
        if held is not None:
            logs[held[0]] = held[1]

        def aim(at: FloatArray) -> tuple[float, FloatArray]:
            full = logs.copy()
            full[moving] = at
            variances = np.zeros(4)
            variances[self.free] = np.exp(full)
            try:
                value, slope = minus_two_log(self.cells, *(float(v) for v in variances))
            except np.linalg.LinAlgError:  # variances too far apart for double precision: not here
                return 1e12, 1e12 * (at - logs[moving])
            return value / self.told.size, slope[self.free][moving] / self.told.size

        if not moving:
            return logs, aim(np.empty(0))[0] * self.told.size
        found = minimize(
            aim,
            # Far below its guess a variance no longer matters, and the way back is flat: start above that.
            np.maximum(logs, self.guess - 3.0)[moving],
            jac=True,
            method="L-BFGS-B",
            bounds=[(LEAST, MOST)] * len(moving),
            options={"ftol": 1e-12, "gtol": 1e-7},
        )
        logs[moving] = found.x
        return logs, float(found.fun) * self.told.size


def lone_variance_limit(freedom: int) -> float:
    """What minus twice the log-likelihood of a lone variance exceeds, at the truth, with a chance of 5 %.

    The quantity is n (x - 1 - ln x) with n x chi-squared, n the degrees of freedom: 3.84 for many, more for few.
    """
    from scipy.special import gammainc

    def covered(limit: float) -> float:
        ends = []
        for outer in (-50.0, 50.0):  # logarithms of x at which the quantity passes the limit
            inner = 0.0
            for _ in range(60):
                middle = 0.5 * (inner + outer)
                beyond = freedom * (math.exp(middle) - 1 - middle) > limit
                inner, outer = (inner, middle) if beyond else (middle, outer)
            ends.append(float(gammainc(freedom / 2, freedom / 2 * math.exp(inner))))
        return ends[1] - ends[0]

    low, high = 3.0, 8.0
    for _ in range(40):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if covered(middle) < COVERAGE else (low, middle)
    return 0.5 * (low + high)


def _nothing(reason: str, values: int, left_out: int) -> Split:
    none = tuple(Component((name,), Figure.none(reason), 0) for name in NAMES)
    return Split(none, (), values, left_out)
