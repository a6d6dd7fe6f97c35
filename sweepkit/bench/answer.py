"""What the bench found as JSON, and as a block for kit.toml."""

from __future__ import annotations

from typing import Any

from sweepkit.bench.measure import Bench
from sweepkit.plain_types import to_plain

SCHEMA = "sweepkit/bench/1"
LEAST_TOLERANCE_DB = 0.01  # of the block: no resistor is better known


def bench_json(bench: Bench, *, name: str) -> dict[str, Any]:
    """The document of ``sweepkit bench``.

    Parameters
    ----------
    bench : Bench
        What was found.
    name : str
        The operator's own name of the box.
    """
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
        "kit": kit_block(bench, name=name),
        "findings": to_plain(bench.findings),
    }


def kit_block(bench: Bench, *, name: str) -> str:
    """A ``[boxes.NAME]`` that gives the same loss back; empty where none was found.

    Parameters
    ----------
    bench : Bench
        What was found.
    name : str
        The operator's own name of the box.
    """
    known = [
        (f_hz, loss) for f_hz, loss in zip(bench.f_hz, bench.loss_db, strict=False) if loss.value is not None
    ]
    if not known:
        return ""
    rows = ", ".join(f"[{f_hz / 1e6:.3f}, {loss.value:.2f}]" for f_hz, loss in known)
    wide = [
        (loss.high - loss.low) / 3.92 for _, loss in known if loss.low is not None and loss.high is not None
    ]
    key = name if name.replace("-", "").replace("_", "").isalnum() and name.isascii() else _quoted(name)
    lines = [f"[boxes.{key}]", f'ratio = "{bench.ratio:g}:1"', f"loss_db = [{rows}]"]
    if wide:
        lines.append(f"loss_tolerance_db = {max(max(wide), LEAST_TOLERANCE_DB):.2f}")
    return "\n".join(lines) + "\n"


def _quoted(name: str) -> str:
    escaped = name.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'
