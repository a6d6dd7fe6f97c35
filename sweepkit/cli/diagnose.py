"""``sweepkit diagnose``: what is wrong, as text or JSON."""

from __future__ import annotations

import json
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from sweepkit.cli import log_place, options, reporting, rung_options
from sweepkit.cli.delivery import deliver
from sweepkit.cli.exits import Exit, with_exit_code

if TYPE_CHECKING:
    from sweepkit.report.page import Page
    from sweepkit.sweep import Sweep


@with_exit_code
def diagnose(
    files: Annotated[
        list[Path],
        typer.Argument(help="A sweep; or A and B; or A, B and A again.", metavar="FILE [SECOND [THIRD]]"),
    ],
    baseline: Annotated[
        Path | None,
        typer.Option(
            "--baseline",
            help="The same antenna when it was good; FILE is then how it is now.",
            metavar="FILE",
        ),
    ] = None,
    changed: Annotated[
        str | None,
        typer.Option(
            "--changed", help='What was changed, in your words: "moved coax, rain".', metavar="WORDS"
        ),
    ] = None,
    kind: Annotated[
        str | None,
        typer.Option(
            "--kind",
            help="dipole, inverted-vee, vertical, loaded-whip, end-fed, loop or random-wire.",
            metavar="KIND",
        ),
    ] = None,
    kept: rung_options.Kept = False,
    rejoined: rung_options.Rejoined = False,
    put_up_again: rung_options.PutUpAgain = False,
    same_site: rung_options.SameSite = False,
    far_end: Annotated[
        str,
        typer.Option("--far-end", help="What is at the far end of the line.", metavar="antenna|open|short"),
    ] = "antenna",
    test: options.Test = None,
    test_sweep: options.TestSweep = None,
    antenna: Annotated[
        str | None,
        typer.Option("--antenna", help="Kind and line from your kit or logbook.", metavar="NAME"),
    ] = None,
    log: log_place.Log = None,
    kit: options.Kit = None,
    line: options.Lines = None,
    measured_at: options.MeasuredAt = None,
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
    """Say what is wrong: did anything change, which causes live on, and the one test that splits them."""
    from sweepkit.cli.gear import read_gear
    from sweepkit.cli.logged_antenna import known_antenna, line_and_place
    from sweepkit.cli.logged_baseline import logged_baseline
    from sweepkit.cli.stdin import read_named
    from sweepkit.diagnosis.answer import told_end
    from sweepkit.diagnosis.answered import TEST_CODES
    from sweepkit.diagnosis.diagnose import diagnose as find_causes
    from sweepkit.diagnosis.told_words import read_told
    from sweepkit.next_tests import check_told_test
    from sweepkit.report.diagnose_page import diagnose_page
    from sweepkit.reviews import review

    rung = rung_options.told_rung(
        kept=kept, rejoined=rejoined, put_up_again=put_up_again, same_site=same_site
    )
    end = told_end(far_end)
    check_told_test(test, has_sweep=test_sweep is not None, known=TEST_CODES)
    gear = read_gear(kit)
    antenna_known = known_antenna(antenna, gear, log)
    pieces, place = line_and_place(antenna_known, gear, line=line, measured_at=measured_at)
    hints: dict[str, Any] = {
        "columns": columns,
        "unit": unit,
        "decimal": decimal,
        "reference_ohm": reference_ohm,
        "trace": trace,
        "recover_sign": recover_sign,
        "if_needed": gear.analyzer.hints,
    }
    inputs = [
        *([] if baseline is None else [baseline]),
        *files,
        *([test_sweep] if test_sweep else []),
        *([kit] if kit else []),
        *log_place.as_input(log),
    ]
    if report is not None:
        reporting.check_report(report, inputs, force=force)
    sweeps = [read_named(file, **hints) for file in files]
    good = None if baseline is None else read_named(baseline, **hints)
    if good is None and antenna is not None and len(sweeps) == 1:
        good, between = logged_baseline(antenna_known, antenna, log, sweeps[0], place=place)
        rung = rung or (between if read_told(changed).rung is None else None)
    diagnosis = find_causes(
        sweeps,
        baseline=good,
        changed=changed,
        kind=kind or antenna_known.facts.get("kind"),
        rung=rung,
        far_end=end,
        test=None if test is None or test_sweep is None else (test, read_named(test_sweep, **hints)),
        kit=gear,
        lines=pieces,
        measured_at=place,
        draws=draws,
        seed=seed,
    )
    ordered = sweeps if good is None else [good, *sweeps]
    page = partial(
        diagnose_page, diagnosis, ordered, made=reporting.made_now(kit=kit, draws=draws, seed=seed)
    )

    def show() -> None:
        if as_json:
            for note in diagnosis.notes:
                log_place.say(note)
            print(json.dumps(diagnosis.to_json(), indent=1, allow_nan=False))
        else:
            print(reporting.text_of_page(page(), explain=explain))

    def pages(pictures: bool) -> list[Page]:
        told = {"kit": gear, "lines": pieces, "measured_at": place, "draws": draws, "seed": seed}
        return [
            page(reviews=[review(sweep, **_fitting(told, sweep)) for sweep in ordered] if pictures else [])
        ]

    return deliver(show, (report, lambda path: reporting.write_report(path, inputs, pages, force=force)))


def _fitting(told: dict[str, Any], sweep: Sweep) -> dict[str, Any]:
    """What is told, without a line for a sweep that has no phase to be moved along it."""
    return told if sweep.phase == "signed" else told | {"lines": None}
