"""What a review is told of its sweeps, checked and resolved once for all of them."""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypedDict, Unpack

from sweepkit.bands import Band, read_bands
from sweepkit.conversions import ComplexArray
from sweepkit.errors import BadInput
from sweepkit.feedline.chain import LineChain
from sweepkit.findings import Finding
from sweepkit.instrument import DEFAULT_DRAWS
from sweepkit.kit import Analyzer, AntennaNote, Kit, as_kit, as_pieces, resolve_antenna
from sweepkit.lines import LinePiece
from sweepkit.reviews.check_sweeps import CheckSweeps
from sweepkit.reviews.planes import Planes, lay_out_planes
from sweepkit.station.outing import Outing
from sweepkit.sweep import Place, Sweep


class Told(TypedDict, total=False):
    """What :func:`sweepkit.reviews.review` takes beside its sweep."""

    kit: Kit | str | Path | None
    lines: Sequence[LinePiece | str] | None
    measured_at: Place
    region: int | None
    bands: tuple[Band, ...] | None
    swr_limit: float | None
    checks: CheckSweeps | None
    antenna: AntennaNote | str | None
    unplugged: Sweep | None
    draws: int
    seed: int
    spread: ComplexArray | None
    outing: Outing | None


@dataclass(frozen=True, eq=False)
class Asked:
    """The same, resolved."""

    kit: Kit
    chain: LineChain | None
    measured_at: Place
    bands: tuple[Band, ...]
    limit_swr: float
    checks: CheckSweeps | None
    antenna: AntennaNote | None
    unplugged: Sweep | None
    draws: int
    seed: int
    spread: ComplexArray | None
    outing: Outing | None

    def analyzer_over(self, sweep: Sweep) -> tuple[Analyzer, tuple[Finding, ...]]:
        """The analyzer as check sweeps show it over a sweep, and what is poor in them."""
        if self.checks is None:
            return self.kit.analyzer, ()
        return self.checks.judged_over(float(sweep.f_hz[0]), float(sweep.f_hz[-1]), self.kit.analyzer)

    def planes(self, sweeps: Sequence[Sweep], analyzer: Analyzer) -> list[Planes]:
        """The planes of sweeps that are alike."""
        z0_ohm = self.kit.radio.z0_ohm
        return lay_out_planes(
            sweeps,
            chain=self.chain,
            measured_at=self.measured_at,
            analyzer=analyzer,
            reference_ohm=z0_ohm,
            draws=self.draws,
            seed=self.seed,
            spread=self.spread,
            checks=() if self.checks is None else self.checks.known(z0_ohm),
            outing=self.outing,
        )


def ask(**told: Unpack[Told]) -> Asked:
    """What was told, checked; parameters and errors are those of :func:`sweepkit.reviews.review`."""
    if unknown := told.keys() - Told.__annotations__.keys():
        raise TypeError(f"unexpected keyword argument {min(unknown)!r}")
    kit = as_kit(told.get("kit"))
    swr_limit, lines, region = told.get("swr_limit"), told.get("lines"), told.get("region")
    bands, antenna = told.get("bands"), told.get("antenna")
    limit_swr = kit.radio.direct_swr if swr_limit is None else swr_limit
    if not 1 < limit_swr < math.inf:
        raise BadInput(f"the SWR limit is {limit_swr:g}; it must be above 1; write one like 2.0")
    return Asked(
        kit=kit,
        chain=None if lines is None else LineChain(as_pieces(lines, kit)),
        measured_at=told.get("measured_at", "unknown"),
        bands=bands if bands is not None else read_bands(region=kit.region if region is None else region),
        limit_swr=limit_swr,
        checks=told.get("checks"),
        antenna=resolve_antenna(antenna, kit) if isinstance(antenna, str) else antenna,
        unplugged=told.get("unplugged"),
        draws=told.get("draws", DEFAULT_DRAWS),
        seed=told.get("seed", 0),
        spread=told.get("spread"),
        outing=told.get("outing"),
    )


def ask_each() -> Callable[[dict[str, Any]], Asked]:
    """As ``ask`` for one sweep after the other; neighbours that are told the same go through together."""
    last: list[tuple[dict[str, Any], Asked]] = []

    def asked(told: dict[str, Any]) -> Asked:
        if not last or last[0][0] != told:
            last[:] = [(told, ask(**told))]
        return last[0][1]

    return asked


def alike(sweep: Sweep) -> Hashable:
    """The same for sweeps that :func:`sweepkit.reviews.review.review_alike` takes together."""
    return sweep.f_hz.tobytes(), sweep.phase, sweep.reference_ohm
