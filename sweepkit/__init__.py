"""sweepkit: field antenna sweeps turned into decisions.

The package reads in the order in which the data flow (docs/architecture.md):

readers -> sweep -> feedline -> instrument (draws) -> analysis -> review, trim -> logbook -> comparison
-> report, plots -> cli

Importing it loads nothing heavy; the names below load what they need when they are first used.
"""

from importlib import import_module
from typing import Any

__version__ = "0.1.0"

_HOMES = {
    "read_network": "sweepkit.readers",
    "read_sweep": "sweepkit.readers",
    "compare": "sweepkit.comparison",
    "review": "sweepkit.reviews",
    "plan_trim": "sweepkit.trim.from_sweep",
    "Sweep": "sweepkit.sweep",
    "SweepkitError": "sweepkit.errors",
    "UnreadableFile": "sweepkit.errors",
}
__all__ = [
    "Sweep",
    "SweepkitError",
    "UnreadableFile",
    "__version__",
    "compare",
    "plan_trim",
    "read_network",
    "read_sweep",
    "review",
]


def __getattr__(name: str) -> Any:
    """Load a public name from its module at first use (PEP 562)."""
    if name not in _HOMES:
        raise AttributeError(f"module 'sweepkit' has no attribute {name!r}")
    return getattr(import_module(_HOMES[name]), name)
