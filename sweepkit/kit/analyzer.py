"""The instrument that swept."""

from __future__ import annotations

import math
from dataclasses import dataclass

from sweepkit.facts import IN_KIT
from sweepkit.kit.bad_gear import refuse_unless, refuse_untrue

Size = float | tuple[float, float]  # an rms size, or the range in which it lies, even in dB [-]

# Hand-held analyzers after open, short and load, from plain to good ones; common practice, no source.
UNTOLD_DIRECTIVITY_DB = (35.0, 46.0)
UNTOLD_DIRECTIVITY = (10 ** (-46 / 20), 10 ** (-35 / 20))
UNTOLD_OUTER = (10 ** (-40 / 20), 10 ** (-30 / 20))  # source match, and tracking


@dataclass(frozen=True)
class Analyzer:
    """The instrument that swept.

    Parameters
    ----------
    directivity_db : float or None
        Effective directivity after calibration, rms, above 0 and at most 100; ``None``: 35 to 46. [dB]
    noise : float or None
        Rms of the complex noise on the reflection coefficient; ``None``: estimated from the sweep. [-]
    points : tuple of int, or None
        Numbers of points it can sweep, rising; ``None``: any.
    spans_hz : tuple of float, or None
        Widths it can sweep, rising; ``None``: any. [Hz]
    tracking : float or None
        Rms of the reflection tracking error as a fraction of the reflection; ``None``: 0.01 to 0.032. [-]
    source_match_db : float or None
        Effective source match, rms, above 0; ``None``: 30 to 40. [dB]
    columns, unit, decimal, reference_ohm : str, str, str, float, or None
        What its files leave open, as the hints of :func:`sweepkit.read_sweep` say it.

    Raises
    ------
    BadGear
        A value that no analyzer has.
    """

    directivity_db: float | None = None
    noise: float | None = None
    points: tuple[int, ...] | None = None
    tracking: float | None = None
    source_match_db: float | None = None
    spans_hz: tuple[float, ...] | None = None
    columns: str | None = None
    unit: str | None = None
    decimal: str | None = None
    reference_ohm: float | None = None

    def __post_init__(self) -> None:
        refuse_untrue(self, IN_KIT["analyzer"])
        if self.points is not None:
            object.__setattr__(self, "points", tuple(sorted({int(n) for n in self.points})))
        if self.spans_hz is not None:
            object.__setattr__(self, "spans_hz", tuple(sorted(set(self.spans_hz))))
        told = self.columns
        refuse_unless(told is None or bool(told.strip(" ,")), "columns", told, "names", 'columns = "f,r,x"')

    @property
    def hints(self) -> dict[str, str | float]:
        """What its files leave open, by the names of the hints."""
        told = {name: getattr(self, name) for name in ("columns", "unit", "decimal", "reference_ohm")}
        return {name: value for name, value in told.items() if value is not None}

    @property
    def directivity(self) -> Size:
        """Size of the directivity error, as told or as usual. [-]"""
        return UNTOLD_DIRECTIVITY if self.directivity_db is None else 10 ** (-self.directivity_db / 20)

    @property
    def tracking_size(self) -> Size:
        """Size of the tracking error, as told or as usual. [-]"""
        return UNTOLD_OUTER if self.tracking is None else self.tracking

    @property
    def source_match(self) -> Size:
        """Size of the source match error, as told or as usual. [-]"""
        return UNTOLD_OUTER if self.source_match_db is None else 10 ** (-self.source_match_db / 20)


def rms_of(size: Size) -> float:
    """Rms over all sizes that an error may have. [-]"""
    low, high = size if isinstance(size, tuple) else (size, size)
    return low if low == high else math.sqrt((high**2 - low**2) / (2 * math.log(high / low)))
