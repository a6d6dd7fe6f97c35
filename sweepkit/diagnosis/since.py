"""A diagnosis as one finding, for a review that has an earlier sweep of the antenna to be held against."""

from __future__ import annotations

from sweepkit.diagnosis.answer import Diagnosis
from sweepkit.diagnosis.wording import CAUSES
from sweepkit.findings import Finding

AS_USUAL, LIKELY = "nothing-wrong-since", "likely-cause"


def finding_since(diagnosis: Diagnosis, *, since: str, usual: str) -> Finding | None:
    """The strongest cause, or that all is as usual; ``None`` where the diagnosis names neither.

    ``since`` is the earlier sweep in words, ``usual`` what "as usual" is meant for: ``"for wet ground here"``.
    """
    nothing = round(100 * diagnosis.nothing_wrong)
    if diagnosis.changed == "no":
        text = f"as usual{f' {usual}' if usual else ''}; since {since}: {nothing} % that nothing is wrong"
        return Finding(AS_USUAL, "note", text, "")
    if not diagnosis.hypotheses:
        return None
    cause = diagnosis.hypotheses[0]
    text = f"{100 * cause.weight:.0f} % {CAUSES[cause.code].title}; since {since}; {nothing} % nothing wrong"
    return Finding(LIKELY, "warning" if diagnosis.changed == "yes" else "note", text, cause.next_step)
