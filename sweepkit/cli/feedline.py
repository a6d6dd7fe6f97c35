"""``sweepkit feedline``: measure a piece of line, and find where it is broken."""

from __future__ import annotations

from contextlib import nullcontext
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sweepkit.cli import log_place, options, reporting
from sweepkit.cli.exits import Exit
from sweepkit.cli.option_groups import Drawn, OptionGroup, Output, Reading, command
from sweepkit.cli.options import argument, option
from sweepkit.cli.reporting import deliver_page

if TYPE_CHECKING:
    from sweepkit.feedline.swept import End
    from sweepkit.feedline.told import Told
    from sweepkit.kit import Kit
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
        from sweepkit.answers.line import piece_named
        from sweepkit.feedline.told import Told
        from sweepkit.quantities import parse_length_m

        return Told(
            length_m=None if self.length is None else parse_length_m(self.length),
            velocity_factor=self.velocity_factor,
            piece=None if self.type_name is None else piece_named(self.type_name, gear),
            is_record=self.type_name in gear.lines,
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
    from sweepkit.answers.line import measure_swept
    from sweepkit.kit import as_kit
    from sweepkit.report.line_page import line_page

    inputs = [*files, *([kit] if kit else []), *log_place.as_input(stated.log)]
    if plot is not None:
        reporting.check_plot(plot, inputs, force=output.force, one_answer=True)
    output.check(inputs)
    gear = as_kit(kit)
    told = stated.told(gear)
    swept, through = _swept(files, stated.end, reading.hints(gear))
    with nullcontext() if stated.piece is None else log_place.open_named(stated.log) as opened:
        answer = measure_swept(swept, told, through=through, piece=stated.piece, log=opened, **drawn.both())
    if stated.piece is not None and answer.record is None:
        log_place.say(
            f"the logbook has no earlier sweep of {stated.piece!r}; keep this one with "
            f"log add FILE --set piece={stated.piece!r}, and the next is compared with it"
        )
    page = partial(
        line_page,
        answer,
        answer.findings,
        answer.sweeps,
        record=answer.record,
        made=drawn.made(kit),
        imperial=units == "imperial",
    )
    return deliver_page(
        output,
        page,
        answer.to_json,
        inputs,
        (plot, lambda path: reporting.plot_first(answer, answer.sweeps, path, inputs, force=output.force)),
    )


def _swept(
    files: list[Path], words: list[str] | None, hints: dict[str, Any]
) -> tuple[list[tuple[Sweep, End]], bool]:
    """Every sweep with its far end, and whether it is one between two ports."""
    from sweepkit.cli.files import STDIN, read_named
    from sweepkit.feedline.swept import parse_ends
    from sweepkit.feedline.through import THROUGH, is_through, read_through

    through = (words or []) == [THROUGH] or (
        not words and len(files) == 1 and str(files[0]) != STDIN and is_through(files[0], **hints)
    )
    if through and len(files) == 1:
        return read_through(files[0], **hints), through
    ends = parse_ends(words or [], len(files), like="FILE --end open FILE --end short")
    return [(read_named(path, **hints), end) for path, end in zip(files, ends, strict=True)], through
