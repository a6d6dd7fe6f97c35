"""Which logbook a command means, opening it, what it knows of a named antenna, and the options of the log commands."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from sweepkit.cli.options import shared
from sweepkit.errors import UnreadableFile
from sweepkit.visible import visible

if TYPE_CHECKING:
    from sweepkit.cli.option_groups import Gear
    from sweepkit.kit import Kit
    from sweepkit.kit.known import KnownAntenna
    from sweepkit.lines import LinePiece
    from sweepkit.logbook import Logbook
    from sweepkit.sweep import Place

DEFAULT_NAME = "sweepkit.sqlite"
_named: set[Path] = set()  # found in a folder above, and said so

Log = Annotated[
    Path | None,
    shared("--log", f"The logbook; else {DEFAULT_NAME} here or above.", "PATH", envvar="SWEEPKIT_LOG"),
]
Settings = Annotated[
    list[str] | None,
    shared("--set", "One fact, say ground=wet; 'unknown' or nothing takes it back.", "KEY=VALUE"),
]
Antenna = Annotated[str | None, shared("--antenna", "Your own name of the antenna.", "NAME")]
Site = Annotated[str | None, shared("--site", "Your own name of the place.", "NAME")]
ExactPlace = Annotated[bool, shared("--exact-place", "Keep a locator finer than four characters.")]


def meant(log: Path | None) -> Path:
    """The logbook a command means: the one named, else the one here, else the nearest in a folder above.

    Returns: absolute where it was found above; never above the home folder. The one here where there is none yet.
    """
    here = Path(DEFAULT_NAME)
    if log is not None or here.exists():
        return log or here
    beyond_home = set(_home().parents)
    for folder in Path.cwd().parents:
        if folder in beyond_home:
            break
        if (folder / DEFAULT_NAME).is_file():
            return folder / DEFAULT_NAME
    return here


def is_there(log: Path | None) -> bool:
    """Whether there is a logbook to open; one that was named counts, so that its absence is said."""
    return log is not None or meant(log).exists()


def _home() -> Path:
    try:
        return Path.home().resolve()
    except RuntimeError:  # a user without a home
        return Path.cwd()


def open_named(log: Path | None, *, create: bool = False, is_quiet: bool = False) -> Logbook:
    """Open the logbook a command means; one that is made, and what is damaged in it, is named on stderr."""
    from sweepkit.cli.exits import say_left_out
    from sweepkit.logbook import open_logbook

    path = meant(log)
    is_new = create and not path.exists()

    def tell(text: str) -> None:
        if not is_quiet:
            say_left_out(UnreadableFile(text, path=str(path)))

    opened = open_logbook(path, create=create, tell=tell)
    if log is None and path.is_absolute() and path not in _named:
        _named.add(path)
        say(f"the logbook is {path}")
    if is_new:
        say(f"made the logbook {path.absolute()}")
    return opened


def as_input(log: Path | None) -> tuple[Path, ...]:
    """The logbook as a file that is read and so never written over; none where there is none."""
    path = meant(log)
    return (path,) if path.exists() else ()


def say(text: str) -> None:
    """A note on stderr, one line, harmless on any terminal."""
    print(f"sweepkit: note: {visible(text)}", file=sys.stderr)


def known_antenna(
    name: str | None, kit: Kit, log: Path | None, *, present: str | None = None
) -> KnownAntenna:
    """What kit and logbook know of it; nothing where no name was given, and no logbook is loaded then."""
    if name is None:
        from sweepkit.kit.known import KnownAntenna

        return KnownAntenna()
    from sweepkit.records.antenna import known_antenna as look_up

    if not is_there(log):
        return look_up(None, name, kit=kit)
    with open_named(log) as opened:
        return look_up(opened, name, kit=kit, present=present)


def line_and_place(known: KnownAntenna, kit: Kit, gear: Gear) -> tuple[tuple[LinePiece, ...] | None, Place]:
    """The line and where the sweep was measured: as the options say, else as the records know."""
    lines, place = gear.line_and_place(kit)
    if lines is None and known.facts.get("line"):
        lines = known.line(kit)
        _say_taken(known, "line")
    if place == "unknown" and known.measured_at != "unknown":
        place = known.measured_at
        _say_taken(known, "measured_at")
    return lines, place


def say_state(known: KnownAntenna) -> None:
    """Say where the logbook has the antenna set otherwise than the kit, and so was taken."""
    if not known.outdated:
        return
    from sweepkit.cli.log_shown import fact_text

    for name, in_kit in known.outdated.items():
        taken = fact_text(name, known.facts[name])
        say(f"{taken}, from setup {known.setup}, newer than the kit, which has {fact_text(name, in_kit)}")


def _say_taken(known: KnownAntenna, name: str) -> None:
    """Say what was taken over, and from where."""
    from sweepkit.cli.log_shown import fact_text

    say(f"not stated, so from {known.source(name)}: {fact_text(name, known.facts[name])}")
