"""The table of facts in docs/logbook.md.

python -m tests.logbook.fact_table
"""

from __future__ import annotations

from sweepkit.facts import LOGGED


def render() -> str:
    lines = ["| word | of | meaning | taken over from the last setup |", "|---|---|---|---|"]
    for fact in LOGGED:
        words = f": {', '.join(fact.words)}" if fact.words else ""
        lines.append(f"| `{fact.key}` | {fact.level} | {fact.meaning}{words} | {fact.carried} |")
    return "\n".join(lines)


if __name__ == "__main__":
    print(render())
