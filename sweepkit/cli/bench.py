"""``sweepkit bench``: what a transformer, a choke or an adapter loses and shows, measured on the table."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from sweepkit.cli import options
from sweepkit.cli.exits import Exit
from sweepkit.cli.option_groups import Drawn, Output, Reading, command
from sweepkit.cli.options import argument, option
from sweepkit.cli.reporting import deliver_page
from sweepkit.errors import BadInput

if TYPE_CHECKING:
    from sweepkit.bench.ends import Into
    from sweepkit.bench.measure import What


@command
def bench(
    *,
    files: list[Path] = argument("FILE...", "Sweeps of one box."),
    into: list[str] | None = option(
        "--into", "What was at the far side in each file, in their order.", 'open|short|"2450 ohm"'
    ),
    box: str = option(
        "--box", "transformer, pair (two alike back to back), choke or adapter.", "BOX", default="transformer"
    ),
    ratio: str = option("--ratio", "Impedance ratio of the transformer.", "N:1", default="1:1"),
    name: str = option("--name", "Your own name for it, in the kit.", "NAME", default="mine"),
    kit: options.Kit = None,
    drawn: Drawn,
    output: Output,
    reading: Reading,
) -> Exit:
    """Measure a box on the bench: swept into a resistor, and into open and short for the exact loss."""
    from sweepkit.bench.answer import bench_json
    from sweepkit.bench.measure import measure_box
    from sweepkit.kit import as_kit
    from sweepkit.quantities import parse_impedance_ratio
    from sweepkit.readers import read_sweep
    from sweepkit.report.bench_page import bench_page

    what, times = _what(box), parse_impedance_ratio(ratio)
    ends = _ends(files, into, what, times)
    inputs = [*files, *([kit] if kit else [])]
    output.check(inputs)
    sweeps = [read_sweep(path, **reading.told()) for path in files]
    measured = measure_box(
        list(zip(sweeps, ends, strict=True)),
        what=what,
        ratio=times,
        analyzer=as_kit(kit).analyzer,
        **drawn.both(),
    )
    made = drawn.made(kit)
    return deliver_page(
        output,
        partial(bench_page, measured, sweeps, name=name, made=made),
        lambda: bench_json(measured, name=name),
        inputs,
    )


def _ends(files: list[Path], words: list[str] | None, what: What, ratio: float) -> list[Into]:
    """The far side of each file; where they are not told, what suits this box."""
    from sweepkit.bench.doubts import REFERENCE_OHM
    from sweepkit.bench.ends import parse_into

    if len(words or []) != len(files):
        load_ohm = REFERENCE_OHM * (ratio if what == "transformer" else 1)
        three = f"FILE --into '{load_ohm:g} ohm' FILE --into open FILE --into short"
        raise BadInput(
            f"{len(files)} files and {len(words or [])} --into; each file needs one; "
            f"write {'FILE --into short' if what == 'choke' else three}"
        )
    return [parse_into(word) for word in words or []]


def _what(box: str) -> What:
    from sweepkit.bench.measure import WHATS

    for what in WHATS:
        if box == what:
            return what
    raise BadInput(f"--box is {box!r}; one of {', '.join(WHATS)} was expected")
