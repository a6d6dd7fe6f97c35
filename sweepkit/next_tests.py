"""Tests that an answer may ask for next, each with a stable code: what to do, and what to sweep then.

Of every test there is a sweep that can be given back (`--test CODE --test-sweep FILE`); what it says is for the
command that asked. Radio off and disconnected comes first in all of them.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from difflib import get_close_matches

from sweepkit.errors import BadInput

OFF = "radio off and disconnected: "

TESTS: Mapping[str, str] = {
    "antenna-unplugged": "take the antenna off the line and leave the far end open; sweep from the same place",
    "far-end-shorted": "take the antenna off the line and short the far end; sweep from the same place",
    "at-feedpoint": "sweep at the feedpoint, without the line",
    "wiggled": "wiggle each joint in turn, leave it, and sweep again",
    "check-load": "sweep the check load at the analyzer itself, over the same span",
    "swept-again": "touch nothing and sweep again",
    "plane-shorted": "put a short where the antenna was connected and sweep: it must read -1",
    "put-back": "put back what was changed last and sweep again",
    "coax-moved": "lay the coax another way, off the wire and the ground, and sweep again",
    "radials-clipped": "count the radials, clip each on again and sweep",
    "counterpoise-on": "clip on a counterpoise of 0.05 wavelengths and sweep",
    "tap-moved": "look which turn the tap is on, put it where it belongs and sweep",
    "wire-looked-along": "look along each wire, measure it with the tape, pull it free, and sweep again",
    "legs-metered": "look at both ends of the feedpoint, meter each leg to its end, and sweep again",
    "dried": "shake the water off or let it dry, then sweep again",
    "soil-as-before": "sweep again when the soil is as wet as it was at the good sweep",
    "cooled": "let it cool for ten minutes (ferrites may burn you) and sweep again",
}


def step_of_test(code: str) -> str:
    """What to do, beginning with the radio off."""
    return OFF + TESTS[code]


def check_told_test(code: str | None, *, has_sweep: bool, known: Collection[str] = tuple(TESTS)) -> None:
    """Refuse one of `--test` and `--test-sweep` alone, and a code the command does not know, with the near ones."""
    if code is None and has_sweep:
        raise BadInput(
            f"--test-sweep is given without --test; --test says which test it was: {', '.join(known)}"
        )
    if code is not None and code not in known:
        near = get_close_matches(code, known, n=3, cutoff=0.5)
        others = "known are" if not near else "the nearest is" if len(near) == 1 else "the nearest are"
        raise BadInput(f"--test is {code!r}, which is no test here; {others} {', '.join(near or known)}")
    if code is not None and not has_sweep:
        raise BadInput(f"--test {code} is given without --test-sweep; name the sweep that was made then")
