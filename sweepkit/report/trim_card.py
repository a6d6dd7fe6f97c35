"""A plan for one place on a card: the move, the dip now, where it goes, and the gravest finding."""

from __future__ import annotations

from sweepkit.quantities import frequency_text
from sweepkit.report.bands_card import folded
from sweepkit.report.card import COLUMNS, LINES
from sweepkit.report.trim_page import headline
from sweepkit.trim.answer import TrimPlan
from sweepkit.visible import visible


def trim_card(plan: TrimPlan, *, imperial: bool = False) -> str:
    """At most 8 lines of 40 columns.

    ``imperial``: feet and inches beside.
    """
    lines = folded(headline(plan, imperial=imperial))
    if plan.now_hz.value is not None:
        lines.append(f"dip now  {frequency_text(plan.now_hz.value)}")
    if plan.first_move.by != "none" and plan.after_first_move_hz.value is not None:
        lines.append(f"then     {frequency_text(plan.after_first_move_hz.value)}")
    lines.append(f"target   {frequency_text(plan.target_hz)}")
    lines += [
        f"{'!!' if finding.level == 'stop' else '!'} {finding.code}"
        for finding in plan.findings
        if finding.level != "note"
    ]
    return "\n".join(visible(line)[:COLUMNS].rstrip() for line in lines[:LINES])
