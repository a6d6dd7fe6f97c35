"""What the logbook has to hold a sweep against: the nearest earlier state of the same antenna."""

from sweepkit.records.against import say_against
from sweepkit.records.nearest import Nearest, find_nearest

__all__ = ["Nearest", "find_nearest", "say_against"]
