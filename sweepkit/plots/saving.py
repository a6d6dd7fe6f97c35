"""A figure to a file, its kind by the ending of the name."""

from __future__ import annotations

import io
import os
from pathlib import Path
from typing import TYPE_CHECKING

from sweepkit.errors import BadInput
from sweepkit.saving import check_target, save_bytes

if TYPE_CHECKING:
    from matplotlib.figure import Figure

KINDS = ("png", "svg", "pdf")
DOTS_PER_INCH = 150


def check_plot_path(path: Path, *, force: bool, inputs: tuple[str, ...] = ()) -> None:
    """Refuse a path that no plot can be written to, before the work is done: png, svg or pdf, and free."""
    if path.suffix.lower().lstrip(".") not in KINDS:
        raise BadInput(f"a plot ends in .{', .'.join(KINDS)}; name it so", path=str(path))
    check_target(path, force=force, inputs=inputs)


def save_figure(
    figure: Figure, path: str | os.PathLike[str], *, force: bool = False, inputs: tuple[str, ...] = ()
) -> None:
    """Write a figure; the same figure gives the same bytes.

    Parameters
    ----------
    figure : matplotlib Figure
        What to write.
    path, force, inputs
        As for :func:`check_plot_path`.
    """
    path = Path(path)
    check_plot_path(path, force=force, inputs=inputs)
    kind = path.suffix.lower().lstrip(".")
    from matplotlib import rc_context

    undated = {"svg": {"Date": None}, "pdf": {"CreationDate": None}, "png": {}}[kind]
    buffer = io.BytesIO()
    with rc_context({"svg.hashsalt": "sweepkit"}):  # names inside an SVG are random otherwise
        figure.savefig(buffer, format=kind, dpi=DOTS_PER_INCH, metadata=undated)
    save_bytes(path, buffer.getvalue(), force=force, inputs=inputs)
