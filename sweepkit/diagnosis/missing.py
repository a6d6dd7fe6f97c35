"""What is missing for an answer, and what to do about it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from sweepkit.diagnosis.dip import has_antenna
from sweepkit.diagnosis.seen import Seen
from sweepkit.quantities import frequency_text
from sweepkit.reviews.review import Review

OTHER_ANTENNA = 70.0  # R and Q both twice or half: hardly the same antenna; common practice, no source [%]


def ask_for_another(alone: Review) -> str:
    """What to sweep next, where there is one sweep only."""
    f_hz = alone.sweep.f_hz
    span = f"{f_hz[0] / 1e6:g} to {f_hz[-1] / 1e6:g} MHz, {f_hz.size} points"
    return f"a good sweep of this antenna (--baseline); or change one thing and put it back: A, B and A again, {span}"


def find_unfit(reviews: Sequence[Review]) -> str | None:
    """Why sweeps cannot be compared at all; ``None`` where they can."""
    places = {one.sweep.measured_at for one in reviews} - {"unknown"}
    if len(places) > 1:
        return "one sweep was taken at the radio, another at the feedpoint; sweep both at the same place"
    for one in reviews:
        if any(finding.code == "jagged" and finding.level == "stop" for finding in one.findings):
            return f"{_name(one)} is too jagged to be compared; sweep it again with hands off"
    return None


def say_no_overlap(reviews: Sequence[Review]) -> str:
    """What is missing where sweeps have hardly a frequency in common."""
    spans = "; ".join(
        f"{_name(one)} {one.sweep.f_hz[0] / 1e6:g} to {one.sweep.f_hz[-1] / 1e6:g} MHz" for one in reviews
    )
    return (
        f"the sweeps have too few frequencies in common ({spans}); sweep the same span with the same points"
    )


def has_two_antennas_q(seen: Seen) -> bool:
    """Whether R and Q both differ as those of two antennas do.

    Coax and counterpoise that join an antenna may do that to R, and leave Q nearly as it was: in wire models of our
    own R goes to a third and to 2.2 times, Q by at most 18 %.
    """
    r, q = (abs(seen.parts[name].value) if name in seen.parts else 0.0 for name in ("r", "q"))
    return r > OTHER_ANTENNA and q > OTHER_ANTENNA


def doubt_sameness(before: Review, now: Review, seen: Seen) -> str | None:
    """What to say where it looks like two antennas, or where R and Q are missing; else ``None``."""
    if has_two_antennas_q(seen):
        return (
            "R and Q differ as those of two antennas do; if the one before is not this antenna nothing of this "
            "holds: name a good sweep of this one"
        )
    if seen.dip_kept is not False or not has_antenna(before) or not has_antenna(now):
        return None
    old, new = before.main_plane.dips[0].f_hz.value, now.main_plane.dips[0].f_hz.value
    return (
        f"the dips have nothing in common ({frequency_text(old or 0)}, now {frequency_text(new or 0)}); if the two are "
        "not the same antenna nothing of this holds: name a good sweep of this one"
    )


def _name(one: Review) -> str:
    return Path(one.sweep.source.path).name or "a sweep"
