"""Every refusal the readers can give, taken from their code: the table of docs/file-formats.md.

python -m tests.readers.refusals        # prints the table
"""

from __future__ import annotations

import ast
from pathlib import Path

READERS = Path(__file__).resolve().parents[2] / "sweepkit" / "readers"
KINDS = ("UnreadableFile", "NeedsHint", "NotASweep", "LikelyNoSweep", "BadInput", "kind", "ask")


def _text(node: ast.expr) -> str:
    """The words of a message; what is filled in stands as three dots."""
    if isinstance(node, ast.Constant):
        return str(node.value)
    if isinstance(node, ast.JoinedStr):
        return "".join(str(part.value) if isinstance(part, ast.Constant) else "…" for part in node.values)
    return ""


def refusals() -> list[tuple[str, str, str]]:
    """What was found, what was expected, what to do; each message once, in order."""
    rows = set()
    for path in sorted(READERS.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not (isinstance(node, ast.Raise) and isinstance(node.exc, ast.Call) and node.exc.args):
                continue
            if getattr(node.exc.func, "id", "") not in KINDS:
                continue
            parts = [part.strip() for part in _text(node.exc.args[0]).split(";", 2)]
            if len(parts) >= 2:
                rows.add((parts[0], parts[1], parts[2] if len(parts) > 2 else ""))
    return sorted(rows)


def render() -> str:
    lines = ["| found | expected | what to do |", "|---|---|---|"]
    lines += ["| " + " | ".join(part.replace("|", "\\|") for part in row) + " |" for row in refusals()]
    return "\n".join(lines)


if __name__ == "__main__":
    print(render())
