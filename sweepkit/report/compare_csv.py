"""A comparison as a table: a row per setup, or per group, with each figure and the ends of its interval."""

from __future__ import annotations

from typing import Any

from sweepkit.comparison.answer import Comparison
from sweepkit.comparison.setups import SHOWN
from sweepkit.visible import cell


def compare_csv(comparison: Comparison) -> str:
    """The table as CSV with point and comma.

    Returns: UTF-8 text; cells without an answer are empty.
    """
    import pandas as pd

    rows: list[dict[str, Any]] = []
    for group in comparison.groups:
        row = {"group": cell(group.name), "n": group.n, "sites": group.sites}
        for name, figure in group.figures.items():
            row |= {name: figure.value, f"{name}_low": figure.low, f"{name}_high": figure.high}
        rows.append(row)
    for setup in () if rows else comparison.setups:
        texts = {"id": setup.id, "site": setup.site, "antenna": setup.antenna, "when": setup.when}
        row = {name: None if text is None else cell(text) for name, text in texts.items()}
        for name in SHOWN:
            figure = comparison.figures[setup.id][name]
            row |= {name: figure.value, f"{name}_low": figure.low, f"{name}_high": figure.high}
        rows.append(row)
    return str(pd.DataFrame(rows).to_csv(index=False, lineterminator="\n"))
