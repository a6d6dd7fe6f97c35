"""Which parts of a spread the labels of the data can tell apart, and in plain words why not.

Two parts cannot be told apart when they would make the same pattern of likeness between the values. The pattern of a
factor is the matrix V that is 1 where two values share a level; the parts can be told apart exactly when the
patterns, seen from the common mean, are linearly independent. Their inner products tr(M Vj M Vk), M the centring
matrix, are counts of shared levels, so that no matrix of the size of the data is made.
Source: Searle, Casella, McCulloch, Variance Components, Wiley 1992, chapters 5 and 11 (MINQUE equations; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sweepkit.conversions import FloatArray

Labels = NDArray[np.intp]

FINE_TO_COARSE = ("instrument", "setup", "site", "antenna")
PLURALS = {"instrument": "sweeps", "setup": "setups", "site": "sites", "antenna": "antennas"}
ALIKE = 1e-9  # of a pattern's own square: rounding of sums of whole numbers
TOUCHED = 1e-6  # a coefficient smaller than this is none


@dataclass(frozen=True, eq=False)
class Design:
    """Labels of the values as whole numbers, and what they can tell apart."""

    labels: dict[str, Labels]  # level of each value, 0 to levels - 1, shape (n,), for all of FINE_TO_COARSE
    levels: dict[str, int]
    kept: tuple[str, ...]  # parts to fit; the finest of each group that cannot be told apart
    groups: tuple[tuple[str, ...], ...]  # parts that cannot be told apart, the kept one first
    freedom: dict[str, int]  # that speaks of each kept part

    def reason(self, name: str) -> str | None:
        """Why a part has no figure of its own, or ``None`` where it has one."""
        if self.levels[name] < 2:
            return f"all values are from one {name}" if name != "instrument" else "there is one value only"
        for group in self.groups:
            if name in group:
                return _why_alike(group)
        if name in self.kept and self.freedom[name] < 1:
            return f"there are too few {PLURALS[name]}: the other labels explain all that they differ by"
        return None


def read_design(antenna: Labels, site: Labels, setup: Labels, *, told: bool) -> Design:
    """See what the labels, levels 0 to levels - 1 of each value, can tell apart; a setup has one antenna and one
    site.

    ``told``: whether the variance of the instrument is known from elsewhere.
    """
    sweep = np.arange(setup.size)
    labels = {"instrument": sweep, "setup": setup, "site": site, "antenna": antenna}
    levels = {name: int(lab.max()) + 1 for name, lab in labels.items()}
    repeated = levels["setup"] < setup.size
    wanted = [
        n for n in FINE_TO_COARSE if levels[n] > 1 and not (n == "instrument" and told and not repeated)
    ]
    gram = _inner_products([labels[n] for n in wanted])
    kept: list[int] = []
    groups: dict[int, list[int]] = {}
    for k in range(len(wanted)):
        if kept:
            weights = np.linalg.lstsq(gram[np.ix_(kept, kept)], gram[kept, k], rcond=None)[0]
            left = gram[k, k] - weights @ gram[kept, k]
            if left <= ALIKE * gram[k, k]:
                touched = [j for j, w in zip(kept, weights, strict=True) if abs(w) > TOUCHED]
                groups.setdefault(touched[0], []).extend([*touched[1:], k])
                continue
        kept.append(k)
    return Design(
        labels,
        levels,
        tuple(wanted[k] for k in kept),
        tuple(tuple(wanted[j] for j in (first, *rest)) for first, rest in groups.items()),
        _freedom(labels, levels),
    )


def _inner_products(labels: list[Labels]) -> FloatArray:
    """Inner products of the centred patterns of likeness, shape (parts, parts)."""
    n = float(labels[0].size) if labels else 1.0
    mates = [np.bincount(lab).astype(np.float64)[lab] for lab in labels]  # values that share one's level
    gram = np.empty((len(labels), len(labels)))
    for j, first in enumerate(labels):
        for k, second in enumerate(labels):
            shared = np.unique(first * (int(second.max()) + 1) + second, return_counts=True)[1].astype(float)
            plain = np.sum(shared**2)
            gram[j, k] = plain - 2 / n * (mates[j] @ mates[k]) + mates[j].sum() * mates[k].sum() / n**2
    return gram


def _freedom(labels: dict[str, Labels], levels: dict[str, int]) -> dict[str, int]:
    """Independent contrasts between the levels of a part, freed of the parts that are not inside it."""
    sites, antennas = levels["site"], levels["antenna"]
    rank = antennas + sites - _islands(labels["antenna"], labels["site"])
    return {
        "instrument": labels["setup"].size - levels["setup"],
        "setup": levels["setup"] - rank,
        "site": sites - 1 if rank == antennas else rank - antennas,  # each antenna has seen one site only
        "antenna": antennas - 1 if rank == sites else rank - sites,
    }


def _islands(antenna: Labels, site: Labels) -> int:
    """Groups of antennas and sites without any antenna at two sites in common: each takes a mean of its own."""
    pairs = np.unique(np.stack([antenna, site]), axis=1)
    island = np.arange(int(antenna.max()) + 1)
    while True:
        at_site = np.full(int(site.max()) + 1, island.size)
        np.minimum.at(at_site, pairs[1], island[pairs[0]])
        smaller = island.copy()
        np.minimum.at(smaller, pairs[0], at_site[pairs[1]])
        if np.array_equal(smaller, island):
            return int(np.unique(island).size)
        island = smaller


def _why_alike(group: tuple[str, ...]) -> str:
    """In plain words, why the parts of a group look alike."""
    if set(group) == {"instrument", "setup"}:
        return "no setup was swept twice: what setups and what sweeps differ by cannot be told apart"
    if set(group) == {"site", "antenna"}:
        return "each antenna was at a site of its own: what antennas and what sites differ by cannot be told apart"
    names = [PLURALS[name] for name in group]
    listed = ", ".join(names[:-1]) + " and " + names[-1]
    if "setup" in group and len(group) > 1 and "instrument" not in group:
        return f"no two setups share what {listed} differ by: these cannot be told apart"
    return f"{listed} change together in these data: what they differ by cannot be told apart"
