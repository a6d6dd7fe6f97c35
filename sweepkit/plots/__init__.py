"""Figures: each plot is a function that returns a matplotlib Figure; ``saving`` writes it to a file.

matplotlib is loaded by the functions, not by the package; pyplot never. The names below load their module at first use.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sweepkit.plots.along_line import plot_along_line, plot_line
    from sweepkit.plots.one_sweep import plot_impedance, plot_return_loss, plot_swr
    from sweepkit.plots.overlay import plot_overlay
    from sweepkit.plots.radials import plot_radials
    from sweepkit.plots.repeats import plot_repeats
    from sweepkit.plots.saving import save_figure
    from sweepkit.plots.setup import plot_setup
    from sweepkit.plots.smith import plot_smith
    from sweepkit.plots.spread import plot_spread
    from sweepkit.plots.trimming import plot_trim

_HOMES = {
    "plot_along_line": "along_line",
    "plot_impedance": "one_sweep",
    "plot_line": "along_line",
    "plot_overlay": "overlay",
    "plot_radials": "radials",
    "plot_repeats": "repeats",
    "plot_return_loss": "one_sweep",
    "plot_setup": "setup",
    "plot_smith": "smith",
    "plot_spread": "spread",
    "plot_swr": "one_sweep",
    "plot_trim": "trimming",
    "save_figure": "saving",
}
__all__ = [
    "plot_along_line",
    "plot_impedance",
    "plot_line",
    "plot_overlay",
    "plot_radials",
    "plot_repeats",
    "plot_return_loss",
    "plot_setup",
    "plot_smith",
    "plot_spread",
    "plot_swr",
    "plot_trim",
    "save_figure",
]


def __getattr__(name: str) -> Any:
    """Load a plot from its module at first use (PEP 562)."""
    if name not in _HOMES:
        raise AttributeError(f"module 'sweepkit.plots' has no attribute {name!r}")
    return getattr(import_module(f"sweepkit.plots.{_HOMES[name]}"), name)


def __dir__() -> list[str]:
    """The public names, for completion in a notebook."""
    return __all__
