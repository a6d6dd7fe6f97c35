"""Figure: a value with its 95 % coverage interval, or no value with a reason."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from sweepkit.plain_types import IF_KNOWN, Plain

COVERAGE_QUANTILES = (0.025, 0.975)  # probabilistically symmetric 95 % interval, JCGM 101:2008, 7.7
QUANTILE_METHOD: Literal["weibull"] = "weibull"  # p(n + 1): right for any number of draws
LEAST_ANSWERED_SHARE = 0.5  # below this share of draws with an answer, the figure has none


@dataclass(frozen=True)
class Figure(Plain):
    """One number a person may act on.

    Parameters
    ----------
    value : float or None
        Nominal value; ``None`` where there is no answer.
    low, high : float or None
        Ends of the 95 % coverage interval; ``None`` without draws.
    reason : str or None
        Why there is no answer. Required where ``value`` is ``None``, forbidden elsewhere.
    """

    value: float | None
    low: float | None = None
    high: float | None = None
    reason: str | None = field(default=None, metadata=IF_KNOWN)

    def __post_init__(self) -> None:
        if (self.value is None) != (self.reason is not None):
            raise ValueError(
                f"value is {self.value} and reason is {self.reason!r}; exactly one must be given"
            )
        if (self.low is None) != (self.high is None):
            raise ValueError("low and high come together or not at all")
        if self.value is None:
            if self.low is not None:
                raise ValueError("a figure without a value has no interval")
            return
        if not math.isfinite(self.value):
            raise ValueError(f"value is {self.value}; it must be finite")
        if self.low is not None and self.high is not None and not self.low <= self.value <= self.high:
            raise ValueError(f"low {self.low}, value {self.value}, high {self.high} are not in order")

    def __str__(self) -> str:
        """``1.52 (1.46 to 1.59)`` in SI units; why, where there is no answer."""
        if self.value is None:
            return f"no answer: {self.reason}"
        if self.low is None or self.high is None:
            return f"{self.value:.6g}"
        width = self.high - self.low
        digits = max(0, 1 - math.floor(math.log10(width))) if width > 0 else 6
        return f"{self.value:.{digits}f} ({self.low:.{digits}f} to {self.high:.{digits}f})"

    def text(self, form: str, unit: str = "", *, scale: float = 1.0) -> str:
        """``0.62 (0.51 to 0.74) dB``; why, where there is no answer.

        Parameters
        ----------
        form : str
            How each number is written, such as ``".2f"``.
        unit : str
            Written last; empty for none.
        scale : float
            From the figure's own unit to this one. [-]
        """
        if self.value is None:
            return self.reason or ""
        ends = (
            ""
            if self.low is None or self.high is None
            else f" ({self.low * scale:{form}} to {self.high * scale:{form}})"
        )
        return f"{self.value * scale:{form}}{ends} {unit}".rstrip()

    def _repr_markdown_(self) -> str:
        """In a notebook."""
        return str(self)

    @classmethod
    def none(cls, reason: str) -> Figure:
        """No answer, and why."""
        return cls(None, reason=reason)

    @classmethod
    def from_draws(
        cls, values: NDArray[np.float64], *, reason: str | Callable[[], str], wall: float | None = None
    ) -> Figure:
        """Value and interval from an ensemble whose first member is the nominal one.

        Parameters
        ----------
        values : float array, shape (draws,)
            Nominal value first; NaN where a draw has no answer.
        reason : str or callable
            What to say when there is no answer; called only then.
        wall : float, optional
            A bound the quantity cannot pass. An end of the interval that is ten times nearer to it than to
            the median is set to it: draws round a value at the bound never reach it themselves.

        Returns
        -------
        Figure
            No answer when the nominal member has none, or more than half of the others have none.
            With only the nominal member: a value without interval.
        """
        nominal = float(values[0])
        if not math.isfinite(nominal):
            return cls.none(reason if isinstance(reason, str) else reason())
        drawn = values[1:]
        if drawn.size == 0:
            return cls(nominal)
        answered = drawn[np.isfinite(drawn)]
        if answered.size < LEAST_ANSWERED_SHARE * drawn.size:
            share = answered.size / drawn.size
            words = reason if isinstance(reason, str) else reason()
            return cls.none(f"{words} (only {share:.0%} of equally believable sweeps have an answer)")
        count = answered.size
        ends = (count * share + share - 1 for share in COVERAGE_QUANTILES)  # QUANTILE_METHOD
        low, high, median = _in_order(answered, (*ends, (count - 1) / 2))
        if wall is not None:
            low = wall if 0 <= low - wall <= 0.1 * (median - low) else low
            high = wall if 0 <= wall - high <= 0.1 * (high - median) else high
        return cls(nominal, min(low, nominal), max(high, nominal))

    def mapped(self, function: Callable[[float], float]) -> Figure:
        """The figure of another quantity that rises with this one.

        Parameters
        ----------
        function : callable
            Rising over the interval; applied to value, low and high.
        """
        if self.value is None:
            return self
        if self.low is None or self.high is None:
            return Figure(function(self.value))
        return Figure(function(self.value), function(self.low), function(self.high))

    def widened(self, sigma: float) -> Figure:
        """The same value where its unit, too, is known to a share only, one sigma; the errors add in squares."""
        if self.value is None or self.low is None or self.high is None or not sigma:
            return self
        unit = 1.96 * sigma * abs(self.value)
        low, high = (math.hypot(end - self.value, unit) for end in (self.low, self.high))
        lowest = 0.0 if self.low >= 0 else -math.inf  # no unit turns a sign
        return Figure(self.value, max(self.value - low, lowest), self.value + high)

    def scaled(self, factor: float) -> Figure:
        """The same figure in another unit.

        Parameters
        ----------
        factor : float
            Multiplies value and interval; a negative one swaps the ends. [-]
        """
        if self.value is None:
            return self
        if self.low is None or self.high is None:
            return Figure(self.value * factor)
        ends = sorted((self.low * factor, self.high * factor))
        return Figure(self.value * factor, ends[0], ends[1])

    @classmethod
    def from_json(cls, document: Mapping[str, Any]) -> Figure:
        """A figure from :meth:`to_json`.

        Parameters
        ----------
        document : mapping
            ``value``, ``low``, ``high`` and, where there is no answer, ``reason``.

        Raises
        ------
        KeyError, TypeError, ValueError
            It is no figure.
        """
        value, low, high = document["value"], document["low"], document["high"]
        return cls(
            None if value is None else float(value),
            None if low is None else float(low),
            None if high is None else float(high),
            document.get("reason"),
        )


def _in_order(values: NDArray[np.float64], places: tuple[float, ...]) -> list[float]:
    """Values at places of their order, counted from 0, on straight lines between: what ``np.quantile`` gives.

    That takes ten times as long for a thousand, and loads ``numpy.ma``.
    """
    last = values.size - 1
    held = [min(max(place, 0.0), float(last)) for place in places]
    around = [(int(place), min(int(place) + 1, last)) for place in held]
    sorted_there = np.partition(values, sorted({k for both in around for k in both}))
    found = []
    for place, (low, high) in zip(held, around, strict=True):
        one, other, share = float(sorted_there[low]), float(sorted_there[high]), place - low
        step = other - one
        found.append(one + step * share if share < 0.5 else other - step * (1 - share))
    return found
