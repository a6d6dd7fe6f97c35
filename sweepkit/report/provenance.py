"""Where a report comes from: files with their hash, versions, kit, seed, command."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from sweepkit import __version__
from sweepkit.sweep import Sweep

PACKAGES = ("numpy", "scikit-rf", "matplotlib")
MOST_COMMENTS, MOST_COLUMNS = 12, 160  # remarks of a file that are shown


@dataclass(frozen=True)
class Made:
    """How an answer came about: command line, kit file and its bytes, draws and seed, date with zone."""

    command: str = ""
    kit: str = ""
    kit_bytes: bytes = b""
    draws: int = 0
    seed: int = 0
    when: str = ""


def list_provenance(sweeps: Sequence[Sweep], made: Made) -> tuple[tuple[str, str], ...]:
    """Names and values in the order they are shown."""
    rows: list[tuple[str, str]] = []
    for sweep in sweeps:
        source = sweep.source
        rows.append(("file", source.path or "made in Python"))
        if source.sha256:
            rows.append(("sha256", source.sha256))
        span = f"{sweep.f_hz[0] / 1e6:g} to {sweep.f_hz[-1] / 1e6:g} MHz"
        rows.append(
            (
                "read as",
                f"{source.reader}, {sweep.f_hz.size} points, {span}, reference {sweep.reference_ohm:g} ohm, "
                f"phase {sweep.phase}",
            )
        )
        rows += [("remark in the file", remark[:MOST_COLUMNS]) for remark in source.comments[:MOST_COMMENTS]]
    kit = (
        f"{made.kit} (sha256 {hashlib.sha256(made.kit_bytes).hexdigest()})" if made.kit else "none; defaults"
    )
    rows += [
        ("kit", kit),
        ("draws and seed", f"{made.draws}, {made.seed}"),
        ("versions", ", ".join([f"sweepkit {__version__}", *_versions()])),
    ]
    if made.command:
        rows.append(("command", made.command))
    if made.when:
        rows.append(("made", made.when))
    return tuple((name, _without_home(value)) for name, value in rows)


def _without_home(text: str) -> str:
    """Nobody who is sent a page needs to know where on the disk its maker lives."""
    try:
        home = str(Path.home())
    except RuntimeError:  # a user without a home
        return text
    return text.replace(home, "~") if len(home) > 1 else text


def _versions() -> list[str]:
    from importlib.metadata import PackageNotFoundError, version  # slow to load, and for pages only

    found = []
    for package in PACKAGES:
        try:
            found.append(f"{package} {version(package)}")
        except PackageNotFoundError:
            continue
    return found
