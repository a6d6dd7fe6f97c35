"""What kit and logbook know of a named antenna, and whether today's sweep is what it usually does."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sweepkit.findings import Finding
    from sweepkit.kit import Kit
    from sweepkit.reviews import Review

Facts = Mapping[str, Any]


def antenna_facts(name: str | None, gear: Kit, log: Path | None) -> Facts:
    """Facts of a named antenna, by the names of the logbook; empty where no name was given.

    Parameters
    ----------
    name : str or None
        The operator's own name.
    gear : Kit
        The operator's gear.
    log : Path or None
        A logbook; ``None``: the one in the current folder, if there is one.

    Raises
    ------
    BadInput
        Neither kit nor logbook knows the name.
    """
    if name is None:
        return {}
    from sweepkit.kit.choosing import resolve_antenna
    from sweepkit.logbook.defaults import kit_defaults

    logged = _logged_facts(name, log)
    told = kit_defaults(gear, name)
    if not told and not logged:
        resolve_antenna(name, gear)
    return {**logged, **told}


def _logged_facts(name: str, log: Path | None) -> dict[str, Any]:
    """Facts of the antenna's last setup and sweep."""
    from sweepkit.logbook import find_last, open_logbook

    path = logbook_path(log)
    if path is None:
        return {}
    with open_logbook(path) as opened:
        last = find_last(opened, antenna=name)
        if last is None:
            return {}
        return {**last.setup.facts, **(last.sweep.facts if last.sweep else {})}


def logbook_path(log: Path | None) -> Path | None:
    """The logbook that is meant; ``None`` where none was named and there is none in the current folder.

    Parameters
    ----------
    log : Path or None
        From ``--log`` or the environment.
    """
    from sweepkit.cli.log_place import DEFAULT_NAME

    path = log or Path(DEFAULT_NAME)
    return None if log is None and not path.exists() else path


def say_taken_over(name: str | None, facts: Facts) -> None:
    """Name on stderr the line that was taken over, so that nobody is surprised.

    Where the analyzer was is never taken over: it may be another place each time.

    Parameters
    ----------
    name : str or None
        Of the antenna.
    facts : mapping
        From :func:`antenna_facts`.
    """
    from sweepkit.cli.log_place import say

    if facts.get("line"):
        say(f"line taken over from what is known of {name}: {' + '.join(facts['line'])}")


def with_usual(
    review: Review, name: str | None, facts: Facts, *, log: Path | None, site: str | None
) -> Review:
    """The review with a finding on whether this is what the antenna usually does.

    Parameters
    ----------
    review : Review
        Of today's sweep.
    name : str or None
        The operator's own name of the antenna; without it, or without a logbook, nothing is added.
    facts : mapping
        From :func:`antenna_facts`.
    log : Path or None
        A logbook.
    site : str or None
        Where it stands today.
    """
    path = logbook_path(log)
    if name is None or path is None:
        return review
    from dataclasses import replace

    return replace(review, findings=(*review.findings, _usual(review, name, facts, path, site)))


def _usual(review: Review, name: str, facts: Facts, log: Path, site: str | None) -> Finding:
    from sweepkit.comparison import ComparedSetup, setups_from_log
    from sweepkit.comparison.today import judge_today
    from sweepkit.logbook import open_logbook
    from sweepkit.reviews import summarise

    with open_logbook(log) as opened:
        hashes = {sweep.source.sha256 for sweep in (review.sweep, *review.sweeps)}
        earlier = setups_from_log(opened, antennas=[name], without=hashes)
    today = ComparedSetup("today", _facts_today(facts, name, site), (summarise(review),))
    return judge_today(today, earlier)


def _facts_today(facts: Facts, name: str, site: str | None) -> dict[str, Any]:
    """What still holds: never the weather, and of the place only where it is the same."""
    from sweepkit.logbook.fields import BY_NAME

    allowed = ("always", "same site") if site is not None and site == facts.get("site") else ("always",)
    known = {key: value for key, value in facts.items() if BY_NAME[key].carried in allowed}
    return known | {"antenna": name} | ({} if site is None else {"site": site})
