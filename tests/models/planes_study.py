"""How often a line is seen in a sweep that was told as taken at the feedpoint, and how often one that is not there.

    python -m tests.models.planes_study tests/data/models/wide_antennas.npz 6 24     # seed, sweeps a row

Antennas of all portable kinds with their own boxes and chokes, through real lines and connectors, read by a real
analyzer (tests.models.set_ups), over the spans that operators take.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from sweepkit.feedline.likely import guess_line
from tests.models import wide_antennas
from tests.models.set_ups import LINE_CLASSES, Array, joint, make_coax, read_off

SPANS = ("close", "one band", "round a dip", "two octaves", "1 to 30 MHz", "1 to 60 MHz")
BANDS_HZ = (
    (1.8e6, 2.0e6),
    (3.5e6, 4.0e6),
    (5.25e6, 5.45e6),
    (7.0e6, 7.3e6),
    (10.1e6, 10.15e6),
    (14.0e6, 14.35e6),
)
BANDS_HZ = (*BANDS_HZ, (18.068e6, 18.168e6), (21.0e6, 21.45e6), (24.89e6, 24.99e6), (28.0e6, 29.7e6))


@dataclass(frozen=True)
class Drawn:
    """One sweep and what is true of it."""

    kind: str
    span: str
    line_class: str
    line_m: float
    f_hz: Array
    gamma: Array


def draw(
    antennas: list[wide_antennas.WideAntenna], seed: tuple[int, ...], span: str, line_class: str
) -> Drawn:
    """Any antenna with equal chance, swept over a span of that kind."""
    dice = np.random.default_rng(seed)
    antenna = antennas[int(dice.integers(len(antennas)))]
    box = int(dice.integers(2**31))
    z_of = lambda f_hz: antenna.z_ohm(f_hz, np.random.default_rng(box))  # noqa: E731
    f_hz = _grid(z_of, span, dice)
    z_ohm, line_m = z_of(f_hz), 0.0
    if LINE_CLASSES[line_class] is not None:
        types = ["RG-59", "RG-6"] if line_class == "75 ohm" else ["RG-58", "RG-213", "RG-174", "RG-8X"]
        line_m = float(dice.uniform(*LINE_CLASSES[line_class]))
        piece = make_coax(str(dice.choice(types)), line_m, dice)
        z_ohm = joint(f_hz, piece.seen_through(f_hz, joint(f_hz, z_ohm, dice)), dice)
    gamma = (z_ohm - 50) / (z_ohm + 50)
    gamma = read_off(f_hz, gamma, dice.uniform(0.0005, 0.002), dice, in_ohms=bool(dice.random() < 0.2))
    return Drawn(antenna.kind, span, line_class, line_m, f_hz, gamma)


def _grid(z_of, span: str, dice: np.random.Generator) -> Array:  # type: ignore[no-untyped-def]
    """Frequencies as operators take them."""
    points = int(dice.choice([101, 201, 401]))
    if span.startswith("1 to"):
        return np.linspace(1e6, 30e6 if "30" in span else 60e6, max(points, 201))
    dense_hz = np.linspace(1.7e6, 31e6, 6000)
    z_ohm = z_of(dense_hz)
    size = np.abs((z_ohm - 50) / (z_ohm + 50))
    lows = np.flatnonzero((size[1:-1] < size[:-2]) & (size[1:-1] <= size[2:]) & (size[1:-1] < 0.6)) + 1
    at = lows[0] if lows.size and dice.random() < 0.6 else dice.choice(lows) if lows.size else size.argmin()
    dip_hz = float(dense_hz[at])
    if span == "one band":
        low, high = min(BANDS_HZ, key=lambda band: abs(np.log(dip_hz / band[0])))
        out = dice.uniform(0.01, 0.05)
        return np.linspace(low * (1 - out), high * (1 + out), points)
    shares = {"close": (0.03, 0.07), "round a dip": (0.07, 0.22), "two octaves": (0.35, 0.5)}[span]
    low = dip_hz * (1 - dice.uniform(*shares))
    high = dip_hz * (1 + dice.uniform(*shares) * (2 if span == "two octaves" else 1))
    return np.linspace(max(low, 1e6), min(high, 60e6), points)


def sweeps(
    antennas: list[wide_antennas.WideAntenna], seed: int, span: str, line_class: str, count: int
) -> Iterator[Drawn]:
    """Of one span and one class of lines."""
    number = SPANS.index(span) * len(LINE_CLASSES) + list(LINE_CLASSES).index(line_class)
    return (draw(antennas, (seed, number, k), span, line_class) for k in range(count))


def main(path: Path, seed: int, count: int) -> None:
    antennas = wide_antennas.read(path)
    print("| span | line | likely / none seen / cannot say | likely by kind |\n|---|---|---|---|")
    for span in SPANS:
        for line_class in LINE_CLASSES:
            told: dict[str, Counter[str]] = {"all": Counter()}
            for one in sweeps(antennas, seed, span, line_class, count):
                answer = guess_line(one.f_hz, one.gamma).answer
                for key in ("all", one.kind):
                    told.setdefault(key, Counter())[answer] += 1
            every = told.pop("all")
            shares = " / ".join(f"{every[a] / count:.0%}" for a in ("likely", "none seen", "cannot say"))
            kinds = ", ".join(
                f"{kind} {each['likely']} of {each.total()}" for kind, each in sorted(told.items())
            )
            print(f"| {span} | {line_class} | {shares} | {kinds} |", flush=True)


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]))
