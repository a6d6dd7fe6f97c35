"""``sweepkit bench``: what a transformer, a choke or an adapter loses and shows, measured on the table."""

from __future__ import annotations

import json
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from sweepkit.cli import options, reporting
from sweepkit.cli.delivery import deliver
from sweepkit.cli.exits import Exit, with_exit_code

if TYPE_CHECKING:
    from sweepkit.bench.ends import Into
    from sweepkit.bench.measure import What
    from sweepkit.report.page import Page


@with_exit_code
def bench(
    files: Annotated[list[Path], typer.Argument(help="Sweeps of one box.", metavar="FILE...")],
    into: Annotated[
        list[str] | None,
        typer.Option(
            "--into",
            help="What was at the far side in each file, in their order.",
            metavar='open|short|"2450 ohm"',
        ),
    ] = None,
    box: Annotated[
        str,
        typer.Option(
            "--box", help="transformer, pair (two alike back to back), choke or adapter.", metavar="BOX"
        ),
    ] = "transformer",
    ratio: Annotated[
        str, typer.Option("--ratio", help="Impedance ratio of the transformer.", metavar="N:1")
    ] = "1:1",
    name: Annotated[
        str, typer.Option("--name", help="Your own name for it, in the kit.", metavar="NAME")
    ] = "mine",
    kit: options.Kit = None,
    draws: options.Draws = 1000,
    seed: options.Seed = 0,
    report: reporting.Report = None,
    force: options.Force = False,
    as_json: options.Json = False,
    explain: options.Explain = False,
    columns: options.Columns = None,
    unit: options.Unit = None,
    decimal: options.Decimal = None,
    reference_ohm: options.ReferenceOhm = None,
    trace: options.Trace = None,
    recover_sign: options.RecoverSign = False,
) -> Exit:
    """Measure a box on the bench: swept into a resistor, and into open and short for the exact loss."""
    from sweepkit.bench.answer import bench_json
    from sweepkit.bench.measure import measure_box
    from sweepkit.cli.gear import read_gear
    from sweepkit.quantities import parse_impedance_ratio
    from sweepkit.readers import read_sweep
    from sweepkit.report.bench_page import bench_page

    ends, what = _ends(files, into), _what(box)
    inputs = [*files, *([kit] if kit else [])]
    if report is not None:
        reporting.check_report(report, inputs, force=force)
    hints: dict[str, Any] = {
        "columns": columns,
        "unit": unit,
        "decimal": decimal,
        "reference_ohm": reference_ohm,
        "trace": trace,
        "recover_sign": recover_sign,
    }
    sweeps = [read_sweep(path, **hints) for path in files]
    measured = measure_box(
        list(zip(sweeps, ends, strict=True)),
        what=what,
        ratio=parse_impedance_ratio(ratio),
        analyzer=read_gear(kit).analyzer,
        draws=draws,
        seed=seed,
    )
    page = partial(
        bench_page, measured, sweeps, name=name, made=reporting.made_now(kit=kit, draws=draws, seed=seed)
    )

    def show() -> None:
        if as_json:
            print(json.dumps(bench_json(measured, name=name), indent=1, allow_nan=False))
        else:
            print(reporting.text_of_page(page(), explain=explain))

    def pages(pictures: bool) -> list[Page]:
        return [page()]

    return deliver(show, (report, lambda path: reporting.write_report(path, inputs, pages, force=force)))


def _ends(files: list[Path], words: list[str] | None) -> list[Into]:
    """The far side of each file."""
    from sweepkit.bench.ends import parse_into
    from sweepkit.errors import BadInput

    if len(words or []) != len(files):
        raise BadInput(
            f"{len(files)} files and {len(words or [])} --into; each file needs one; "
            "write FILE --into '2450 ohm' FILE --into open FILE --into short"
        )
    return [parse_into(word) for word in words or []]


def _what(box: str) -> What:
    from sweepkit.bench.measure import WHATS
    from sweepkit.errors import BadInput

    for what in WHATS:
        if box == what:
            return what
    raise BadInput(f"--box is {box!r}; one of {', '.join(WHATS)} was expected")
