"""All of the operator's gear as one frozen value."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from sweepkit.kit.analyzer import Analyzer
from sweepkit.kit.antenna import AntennaNote
from sweepkit.kit.bad_gear import BadGear
from sweepkit.kit.box import Box
from sweepkit.kit.radio import Radio
from sweepkit.kit.tuner import Tuner
from sweepkit.lines import LinePiece


@dataclass(frozen=True)
class Kit:
    """All of the operator's gear; ``Kit()`` is the stated defaults.

    Parameters
    ----------
    region : int or None
        ITU region 1, 2 or 3; ``None``: not told.
    lines : mapping of str to LinePiece
        The operator's lines by name.
    analyzer, radio : Analyzer, Radio
        Instrument and transmitter.
    tuner : Tuner or None
        ``None``: told that there is none.
    antennas : mapping of str to AntennaNote
        The operator's antennas by name.
    boxes : mapping of str to Box
        Transformers and chokes by name.
    given : frozenset of str
        Keys that the operator told, such as ``radio.power_w``; all others are defaults.
    path : str or None
        File it came from.
    """

    region: int | None = None
    lines: Mapping[str, LinePiece] = field(default_factory=dict)
    analyzer: Analyzer = field(default_factory=Analyzer)
    radio: Radio = field(default_factory=Radio)
    tuner: Tuner | None = field(default_factory=Tuner)
    antennas: Mapping[str, AntennaNote] = field(default_factory=dict)
    boxes: Mapping[str, Box] = field(default_factory=dict)
    given: frozenset[str] = frozenset()
    path: str | None = None

    def __post_init__(self) -> None:
        if self.region not in (None, 1, 2, 3):
            raise BadGear(
                f"region is {self.region!r}; an ITU region is 1, 2 or 3; write region = 2", key="region"
            )
        for name in ("lines", "antennas", "boxes"):
            object.__setattr__(self, name, MappingProxyType(dict(getattr(self, name))))
