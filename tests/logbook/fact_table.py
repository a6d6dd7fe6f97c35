"""The table of facts in docs/logbook.md.

python -m tests.logbook.fact_table
"""

from __future__ import annotations

from sweepkit.logbook.fields import FIELDS


def render() -> str:
    lines = ["| word | of | meaning | taken over from the last setup |", "|---|---|---|---|"]
    for field in FIELDS:
        words = f": {', '.join(field.words)}" if field.words else ""
        lines.append(f"| `{field.key}` | {field.level} | {field.meaning}{words} | {field.carried} |")
    return "\n".join(lines)


if __name__ == "__main__":
    print(render())
