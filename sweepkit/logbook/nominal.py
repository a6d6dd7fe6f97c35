"""Nominal figures of logged sweeps: without draws nothing is learned and nothing kept, so many go through together."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sweepkit.errors import SweepkitError, UnreadableFile
from sweepkit.logbook.computed import raw_bytes
from sweepkit.logbook.finding import sweeps_where
from sweepkit.logbook.raw import harmless_name
from sweepkit.logbook.reading import read_logged_kit, read_logged_sweep
from sweepkit.logbook.records import LoggedSweep, Setup
from sweepkit.logbook.reviewed import leave_out_figures, leave_out_sweep, line_and_place, numbers_where
from sweepkit.logbook.store import Logbook

if TYPE_CHECKING:
    from sweepkit.kit import Kit
    from sweepkit.reviews import Summary
    from sweepkit.reviews.many import Told
    from sweepkit.sweep import Sweep

READ_TOGETHER = 64  # files in a folder at a time; our own choice


def nominal_summaries(
    log: Logbook, *, antenna: str | None = None
) -> Iterator[tuple[LoggedSweep, Summary | None]]:
    """As ``summaries``, without draws: figures have no intervals, whatever is kept; none of them is kept."""
    from sweepkit.reviews import summarise
    from sweepkit.reviews.many import review_many

    numbers = log.read(lambda connection: numbers_where(connection, {"setup.antenna": antenna}))
    asked = _asked_by_setup(log)
    for (logged, _), answer in review_many(_read(log, numbers, asked), lambda one: one[1]):
        if isinstance(answer, UnreadableFile):
            leave_out_sweep(log, logged.id, answer)
        elif answer is None or isinstance(answer, SweepkitError):
            yield logged, None
        elif isinstance(answer, Exception):  # a fault of ours takes no other sweep along
            leave_out_figures(log, logged.id, answer)
            yield logged, None
        else:
            yield logged, summarise(answer)


_Asked = Callable[[LoggedSweep, "Sweep"], "Told"]
_Read = tuple[LoggedSweep, "Told | Exception"]


def _asked_by_setup(log: Logbook) -> _Asked:
    """What a review is told of a sweep; a kit is read once, and neighbours that are told the same share it."""
    from sweepkit.reviews.asked import ask_each

    kits: dict[str | None, Kit] = {}
    ask = ask_each()

    def kit_of(setup: Setup) -> Kit:
        if setup.kit_sha256 not in kits:
            kits[setup.kit_sha256] = read_logged_kit(log, setup)
        return kits[setup.kit_sha256]

    def asked(logged: LoggedSweep, swept: Sweep) -> Told:
        gear = kit_of(logged.setup)
        lines, place = line_and_place(logged, gear, swept)
        return swept, ask({"kit": gear, "lines": lines, "measured_at": place, "draws": 0})

    return asked


def _read(log: Logbook, numbers: list[int], asked: _Asked) -> Iterator[_Read]:
    """Sweeps with what a review is told of them, or why there is none."""
    for start in range(0, len(numbers), READ_TOGETHER):
        some = numbers[start : start + READ_TOGETHER]
        by_number = {logged.id: logged for logged in _found(log, some)}
        plain = _plain_sweeps(log, by_number.values())
        for logged in (by_number[number] for number in some if number in by_number):
            try:
                swept = plain.get(logged.id)
                yield logged, asked(logged, read_logged_sweep(log, logged) if swept is None else swept)
            except SweepkitError as error:
                yield logged, error


def _found(log: Logbook, some: list[int]) -> list[LoggedSweep]:
    return log.read(lambda connection: sweeps_where(connection, {"sweep.id": some}))


def _plain_sweeps(log: Logbook, some: Iterable[LoggedSweep]) -> Mapping[int, Sweep]:
    """Those that can be read side by side, by number; the others are read one by one."""
    from sweepkit.readers.side_by_side import read_side_by_side

    swept: dict[int, Sweep] = {}
    with tempfile.TemporaryDirectory(prefix="sweepkit-") as folder:
        places: dict[Any, list[tuple[LoggedSweep, str]]] = {}
        for logged in some:
            try:
                data = raw_bytes(log, logged)
            except UnreadableFile:
                continue  # named where it is read by itself
            path = Path(folder) / f"{logged.id}-{harmless_name(logged.name)}"
            path.write_bytes(data)
            if not logged.hints:
                place = logged.facts.get("measured_at", "unknown")
                places.setdefault(place, []).append((logged, str(path)))
        for place, files in places.items():
            read = read_side_by_side([path for _, path in files], measured_at=place)
            swept |= {logged.id: sweep for (logged, _), sweep in zip(files, read, strict=True) if sweep}
    return swept
