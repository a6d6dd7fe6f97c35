"""sweepkit: field antenna sweeps turned into decisions.

Importing it loads nothing heavy; the names below load what they need when they are first used. Each takes a sweep or
the path of one, text with a unit or a number in SI units; each answer has ``to_json``, ``to_frame`` for pandas, and
shows itself in a notebook:

```python
import sweepkit

sweepkit.review("dip.s1p", lines="RG-58 15 m").to_frame("bands")
sweepkit.plan_trim("dip.s1p", kind="dipole", length="10.58 m", target="7.1 MHz").plan.first_move
```

The package reads in the order in which the data flow (docs/architecture.md):

readers -> sweep -> feedline -> instrument (draws) -> analysis -> reviews, trim, diagnosis -> logbook -> comparison
-> report, plots -> answers (behind the names below) -> cli
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sweepkit import plots
    from sweepkit.answers.bands import plan_bands
    from sweepkit.answers.comparison import compare
    from sweepkit.answers.diagnosis import diagnose
    from sweepkit.answers.line import measure_line
    from sweepkit.answers.review import review
    from sweepkit.answers.trim import plan_trim
    from sweepkit.errors import BadInput, SweepkitError, UnreadableFile
    from sweepkit.kit import Kit
    from sweepkit.logbook import open_logbook
    from sweepkit.readers import read_network, read_sweep
    from sweepkit.sweep import Sweep

__version__ = "0.7.0"

_HOMES = {
    "BadInput": "sweepkit.errors",
    "Kit": "sweepkit.kit",
    "Sweep": "sweepkit.sweep",
    "SweepkitError": "sweepkit.errors",
    "UnreadableFile": "sweepkit.errors",
    "compare": "sweepkit.answers.comparison",
    "diagnose": "sweepkit.answers.diagnosis",
    "measure_line": "sweepkit.answers.line",
    "open_logbook": "sweepkit.logbook",
    "plan_bands": "sweepkit.answers.bands",
    "plan_trim": "sweepkit.answers.trim",
    "read_network": "sweepkit.readers",
    "read_sweep": "sweepkit.readers",
    "review": "sweepkit.answers.review",
}
__all__ = [
    "BadInput",
    "Kit",
    "Sweep",
    "SweepkitError",
    "UnreadableFile",
    "__version__",
    "compare",
    "diagnose",
    "measure_line",
    "open_logbook",
    "plan_bands",
    "plan_trim",
    "plots",
    "read_network",
    "read_sweep",
    "review",
]


def __getattr__(name: str) -> Any:
    """Load a public name from its module at first use (PEP 562)."""
    if name == "plots":
        return import_module("sweepkit.plots")
    if name not in _HOMES:
        raise AttributeError(f"module 'sweepkit' has no attribute {name!r}")
    return getattr(import_module(_HOMES[name]), name)


def __dir__() -> list[str]:
    """The public names, for completion in a notebook."""
    return __all__
