"""``sweepkit feedline``: measure a piece of line, and find where it is broken."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sweepkit.cli import log_place, options, reporting
from sweepkit.cli.delivery import deliver_page
from sweepkit.cli.exits import Exit
from sweepkit.cli.option_groups import Drawn, OptionGroup, Output, Reading, command
from sweepkit.cli.options import argument, option
from sweepkit.errors import BadInput

if TYPE_CHECKING:
    from sweepkit.feedline.loss_check import OwnRecord
    from sweepkit.feedline.swept import End
    from sweepkit.feedline.told import Told
    from sweepkit.findings import Finding
    from sweepkit.kit import Kit
    from sweepkit.lines import LinePiece
    from sweepkit.sweep import Sweep


@dataclass(frozen=True, kw_only=True)
class Stated(OptionGroup):
    """What is known of the piece beside its sweeps."""

    length: str | None = option("--length", 'Length by tape, such as "15 m".', "LEN")
    velocity_factor: float | None = option(
        "--velocity-factor", "In place of the length.", "V", limit="velocity_factor"
    )
    type_name: str | None = option("--type", "What it should be: a type, or a line of the kit.", "TYPE")
    end: list[str] | None = option(
        "--end", "What the far end was in each file, in their order.", "open|short|unknown|through"
    )
    piece: str | None = option("--piece", "Compare with its own record in the logbook.", "NAME")
    log: log_place.Log = None

    def told(self, gear: Kit) -> Told:
        """As the measurement takes it."""
        from sweepkit.feedline.told import Told
        from sweepkit.quantities import parse_length_m

        return Told(
            length_m=None if self.length is None else parse_length_m(self.length),
            velocity_factor=self.velocity_factor,
            piece=None if self.type_name is None else _piece(self.type_name, gear),
        )


@command
def feedline(
    *,
    files: list[Path] = argument("FILE...", "Sweeps of one piece of line."),
    stated: Stated,
    kit: options.Kit = None,
    drawn: Drawn,
    plot: Path | None = option("--plot", "Write the reflections along the first: PNG, SVG or PDF.", "FILE"),
    output: Output,
    units: options.Units = "metric",
    reading: Reading,
) -> Exit:
    """Measure a piece of line swept from one end, or between two ports: length, loss, faults."""
    from sweepkit.feedline.line_findings import find_line_faults
    from sweepkit.feedline.line_json import measurement_json
    from sweepkit.feedline.loss_check import check_against_record
    from sweepkit.feedline.measure import measure_line
    from sweepkit.kit import as_kit
    from sweepkit.report.line_page import line_page

    inputs = [*files, *([kit] if kit else []), *log_place.as_input(stated.log)]
    if plot is not None:
        reporting.check_plot(plot, inputs, force=output.force, one_answer=True)
    output.check(inputs)
    gear = as_kit(kit)
    told = stated.told(gear)
    swept, through = _swept(files, stated.end, reading.hints(gear))
    sweeps = [sweep for sweep, _ in swept]
    measured = measure_line(swept, told, through=through, **drawn.both())
    record = None if stated.piece is None else _own_record(stated.piece, stated.log, sweeps, told, drawn)
    changed = [] if record is None else check_against_record(measured, record)
    findings = [*_from_reading(sweeps), *changed, *find_line_faults(measured)]
    page = partial(
        line_page,
        measured,
        findings,
        sweeps,
        record=record,
        made=drawn.made(kit),
        imperial=units == "imperial",
    )
    return deliver_page(
        output,
        page,
        lambda: measurement_json(measured, findings, record),
        inputs,
        (plot, lambda path: reporting.plot_first(measured, sweeps, path, inputs, force=output.force)),
    )


def _own_record(
    name: str, log: Path | None, sweeps: list[Sweep], told: Told, drawn: Drawn
) -> OwnRecord | None:
    """The piece as the logbook has it; where it has none that is said."""
    from sweepkit.records.piece import own_record

    with log_place.open_named(log) as opened:
        record = own_record(opened, name, sweeps, told, **drawn.both())
    if record is None:
        log_place.say(
            f"the logbook has no earlier sweep of {name!r}; keep this one with "
            f"log add FILE --set piece={name!r}, and the next is compared with it"
        )
    return record


def _swept(
    files: list[Path], words: list[str] | None, hints: dict[str, Any]
) -> tuple[list[tuple[Sweep, End]], bool]:
    """Every sweep with its far end, and whether it is one between two ports."""
    from sweepkit.cli.files import STDIN, read_named
    from sweepkit.feedline.through import THROUGH, is_through, read_through

    through = (words or []) == [THROUGH] or (
        not words and len(files) == 1 and str(files[0]) != STDIN and is_through(files[0], **hints)
    )
    if through and len(files) == 1:
        return read_through(files[0], **hints), through
    ends = _ends(files, words)
    return [(read_named(path, **hints), end) for path, end in zip(files, ends, strict=True)], through


def _ends(files: list[Path], words: list[str] | None) -> list[End]:
    """The far end of each file; unknown for a single file without a word."""
    from sweepkit.feedline.swept import parse_end

    if not words and len(files) == 1:
        return ["unknown"]
    if len(words or []) != len(files):
        raise BadInput(
            f"{len(files)} files and {len(words or [])} --end; each file needs one; "
            "write FILE --end open FILE --end short"
        )
    return [parse_end(word) for word in words or []]


def _piece(type_name: str, gear: Kit) -> LinePiece:
    """The operator's record of this line, else a catalogued type."""
    from sweepkit.lines import catalogued_piece

    return gear.lines[type_name] if type_name in gear.lines else catalogued_piece(type_name, 1.0)


def _from_reading(sweeps: list[Sweep]) -> list[Finding]:
    """What the readers had to say, once."""
    return list(dict.fromkeys(finding for sweep in sweeps for finding in sweep.findings))
