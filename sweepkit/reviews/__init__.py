"""One sweep reviewed: figures at each plane, bands, and whether the sweep was good enough to say so.

``planes`` lays out what is known at the radio and at the feedpoint as ``view``s; ``plane`` and ``bands``
take the figures off them; ``adequacy`` judges the sweep itself and ``next_sweep`` says which one to take;
``health`` looks for bursts, steps and a curve that turns the wrong way, ``check_sweeps`` at the analyzer.
``review`` puts it together; ``repeats`` and ``setup`` make one answer of several sweeps; ``summary`` is what is
kept of an answer. The folder has the plural, since ``sweepkit.review`` is the function.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

from sweepkit.reviews.check_sweeps import CheckSweeps
from sweepkit.reviews.review import Review, review

if TYPE_CHECKING:
    from sweepkit.reviews.repeats import review_repeats
    from sweepkit.reviews.setup import review_setup
    from sweepkit.reviews.summary import Summary, summarise

_HOMES = {
    "Summary": "sweepkit.reviews.summary",
    "review_repeats": "sweepkit.reviews.repeats",
    "review_setup": "sweepkit.reviews.setup",
    "summarise": "sweepkit.reviews.summary",
}
__all__ = ["CheckSweeps", "Review", "Summary", "review", "review_repeats", "review_setup", "summarise"]


def __getattr__(name: str) -> Any:
    """What not every review needs is loaded at first use (PEP 562)."""
    if name not in _HOMES:
        raise AttributeError(f"module 'sweepkit.reviews' has no attribute {name!r}")
    return getattr(import_module(_HOMES[name]), name)
