"""What the bench found as JSON, and as a block for kit.toml."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable
from typing import Any

from sweepkit.bench.measure import KNOWN_CHOKE, Bench
from sweepkit.figures import Figure
from sweepkit.plain_types import to_plain

SCHEMA = "sweepkit/bench/1"
ARRAY_COLUMNS = 38  # of an array in a block, which a terminal of forty columns takes
LEAST_TOLERANCE_DB = 0.01  # of the block: no resistor is better known


def bench_json(bench: Bench, *, name: str) -> dict[str, Any]:
    """The document of ``sweepkit bench``, under the operator's own name of the box."""
    return {
        "schema": SCHEMA,
        "box": bench.what,
        "ratio": bench.ratio,
        "exact": bench.exact,
        "loss_db": [
            {"f_hz": f_hz, **loss.to_json()} for f_hz, loss in zip(bench.f_hz, bench.loss_db, strict=False)
        ],
        "impedance": [
            {"f_hz": f_hz, "r_ohm": r.to_json(), "x_ohm": x.to_json()}
            for f_hz, r, x in zip(bench.f_hz, bench.r_ohm, bench.x_ohm, strict=True)
        ],
        "line": None
        if bench.line is None
        else {
            "f_hz": bench.line.middle_hz,
            **{k: figure.to_json() for k, figure in bench.line.figures().items()},
        },
        "kit": kit_block(bench, name=name),
        "findings": to_plain(bench.findings),
    }


def kit_block(bench: Bench, *, name: str) -> str:
    """A ``[boxes.NAME]`` of the same loss or choke, ``[lines.NAME]`` of an adapter; empty where there is none."""
    key = name if name.replace("-", "").replace("_", "").isalnum() and name.isascii() else _quoted(name)
    if bench.what == "choke":
        return _choke_block(bench, key)
    if bench.line is not None:
        return bench.line.block(key) if bench.line.is_line else ""
    if any(finding.code == "loss-contradicts" for finding in bench.findings):
        return ""
    known = [
        (f_hz, loss) for f_hz, loss in zip(bench.f_hz, bench.loss_db, strict=False) if loss.value is not None
    ]
    if not known:
        return ""
    rows = _array(f"[{f_hz / 1e6:.3f}, {loss.value:.2f}]" for f_hz, loss in known)
    wide = [
        (loss.high - loss.low) / 3.92 for _, loss in known if loss.low is not None and loss.high is not None
    ]
    lines = [f"[boxes.{key}]", f'ratio = "{bench.ratio:g}:1"', f"loss_db = {rows}"]
    if wide:
        lines.append(f"loss_tolerance_db = {max(max(wide), LEAST_TOLERANCE_DB):.2f}")
    return "\n".join(lines) + "\n"


def _choke_block(bench: Bench, key: str) -> str:
    rows = [
        f"[{f_hz / 1e6:.3f}, {max(r.value, 0.0):.0f}, {x.value:.0f}]"
        for f_hz, r, x in zip(bench.f_hz, bench.r_ohm, bench.x_ohm, strict=True)
        if r.value is not None and x.value is not None and is_known(r, x)
    ]
    if not rows:
        return ""
    return f"[boxes.{key}]\nchoke_ohm = {_array(rows)}\n"


def _array(rows: Iterable[str]) -> str:
    """An array of TOML on lines that a narrow terminal takes."""
    lines = textwrap.wrap(", ".join(row.replace(" ", "\0") for row in rows) + ",", ARRAY_COLUMNS)
    return "\n  ".join(["[", *lines]).replace("\0", " ") + "\n]"


def is_known(r_ohm: Figure, x_ohm: Figure) -> bool:
    """Whether the interval leaves more than an order of size."""
    wide = [one.high - one.low for one in (r_ohm, x_ohm) if one.high is not None and one.low is not None]
    size = abs(complex(r_ohm.value or 0.0, x_ohm.value or 0.0))
    return not wide or max(wide) <= 2 * KNOWN_CHOKE * size


def _quoted(name: str) -> str:
    escaped = name.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'
