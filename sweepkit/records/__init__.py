"""What the logbook has to hold a sweep against: an antenna's last setup, its nearest earlier state, a wire's past."""

from sweepkit.records.against import say_against
from sweepkit.records.antenna import known_antenna, standing_facts
from sweepkit.records.baseline import find_baseline
from sweepkit.records.nearest import Nearest, find_nearest
from sweepkit.records.past import own_wavelengths, past_of
from sweepkit.records.piece import own_record
from sweepkit.records.settings import logged_lengths, logged_settings

__all__ = [
    "Nearest",
    "find_baseline",
    "find_nearest",
    "known_antenna",
    "logged_lengths",
    "logged_settings",
    "own_record",
    "own_wavelengths",
    "past_of",
    "say_against",
    "standing_facts",
]
