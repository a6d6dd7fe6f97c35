"""``sweepkit review``: one sweep or many, as text or JSON."""

from __future__ import annotations

import json
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from sweepkit.cli import log_place, options
from sweepkit.cli.delivery import deliver
from sweepkit.cli.exits import Exit, with_exit_code

if TYPE_CHECKING:
    from sweepkit.bands import Band
    from sweepkit.cli.beside import Beside
    from sweepkit.cli.files import Loaded
    from sweepkit.kit import Kit
    from sweepkit.reviews import CheckSweeps, Review
    from sweepkit.sweep import Sweep


@with_exit_code
def review(
    files: Annotated[list[Path], typer.Argument(help="Sweep files, or folders of them.", metavar="FILE...")],
    kit: options.Kit = None,
    line: options.Lines = None,
    measured_at: options.MeasuredAt = None,
    antenna: Annotated[
        str | None,
        typer.Option("--antenna", help="Line from your kit or logbook; is it as usual?", metavar="NAME"),
    ] = None,
    site: log_place.Site = None,
    log: log_place.Log = None,
    region: options.Region = None,
    band: Annotated[
        list[str] | None,
        typer.Option("--band", help='Judge this band only, such as "40 m"; repeat for more.', metavar="NAME"),
    ] = None,
    bands: Annotated[
        Path | None,
        typer.Option("--bands", help="Your own band table in place of the built-in one.", metavar="FILE"),
    ] = None,
    repeats: Annotated[
        bool, typer.Option("--repeats", help="The files are the same thing swept again: one answer.")
    ] = False,
    setup: Annotated[
        bool, typer.Option("--setup", help="The files are sweeps of one setup, say one per band: one answer.")
    ] = False,
    check_load: Annotated[
        Path | None,
        typer.Option("--check-load", help="The analyzer's load, swept after calibration.", metavar="FILE"),
    ] = None,
    check_open: Annotated[
        Path | None, typer.Option("--check-open", help="Its open, swept likewise.", metavar="FILE")
    ] = None,
    check_short: Annotated[
        Path | None, typer.Option("--check-short", help="Its short, swept likewise.", metavar="FILE")
    ] = None,
    test: options.Test = None,
    test_sweep: options.TestSweep = None,
    swr_limit: Annotated[
        float | None,
        typer.Option(
            "--swr-limit",
            help="Highest SWR for direct use.",
            metavar="X",
            callback=options.within("swr", "--swr-limit"),
        ),
    ] = None,
    volts: Annotated[
        str | None,
        typer.Option(
            "--volts", help="Supply voltage of the radio, for the kit's power_at_volts.", metavar="V"
        ),
    ] = None,
    plot: Annotated[
        Path | None,
        typer.Option("--plot", help="Write the picture of one answer: PNG, SVG or PDF.", metavar="FILE"),
    ] = None,
    report: Annotated[
        Path | None, typer.Option("--report", help="Write a page: HTML or Markdown.", metavar="FILE")
    ] = None,
    table: Annotated[
        Path | None, typer.Option("--csv", help="Write a table: a row per sweep.", metavar="FILE")
    ] = None,
    band_table: Annotated[
        Path | None, typer.Option("--csv-bands", help="Write a table: a row per band.", metavar="FILE")
    ] = None,
    strict: Annotated[
        bool,
        typer.Option(
            "--strict",
            help="Exit 1 when a --band is no or cannot be said; without one, when no band is usable.",
        ),
    ] = False,
    draws: options.Draws = 1000,
    seed: options.Seed = 0,
    as_json: options.Json = False,
    explain: options.Explain = False,
    card: Annotated[bool, typer.Option("--card", help="The verdict in 8 lines of 40 columns.")] = False,
    force: options.Force = False,
    columns: options.Columns = None,
    unit: options.Unit = None,
    decimal: options.Decimal = None,
    reference_ohm: options.ReferenceOhm = None,
    trace: options.Trace = None,
    recover_sign: options.RecoverSign = False,
) -> Exit:
    """Review sweeps: which bands you can use, where the antenna dips, and how sure that is."""
    from sweepkit.cli.beside import Beside
    from sweepkit.cli.files import is_one_file, load_sweeps
    from sweepkit.cli.gear import read_gear
    from sweepkit.cli.logged_antenna import antenna_note, known_antenna, line_and_place
    from sweepkit.cli.reporting import (
        check_plot,
        check_report,
        made_now,
        made_of_each,
        plot_reviews,
        report_reviews,
        text_of_page,
    )
    from sweepkit.errors import BadInput
    from sweepkit.kit import assumed_in_short, list_assumptions
    from sweepkit.report.review_page import review_page
    from sweepkit.saving import check_target, save_bytes

    gear = _on_supply(read_gear(kit), volts)
    antenna_known = known_antenna(antenna, gear, log)
    pieces, place = line_and_place(antenna_known, gear, line=line, measured_at=measured_at)
    known = {
        "kit": gear,
        "lines": pieces,
        "measured_at": place,
        "bands": _wanted_bands(bands, band, gear.region if region is None else region),
        "swr_limit": swr_limit,
        "checks": _checks(gear, load=check_load, open=check_open, short=check_short),
        "antenna": antenna_note(antenna_known, gear, antenna),
        "unplugged": _unplugged(test, test_sweep),
        "draws": draws,
        "seed": seed,
    }
    hints = {
        "columns": columns,
        "unit": unit,
        "decimal": decimal,
        "reference_ohm": reference_ohm,
        "trace": trace,
        "recover_sign": recover_sign,
        "if_needed": gear.analyzer.hints,
    }
    inputs = [*files, *([test_sweep] if test_sweep else []), *log_place.as_input(log)]
    if plot is not None:
        check_plot(plot, files, force=force, one_answer=repeats or setup)
    if report is not None:
        check_report(report, inputs, force=force)
    csv_paths = [path for path in (table, band_table) if path is not None]
    for path in csv_paths:
        check_target(path, force=force, inputs=tuple(inputs))
    if len({path.absolute() for path in csv_paths}) < len(csv_paths):
        raise BadInput("--csv and --csv-bands name one file; give each its own", path=str(table))
    if repeats and setup:
        raise BadInput("--repeats and --setup say different things of the same files; give one of them")
    loaded = load_sweeps(files, **hints)
    if repeats or setup:
        made: Iterator[Answer] = iter(_one_answer(list(loaded), known, Beside(), as_repeats=repeats))
    else:
        beside = Beside()
        made = (_answer(each, known, beside) for each in loaded)
    if antenna_known.setup:
        from sweepkit.cli.usual import with_usual

        facts = {**antenna_known.facts, "antenna": antenna}
        made = ((each, review and with_usual(review, facts, log, site)) for each, review in made)
    told = [key for key, value in (("region", region), ("radio.direct_swr", swr_limit)) if value]
    page = partial(
        review_page,
        made=made_now(kit=kit, draws=draws, seed=seed) if explain or report else None,
        assumed=list_assumptions(gear, told=told),
        told=_told_again(kit=kit, line=line, measured_at=measured_at, region=region),
        antenna=antenna if antenna and {"kind", "length_m"} <= {*antenna_known.facts} else "",
    )
    last = assumed_in_short(gear, told=told)

    def as_text(review: Review, *, is_last: bool) -> str:
        text = partial(page, assumed_in_short=last) if is_last else page
        return _card(review) if card else text_of_page(text(review, pictures=False), explain=explain)

    if not (repeats or setup or is_one_file(files) or report):
        from sweepkit.cli.stream import stream_answers
        from sweepkit.report.review_csv import BandTable, ReviewTable, Tables

        kept = [(table, ReviewTable()), (band_table, BandTable())]
        wanted = [(path, rows) for path, rows in kept if path is not None]
        silent = bool(wanted) and not explain
        done, failed, usable = stream_answers(
            made,
            shown="json" if as_json else "card" if card else "nothing" if silent else "text",
            as_text=as_text,
            table=Tables(*(rows for _, rows in wanted)) if wanted else None,
            is_usable=lambda review: _is_usable(review, band),
        )
        for path, rows in wanted:
            save_bytes(path, rows.text().encode("utf-8"), force=force, inputs=tuple(inputs))
        if failed or not done:
            return Exit.CANNOT_RUN
        return Exit.NOT_GOOD if strict and not usable else Exit.DONE
    answers = list(made)
    reviews = [review for _, review in answers if review is not None]

    def show() -> None:
        if as_json:
            _print_json(answers, as_object=repeats or setup or is_one_file(files))
        elif reviews:
            between = "\n\n" if card else "\n\n\n"
            texts = made_of_each(reviews, lambda each, _: as_text(each, is_last=each is reviews[-1]))
            print(between.join(texts))

    def write_table(path: Path) -> None:
        from sweepkit.report.review_csv import BandTable, ReviewTable

        rows = BandTable() if path is band_table else ReviewTable()
        made_of_each(reviews, lambda each, _: rows.add(each))
        save_bytes(path, rows.text().encode("utf-8"), force=force, inputs=tuple(inputs))

    code = deliver(
        show,
        (plot, lambda path: plot_reviews(reviews, path, inputs, force=force)),
        (report, lambda path: report_reviews(reviews, path, inputs, page=page, force=force)),
        (table, write_table),
        (band_table, write_table),
    )
    if len(reviews) < len(answers) or not answers:
        code = max(code, Exit.CANNOT_RUN)
    if code is Exit.DONE and strict and not all(_is_usable(review, band) for review in reviews):
        return Exit.NOT_GOOD
    return code


def _unplugged(test: str | None, path: Path | None) -> Sweep | None:
    """The sweep of the one test whose answer a review can use."""
    from sweepkit.next_tests import check_told_test
    from sweepkit.readers import read_sweep
    from sweepkit.reviews.unplugged import CODE

    check_told_test(test, has_sweep=path is not None, known=(CODE,))
    return None if path is None else read_sweep(path)


def _on_supply(gear: Kit, volts: str | None) -> Kit:
    """The gear with the radio on a supply voltage."""
    from dataclasses import replace

    from sweepkit.errors import BadInput
    from sweepkit.quantities import parse_volts

    if volts is None:
        return gear
    supply_v = parse_volts(volts)
    if not gear.radio.power_at_volts:
        raise BadInput(
            f"--volts {volts} is given, but the kit does not say what the radio gives at it; "
            "write power_at_volts = [[13.8, 1.0], [11.5, 0.8]] under [radio]"
        )
    return replace(gear, radio=replace(gear.radio, volts=supply_v))


def _told_again(
    *, kit: Path | None, line: list[str] | None, measured_at: str | None, region: int | None
) -> list[str]:
    """The options that the next command needs as well."""
    words = [word for piece in line or [] for word in ("--line", piece)]
    for name, value in (("--measured-at", measured_at), ("--kit", kit), ("--region", region)):
        words += [] if value is None else [name, str(value)]
    return words


Answer = tuple["Loaded", "Review | None"]


def _answer(loaded: Loaded, known: dict[str, Any], beside: Beside) -> Answer:
    """The review of a file; without one the file has an error, which has been said."""
    from sweepkit.cli.files import failed
    from sweepkit.reviews import review as review_sweep

    if loaded.sweep is None:
        return loaded, None
    told = beside.known_of(
        loaded.sweep, known
    )  # what is wrong in setup.toml is said once, not for every file
    try:
        return loaded, review_sweep(loaded.sweep, **told)
    except Exception as error:
        return failed(loaded.path, error), None


def _one_answer(
    loaded: list[Loaded], known: dict[str, Any], beside: Beside, *, as_repeats: bool
) -> list[Answer]:
    """One review of all files that could be read, then what could not."""
    from sweepkit.reviews import review_repeats, review_setup

    good = [each for each in loaded if each.sweep is not None]
    bad: list[Answer] = [(each, None) for each in loaded if each.sweep is None]
    if not good:
        return bad
    join = review_repeats if as_repeats else review_setup
    sweeps = [each.sweep for each in good if each.sweep is not None]
    told = beside.known_of_all(sweeps, known)
    return [(good[0], join(sweeps, **told)), *bad]


def _checks(gear: Kit, **paths: Path | None) -> CheckSweeps | None:
    """Check sweeps that were named."""
    if not any(paths.values()):
        return None
    from sweepkit.readers import read_sweep
    from sweepkit.reviews import CheckSweeps

    read = partial(read_sweep, if_needed=gear.analyzer.hints)
    return CheckSweeps(**{name: None if path is None else read(path) for name, path in paths.items()})


def _wanted_bands(table: Path | None, names: list[str] | None, region: int | None) -> tuple[Band, ...]:
    from sweepkit.bands import OWN_TABLE, find_band, read_bands

    bands = read_bands(OWN_TABLE if table is None else table, region=region)
    return tuple(find_band(bands, name) for name in names) if names else bands


def _print_json(answers: list[Answer], *, as_object: bool) -> None:
    documents = [_document(loaded, review, is_alone=len(answers) == 1) for loaded, review in answers]
    print(json.dumps(documents[0] if as_object else documents, indent=1, allow_nan=False))


def _document(loaded: Loaded, review: Review | None, *, is_alone: bool) -> dict[str, Any]:
    """The JSON of an answer, or the error in its place."""
    from sweepkit.cli.exits import end_with
    from sweepkit.cli.files import error_json, failed

    if review is not None:
        try:
            return review.to_json()
        except Exception as error:
            if is_alone:
                raise
            loaded = failed(loaded.path, error)
            end_with(loaded.code)
    return error_json(loaded)


def _card(review: Review) -> str:
    from sweepkit.report.card import render_card

    return render_card(review.to_json())


def _is_usable(review: Review, named: list[str] | None) -> bool:
    """Whether every band that was named is there and can be used; without a name, any part of any band."""
    good = ("direct", "tuner")
    if not named:
        return any(part.verdict in good for band in review.bands for part in band.segments)
    return len(review.bands) == len(named) and all(band.verdict in good for band in review.bands)
