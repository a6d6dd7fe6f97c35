"""``sweepkit review``: one sweep or many, as text or JSON."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sweepkit.cli import log_place, options
from sweepkit.cli.exits import Exit
from sweepkit.cli.log_place import known_antenna, line_and_place, say, say_state
from sweepkit.cli.option_groups import Checks, Drawn, Gear, Output, Reading, TestMade, command
from sweepkit.cli.options import flag
from sweepkit.cli.review_options import Files, Joined, Judged, Named
from sweepkit.errors import BadInput
from sweepkit.facts import SETUP_FILE

if TYPE_CHECKING:
    from sweepkit.cli.files import Loaded
    from sweepkit.kit import AntennaNote, Kit
    from sweepkit.kit.known import KnownAntenna
    from sweepkit.logbook.setup_file import Folders
    from sweepkit.report.headline import ForTrim
    from sweepkit.report.page import Page
    from sweepkit.reviews import Review
    from sweepkit.sweep import Sweep

    NoteOf = Callable[[Sweep], AntennaNote | None]  # the antenna as it stood then

Answer = tuple["Loaded", "Review | None"]


@command
def review(
    *,
    files: options.Files,
    gear: Gear,
    named: Named,
    judged: Judged,
    joined: Joined,
    checks: Checks,
    tested: TestMade,
    written: Files,
    drawn: Drawn,
    output: Output,
    card: bool = flag("--card", "The verdict in 8 lines of 40 columns."),
    units: options.Units = "metric",
    reading: Reading,
) -> Exit:
    """Review sweeps: which bands you can use, where the antenna dips, and how sure that is."""
    from sweepkit.cli.files import load_sweeps
    from sweepkit.cli.review_output import Shown
    from sweepkit.kit import as_kit, assumed_in_short, list_assumptions

    kit = judged.on_supply(as_kit(gear.kit))
    antenna = known_antenna(named.antenna, kit, named.log)
    pieces, place = line_and_place(antenna, kit, gear)
    known = {
        "kit": kit,
        "lines": pieces,
        "measured_at": place,
        "bands": judged.wanted(kit),
        "swr_limit": judged.swr_limit,
        "checks": checks.read(kit),
        "antenna": antenna.note(kit, named.antenna),
        "unplugged": _unplugged(tested),
        **drawn.both(),
    }
    if antenna.facts_then(kit, named.antenna) == antenna.facts:
        say_state(antenna)
    inputs = [*files, *tested.inputs, *checks.inputs, *log_place.as_input(named.log)]
    written.check_plot(files, force=output.force, joined=bool(joined))
    output.check(inputs)
    written.check_tables(inputs, force=output.force)
    joined.check()

    def note_of(sweep: Sweep) -> AntennaNote | None:
        return antenna.of_sweep(sweep.source.sha256).note(kit, named.antenna)

    made = _answers(load_sweeps(files, **reading.hints(kit)), known, joined, note_of)
    if antenna.setup:
        made = ((each, one and _with_usual(one, antenna, named, kit)) for each, one in made)
    page = partial(
        _page,
        kit=kit,
        made=drawn.made(gear.kit) if output.explain or output.report else None,
        assumed=list_assumptions(kit, told=judged.told_keys),
        told=_told_again(gear, judged.region, named),
        known_antenna=partial(_for_the_next, antenna, kit, named),
        imperial=units == "imperial",
    )
    last = assumed_in_short(kit, told=judged.told_keys)
    shown = Shown(output, written, inputs, page, last, card=card, imperial=units == "imperial")
    return shown.deliver(made, files, joined=bool(joined), strict=judged.strict, named=judged.band)


def _answers(
    loaded: Iterator[Loaded], known: dict[str, Any], joined: Joined, note_of: NoteOf
) -> Iterator[Answer]:
    """A review of each file as it is asked for, or one of all."""

    beside = Beside()
    if joined:
        return iter(_one_answer(list(loaded), known, beside, note_of, as_repeats=joined.repeats))
    return _one_by_one(loaded, known, beside, note_of)


def _page(review: Review, *, known_antenna: Callable[[], ForTrim], **known: Any) -> Page:
    """The page of one; where a table alone is asked for, what makes pages is never loaded."""
    from sweepkit.report.review_page import review_page

    return review_page(review, antenna=known_antenna(), **known)


def _with_usual(review: Review, antenna: KnownAntenna, named: Named, kit: Kit) -> Review:
    """With a finding on whether this is what the antenna usually does."""
    from sweepkit.comparison.today import with_usual

    then = antenna.of_sweep(review.sweep.source.sha256).facts_then(kit, named.antenna)
    facts = {**then, "antenna": named.antenna}
    with log_place.open_named(named.log) as opened:
        return with_usual(review, facts, opened, kit=kit, site=named.site)


def _unplugged(tested: TestMade) -> Sweep | None:
    """The sweep of the one test whose answer a review can use."""
    from sweepkit.readers import read_sweep
    from sweepkit.reviews.unplugged import CODE

    tested.check((CODE,))
    return None if tested.test_sweep is None else read_sweep(tested.test_sweep)


def _for_the_next(antenna: KnownAntenna, kit: Kit, named: Named) -> ForTrim:
    """What the next command may take of the antenna."""
    from sweepkit.report.headline import ForTrim

    facts, own = antenna.facts, kit.antennas.get(named.antenna or "")
    planned, lengths = () if own is None else own.places, _bands_of(facts.get("lengths") or "")
    is_known = "kind" in facts and ("length_m" in facts or bool(lengths))
    name = named.antenna if named.antenna and is_known else ""
    note = antenna.note(kit, named.antenna)
    length_m = None if note is None else note.length_m
    return ForTrim(name, facts.get("kind", ""), planned or lengths, bool(planned), length_m)


def _bands_of(lengths: str) -> tuple[str, ...]:
    """The bands of logged lengths; none where they cannot be read: a command line is no matter to fail for."""
    if not lengths:
        return ()
    from sweepkit.several_bands.told import parse_logged_lengths_m

    try:
        return tuple(parse_logged_lengths_m(lengths))
    except BadInput:
        return ()


def _told_again(gear: Gear, region: int | None, named: Named) -> list[str]:
    """The options that the next command needs as well."""
    words = [word for piece in gear.line or [] for word in ("--line", piece)]
    log = named.log if named.antenna else None
    told = (("--measured-at", gear.measured_at), ("--kit", gear.kit), ("--log", log), ("--region", region))
    for name, value in told:
        words += [] if value is None else [name, str(value)]
    return words


def _one_by_one(
    loaded: Iterator[Loaded], known: dict[str, Any], beside: Beside, note_of: NoteOf
) -> Iterator[Answer]:
    """The review of each file in the order given; without one the file has an error, which has been said."""
    from sweepkit.cli.files import failed
    from sweepkit.reviews.asked import Asked, ask_each
    from sweepkit.reviews.many import review_many

    asked = ask_each()

    def told_of(each: Loaded) -> tuple[Sweep, Asked] | Exception | None:
        if each.sweep is None:
            return None
        # what is wrong in setup.toml is said once, not for every file
        told = beside.known_of(each.sweep, known) | {"antenna": note_of(each.sweep)}
        try:
            return each.sweep, asked(told)
        except Exception as error:
            return error

    for each, answer in review_many(loaded, told_of):
        if isinstance(answer, Exception):
            yield failed(each.path, answer), None
        else:
            yield each, answer


def _one_answer(
    loaded: list[Loaded], known: dict[str, Any], beside: Beside, note_of: NoteOf, *, as_repeats: bool
) -> list[Answer]:
    """One review of all files that could be read, then what could not."""
    from sweepkit.reviews import review_repeats, review_setup

    good = [each for each in loaded if each.sweep is not None]
    bad: list[Answer] = [(each, None) for each in loaded if each.sweep is None]
    if not good:
        return bad
    join = review_repeats if as_repeats else review_setup
    sweeps = [each.sweep for each in good if each.sweep is not None]
    told = beside.known_of_all(sweeps, known) | {"antenna": _one_note(sweeps, note_of)}
    return [(good[0], join(sweeps, **told)), *bad]


def _one_note(sweeps: list[Sweep], note_of: NoteOf) -> AntennaNote | None:
    """The antenna as it stood when they were swept; one that was changed between them is refused."""
    notes = [note_of(sweep) for sweep in sweeps]
    for sweep, note in zip(sweeps, notes, strict=True):
        if note != notes[0]:
            raise BadInput(
                "the antenna stood otherwise at this sweep than at the first, by the logbook; one answer needs it "
                "unchanged; review them one by one",
                path=sweep.source.path or None,
            )
    return notes[0]


class Beside:
    """What is told of each sweep of one command."""

    def __init__(self) -> None:
        self._folders: Folders | None = None
        self._said: set[str] = set()
        self._has_setup: dict[str, bool] = {}  # by folder

    def known_of(self, sweep: Sweep, known: dict[str, Any]) -> dict[str, Any]:
        """What a review of this sweep is told."""
        folder = os.path.dirname(sweep.source.path)
        if not sweep.source.path or not self._is_told(folder):
            return known
        from sweepkit.logbook.setup_file import Folders, told_to_review

        self._folders = self._folders or Folders()
        facts = self._folders.facts_beside(sweep) or {}
        told = told_to_review(facts, known)
        self._say(
            Path(folder, SETUP_FILE), [name for name in ("lines", "measured_at") if told[name] != known[name]]
        )
        return told

    def _is_told(self, folder: str) -> bool:
        """Whether something is told beside the files of a folder; looked up once."""
        if folder not in self._has_setup:
            self._has_setup[folder] = Path(folder, SETUP_FILE).is_file()
        return self._has_setup[folder]

    def known_of_all(self, sweeps: list[Sweep], known: dict[str, Any]) -> dict[str, Any]:
        """What one review of all of them is told; files beside which other lines or places are told are refused."""
        told = [self.known_of(sweep, known) for sweep in sweeps]
        for sweep, one in zip(sweeps, told, strict=True):
            if any(one[name] != told[0][name] for name in ("lines", "measured_at")):
                raise BadInput(
                    "setup.toml tells another line or place of this sweep than of the first; one answer needs "
                    "all alike; review them one by one",
                    path=sweep.source.path or None,
                )
        return told[0]

    def _say(self, file: Path, taken: list[str]) -> None:
        """Once for each file, on stderr."""
        if not taken or str(file) in self._said:
            return

        self._said.add(str(file))
        words = {"lines": "the line", "measured_at": "where it was measured"}
        say(f"not stated, so from {file}: {' and '.join(words[name] for name in taken)}")
