"""What is told of a tapped whip and wanted of it, and its settings of before."""

from __future__ import annotations

from dataclasses import dataclass, field

from sweepkit.antennas.loaded_whip import KIND
from sweepkit.antennas.which import choose_dip
from sweepkit.errors import BadInput
from sweepkit.quantities import length_text
from sweepkit.several_bands.answer import Aim
from sweepkit.several_bands.whip_model import Coil, Ground
from sweepkit.trim.dip import DipEnsemble


@dataclass(frozen=True)
class WhipWish:
    """What is told of the whip and wanted of it; ``tap`` is ``None`` where nothing is tapped. [m]"""

    length_m: float
    aim: Aim
    tap: float | None = None
    turns: float | None = None
    tap_step: float = 1.0
    whip_range_m: tuple[float, float] | None = None
    coil: Coil = field(default_factory=Coil)
    ground: Ground = field(default_factory=Ground)
    one_length: bool = False

    def __post_init__(self) -> None:
        if self.tap is not None:
            refuse_tap(self.tap, self.turns, self.tap_step)
        if self.whip_range_m is not None:
            low, high = self.whip_range_m
            if not low - 1e-9 <= self.length_m <= high + 1e-9:
                raise BadInput(
                    f"the whip is {length_text(self.length_m)} long, outside its range of {length_text(low)} to "
                    f"{length_text(high)}; check --length and --whip-range"
                )

    @property
    def taps(self) -> list[float | None]:
        """Every tap there is, fewest turns first."""
        if self.tap is None or self.turns is None:
            return [None]
        count = int(self.turns / self.tap_step + 1e-9)
        return [round(k * self.tap_step, 6) for k in range(1, count + 1)]

    @property
    def reach_m(self) -> tuple[float, float]:
        """Shortest and longest whip."""
        return self.whip_range_m or (self.length_m, self.length_m)


def refuse_tap(tap: float, turns: float | None, step: float) -> None:
    """A tap that is not on the coil."""
    if turns is None:
        raise BadInput(
            "--tap is told without --turns; how many turns the coil has was expected; add --turns N"
        )
    if not step > 0 or not turns > 0:
        raise BadInput(
            f"--turns is {turns:g} and --tap-step {step:g}; both above 0 were expected; check them"
        )
    if not 0 < tap <= turns:
        raise BadInput(
            f"tap {tap:g} is not on a coil of {turns:g} turns; one above 0, at most {turns:g}, was expected; "
            "check --tap and --turns"
        )
    if abs(tap / step - round(tap / step)) > 1e-6:
        raise BadInput(
            f"tap {tap:g} lies between the steps of {step:g}; a multiple was expected; check --tap and --tap-step"
        )


@dataclass(frozen=True, eq=False)
class EarlierSetting:
    """Dips of an earlier sweep with its tap and whip. [m]"""

    dips: tuple[DipEnsemble, ...]
    tap: float | None
    whip_m: float

    @property
    def dip(self) -> DipEnsemble | None:
        """The dip that is a whip's of this length."""
        if not self.dips:
            return None
        number = choose_dip(KIND, self.whip_m, [dip.measured_hz for dip in self.dips]).number
        return self.dips[number or 0]


@dataclass(frozen=True)
class UsedSetting:
    """A setting of the logbook: its dip [Hz], tap, whip [m], setup and when."""

    dip_hz: float
    tap: float | None
    whip_m: float
    setup: str
    when: str
    r_ohm: float | None = None
    swr: float = 1.5
    sigma: float = 1e-3
