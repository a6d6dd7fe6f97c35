"""The analyzer's residual errors from sweeps of its own load, open and short, taken after calibration.

They set the sizes of the errors that the draws carry, and say when the calibration should be done again. The check
standards are hardly better known than the calibration was, so without a line nothing is corrected with them; behind
one, what they read is held against what the sweep tells of the analyzer.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import log10
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.errors import BadInput
from sweepkit.findings import Finding
from sweepkit.kit import Analyzer
from sweepkit.sweep import Sweep

if TYPE_CHECKING:
    from sweepkit.station.linear import Check

LOAD_LIMIT_DB = 30.0  # a load that reads worse means a stale or bad calibration; common practice, no source
ENDS_LIMIT = 0.05  # open and short within this of +1 and -1; common practice, no source
BEST_LOAD_DB = 46.0  # a hand-held check load is hardly better itself; common practice, no source
USED_QUANTILE = 0.95  # of the residual over the range of the sweep
IDEAL = {"load": 0.0, "open": 1.0, "short": -1.0}
NO_SUCH_STANDARD = 0.5  # no calibration is so poor that a standard reads so far from its own mark [-]


@dataclass(frozen=True)
class CheckSweeps:
    """Sweeps of the check standards, each with phase, where the antenna is connected; any of them may be missing."""

    load: Sweep | None = None
    open: Sweep | None = None
    short: Sweep | None = None

    def __post_init__(self) -> None:
        for name in ("load", "open", "short"):
            sweep = getattr(self, name)
            if sweep is not None and sweep.gamma is None:
                raise BadInput(
                    f"the check sweep of the {name} has no phase; export it with phase",
                    path=sweep.source.path or None,
                )

    def known(self, reference_ohm: float) -> tuple[Check, ...]:
        """What they tell of the analyzer's errors, where their reference is that of the standards."""
        from sweepkit.station.linear import Check

        named = ((name, getattr(self, name)) for name in IDEAL)
        return tuple(
            Check(sweep.f_hz, sweep.gamma, IDEAL[name])
            for name, sweep in named
            if sweep is not None and sweep.reference_ohm == reference_ohm
        )

    def judged_over(
        self, low_hz: float, high_hz: float, analyzer: Analyzer
    ) -> tuple[Analyzer, tuple[Finding, ...]]:
        """The analyzer with measured error sizes, and what is wrong with it, over the range of a sweep.

        Raises ``BadInput``: a check sweep that does not overlap the range, or reads like another standard.
        """
        parts = {
            name: None if sweep is None else _within(sweep, name, low_hz, high_hz)
            for name, sweep in (("load", self.load), ("open", self.open), ("short", self.short))
        }
        load, open_end, short = parts["load"], parts["open"], parts["short"]
        faults = []
        if load is not None:
            worst = float(np.quantile(np.abs(load.gamma), USED_QUANTILE))
            size_db = -20 * log10(max(worst, 10 ** (-BEST_LOAD_DB / 20)))
            analyzer = replace(analyzer, directivity_db=size_db)
            if worst > 10 ** (-LOAD_LIMIT_DB / 20):
                read_db = -20 * log10(worst)
                faults.append(f"the load reads {read_db:.0f} dB return loss, {LOAD_LIMIT_DB:.0f} wanted")
        for name, part in (("open", open_end), ("short", short)):
            if part is not None:
                off = float(np.quantile(np.abs(part.gamma - IDEAL[name]), USED_QUANTILE))
                if off > ENDS_LIMIT:
                    faults.append(
                        f"the {name} is {off:.2f} away from {IDEAL[name]:+.0f}, {ENDS_LIMIT:g} allowed"
                    )
        if load is not None and open_end is not None and short is not None:
            tracking, source_match_db = _outer_terms(load, open_end, short)
            analyzer = replace(analyzer, tracking=tracking, source_match_db=source_match_db)
        return analyzer, tuple(_finding(faults)) if faults else ()


class _Part(NamedTuple):
    """The part of a check sweep that is used."""

    f_hz: FloatArray
    gamma: ComplexArray


def _within(sweep: Sweep, name: str, low_hz: float, high_hz: float) -> _Part:
    """The check sweep's points in the range, or the ones round it where it has few."""
    f_hz, gamma = sweep.f_hz, sweep.gamma
    if gamma is None:
        raise ValueError("a check sweep has phase")
    path = sweep.source.path or None
    if f_hz[0] > high_hz or f_hz[-1] < low_hz:
        raise BadInput(
            f"the check sweep of the {name} runs from {f_hz[0] / 1e6:g} to {f_hz[-1] / 1e6:g} MHz, outside the "
            f"sweep's {low_hz / 1e6:g} to {high_hz / 1e6:g} MHz; sweep it over the same range",
            path=path,
        )
    first = max(int(np.searchsorted(f_hz, low_hz)) - 1, 0)
    last = min(int(np.searchsorted(f_hz, high_hz)) + 1, f_hz.size)
    part = _Part(f_hz[first:last], gamma[first:last])
    if np.quantile(np.abs(part.gamma - IDEAL[name]), 0.5) > NO_SUCH_STANDARD:
        middle = complex(np.quantile(part.gamma.real, 0.5), np.quantile(part.gamma.imag, 0.5))
        raise BadInput(
            f"the check sweep of the {name} reads {middle.real:.2f}{middle.imag:+.2f}j; expected about "
            f"{IDEAL[name]:+.0f}; are the check files named the wrong way round?",
            path=path,
        )
    return part


def _outer_terms(load: _Part, open_end: _Part, short: _Part) -> tuple[float, float]:
    """Sizes of tracking and source match errors, first order in each, over the points of the open."""
    f_hz = open_end.f_hz
    short_gamma, load_gamma = (
        np.interp(f_hz, part.f_hz, part.gamma.real) + 1j * np.interp(f_hz, part.f_hz, part.gamma.imag)
        for part in (short, load)
    )
    tracking = float(np.quantile(np.abs((open_end.gamma - short_gamma) / 2 - 1), USED_QUANTILE))
    source_match = float(np.quantile(np.abs((open_end.gamma + short_gamma) / 2 - load_gamma), USED_QUANTILE))
    return min(tracking, 0.49), float(np.clip(-20 * log10(max(source_match, 1e-5)), 1.0, 100.0))


def _finding(faults: list[str]) -> list[Finding]:
    return [
        Finding(
            "poor-calibration",
            "warning",
            "; ".join(faults) + "; the intervals carry it",
            "radio off and disconnected: calibrate again at the connector the antenna goes to, then check again",
        )
    ]
