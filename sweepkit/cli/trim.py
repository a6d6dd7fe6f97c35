"""``sweepkit trim``: how much wire, as text or JSON."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from sweepkit.cli import log_place, options, reporting
from sweepkit.cli.delivery import deliver
from sweepkit.cli.exits import Exit, with_exit_code

if TYPE_CHECKING:
    from sweepkit.antennas.kind import Kind as AntennaKind
    from sweepkit.antennas.kind import Move
    from sweepkit.sweep import Sweep
    from sweepkit.trim.from_sweep import TrimAnswer
    from sweepkit.trim.wire import EarlierState

    Earlier = Sequence[tuple[EarlierState, Sweep]]

# Keys of the kit that have no part in trimming.
NOT_USED = (
    "region",
    "radio.power_w",
    "radio.z0_ohm",
    "radio.power_at_swr",
    "tuner.max_swr",
    "tuner.loss_db",
)
Length = Annotated[
    list[str] | None,
    typer.Option(
        "--length",
        help="One leg, the radiator, the whip, the whole wire: feed to end. By place: '40 m=10.61 m'. Repeat.",
        metavar="LEN",
    ),
]


@with_exit_code
def trim(
    files: Annotated[
        list[Path] | None,
        typer.Argument(help="The sweep of the antenna as it is now, or several.", metavar="FILE"),
    ] = None,
    kind: Annotated[
        str | None,
        typer.Option(
            "--kind",
            help="dipole, inverted-vee, vertical, loaded-whip, end-fed, loop, random-wire, fan, linked or trap.",
            metavar="KIND",
        ),
    ] = None,
    length: Length = None,
    targets: Annotated[
        list[str] | None,
        typer.Option("--target", help="Where the dip is to go. Repeat for several places.", metavar="FREQ"),
    ] = None,
    bands: Annotated[
        list[str] | None,
        typer.Option("--band", help='The band that is to fit best, such as "40 m". Repeat.', metavar="NAME"),
    ] = None,
    segments: Annotated[
        list[str] | None,
        typer.Option("--segment", help="Or a part of it: 7000-7074 kHz. Repeat.", metavar="LOW-HIGH"),
    ] = None,
    weights: Annotated[
        list[str] | None,
        typer.Option("--weight", help="How much a place matters: '40 m=3'. Repeat.", metavar="PLACE=N"),
    ] = None,
    aim: Annotated[
        str | None,
        typer.Option(
            "--aim", help="Of several places: least mean loss, or worst place best.", metavar="mean|worst"
        ),
    ] = None,
    start: Annotated[
        bool, typer.Option("--start", help="No sweep yet: the length to cut before going out.")
    ] = False,
    must_work: Annotated[
        str | None, typer.Option("--must-work", help="Aim higher, so that it works wet too.", metavar="wet")
    ] = None,
    by: Annotated[
        str | None,
        typer.Option(
            "--by", help="How you will do it; wire is folded, a whip slid.", metavar="fold|cut|slide"
        ),
    ] = None,
    tail_lies: Annotated[
        str | None,
        typer.Option("--tail-lies", help="How a fold lies.", metavar="contact|taped|SPACING"),
    ] = None,
    tail: Annotated[
        str | None, typer.Option("--tail", help="Fold that each part carries already.", metavar="LEN")
    ] = None,
    antenna: Annotated[
        str | None,
        typer.Option("--antenna", help="Kind, length and line from your kit or logbook.", metavar="NAME"),
    ] = None,
    log: log_place.Log = None,
    radials: Annotated[
        int | None,
        typer.Option(
            "--radials",
            help="How many raised radials.",
            metavar="N",
            callback=options.within("radials", "--radials"),
        ),
    ] = None,
    radial_length: Annotated[
        str | None, typer.Option("--radial-length", help="Length of each.", metavar="LEN")
    ] = None,
    radials_on_ground: Annotated[
        bool, typer.Option("--radials-on-ground", help="Many radials, lying on the ground.")
    ] = False,
    counterpoise: Annotated[
        str | None, typer.Option("--counterpoise", help="Length of a counterpoise wire.", metavar="LEN")
    ] = None,
    choke_at: Annotated[
        str | None,
        typer.Option("--choke-at", help="How far down the coax the choke sits, or none.", metavar="LEN|none"),
    ] = None,
    coil: Annotated[
        str | None, typer.Option("--coil", help='Loading coil, such as "11.3 uH".', metavar="L")
    ] = None,
    tap: Annotated[
        float | None,
        typer.Option(
            "--tap",
            help="Turns of the coil in use now.",
            metavar="T",
            callback=options.within("turns", "--tap"),
        ),
    ] = None,
    turns: Annotated[
        float | None,
        typer.Option(
            "--turns",
            help="Turns that the coil has.",
            metavar="N",
            callback=options.within("turns", "--turns"),
        ),
    ] = None,
    tap_step: Annotated[
        float | None,
        typer.Option(
            "--tap-step",
            help="Turns from tap to tap; 1 unless told.",
            metavar="S",
            callback=options.within("tap_step", "--tap-step"),
        ),
    ] = None,
    coil_diameter: Annotated[
        str | None, typer.Option("--coil-diameter", help="Of the coil, wire middle to middle.", metavar="LEN")
    ] = None,
    coil_pitch: Annotated[
        str | None, typer.Option("--coil-pitch", help="From turn to turn, middle to middle.", metavar="LEN")
    ] = None,
    whip_range: Annotated[
        str | None,
        typer.Option("--whip-range", help="Shortest and longest whip: 1.8-4.0 m.", metavar="LOW-HIGH"),
    ] = None,
    one_length: Annotated[
        bool, typer.Option("--one-length", help="One whip length for all places; only the tap changes.")
    ] = False,
    transformer: Annotated[
        str | None,
        typer.Option("--transformer", help="Box at the feedpoint, such as 49:1, 4:1 or 1:1.", metavar="N:1"),
    ] = None,
    earlier: Annotated[
        list[str] | None,
        typer.Option(
            "--earlier",
            help="Length then and its sweep: '10.40 m=a.s1p', '+10 cm=a.s1p', 'cut:+10 cm=a.s1p'. Repeat.",
            metavar="LEN=FILE",
        ),
    ] = None,
    kit: options.Kit = None,
    line: options.Lines = None,
    measured_at: options.MeasuredAt = None,
    region: options.Region = None,
    draws: options.Draws = 1000,
    seed: options.Seed = 0,
    report: reporting.Report = None,
    force: options.Force = False,
    as_json: options.Json = False,
    card: Annotated[bool, typer.Option("--card", help="The move in 8 lines of 40 columns.")] = False,
    explain: options.Explain = False,
    units: options.Imperial = "metric",
    columns: options.Columns = None,
    unit: options.Unit = None,
    decimal: options.Decimal = None,
    reference_ohm: options.ReferenceOhm = None,
    trace: options.Trace = None,
    recover_sign: options.RecoverSign = False,
) -> Exit:
    """Say how much to trim: the first move, how sure it is, and what it leaves."""
    from sweepkit.cli.gear import read_gear
    from sweepkit.cli.logged_antenna import known_antenna, line_and_place
    from sweepkit.cli.logged_trim import past_of, say_how_to_keep
    from sweepkit.cli.stdin import read_named
    from sweepkit.cli.trim_antenna import told_known, told_length_m
    from sweepkit.cli.trim_bands import Told, kind_of, places_of_kit, refuse_for_several, trim_bands
    from sweepkit.cli.trim_start import say_start
    from sweepkit.errors import BadInput
    from sweepkit.quantities import parse_frequency_hz
    from sweepkit.trim.from_sweep import plan_trim
    from sweepkit.trim.request import parse_lie, parse_move, parse_positive_m

    if units not in ("metric", "imperial"):
        raise BadInput(f"--units is {units!r}; it is metric or imperial")
    gear = read_gear(kit)
    hints: dict[str, Any] = {
        "columns": columns,
        "unit": unit,
        "decimal": decimal,
        "reference_ohm": reference_ohm,
        "trace": trace,
        "recover_sign": recover_sign,
        "if_needed": gear.analyzer.hints,
    }
    known: dict[str, Any] = {
        "radials": radials,
        "radial_length": radial_length,
        "radials_on_ground": radials_on_ground,
        "counterpoise": counterpoise,
        "coil": coil,
        "transformer": transformer,
    }
    told_all = Told(
        files=files or [],
        kind=kind,
        lengths=length or [],
        bands=bands or [],
        segments=segments or [],
        targets=targets or [],
        weights=weights or [],
        aim=aim,
        by=by,
        tail=tail,
        tail_lies=tail_lies,
        antenna=antenna,
        log=log,
        known=known,
        choke_at=choke_at,
        coil={
            "tap": tap,
            "turns": turns,
            "tap_step": tap_step,
            "coil_diameter": coil_diameter,
            "coil_pitch": coil_pitch,
            "whip_range": whip_range,
            "one_length": one_length,
        },
        earlier=earlier or [],
        kit=kit,
        line=line,
        measured_at=measured_at,
        region=region,
        draws=draws,
        seed=seed,
        report=report,
        force=force,
        as_json=as_json,
        card=card,
        explain=explain,
        imperial=units == "imperial",
        hints=hints,
    )
    if told_all.is_for_several(
        None if start else kind_of(told_all, gear), places=places_of_kit(told_all, gear)
    ) or (antenna is not None and not files and not start):
        refuse_for_several(start=start, must_work=must_work)
        return trim_bands(told_all)
    target, band, segment = (each[0] if each else None for each in (targets, bands, segments))
    file = files[0] if files else None
    if sum(option is not None for option in (target, band, segment)) != 1:
        raise BadInput("say where the dip is to go, with one of --target, --band and --segment")
    target_hz = parse_frequency_hz(target) if target else None
    band_hz = _band_hz(band, segment, gear.region if region is None else region)
    if must_work not in (None, "wet"):
        raise BadInput(f"--must-work is {must_work!r}; it is wet, or left out")
    if start:
        if file is not None:
            raise BadInput("--start is for before the first sweep; leave the file out, or leave --start out")
        facts = known_antenna(antenna, gear, log).facts
        where_hz = target_hz or sum(band_hz or ()) / 2
        wanted = _wanted_kind(kind, facts)
        imperial = units == "imperial"
        return say_start(wanted, where_hz, antenna=antenna, log=log, as_json=as_json, imperial=imperial)
    if file is None:
        raise BadInput(
            "no sweep is named; a file was expected; or ask with --start what length to begin with"
        )
    sweep = read_named(file, **hints)
    antenna_known = known_antenna(antenna, gear, log, present=sweep.source.sha256)
    facts = antenna_known.facts
    wanted = _wanted_kind(kind, facts)
    move = parse_move(by, wanted)
    told = _earlier(earlier or [], move, hints)
    inputs = [
        file,
        *(Path(state.name) for state, _ in told),
        *([kit] if kit else []),
        *log_place.as_input(log),
    ]
    if report is not None:
        reporting.check_report(report, inputs, force=force)
    pieces, place = line_and_place(antenna_known, gear, line=line, measured_at=measured_at)
    length_m = told_length_m(one_of(length, "--length"), facts, needed=wanted.answer is not None)
    past = past_of(antenna_known, log, sweep, antenna=antenna or "", length_m=length_m, by=move)
    plan = partial(
        plan_trim,
        sweep,
        kind=wanted,
        length_m=length_m,
        target_hz=target_hz,
        band_hz=band_hz,
        by=move,
        must_work_wet=must_work == "wet",
        tail_m=facts.get("tail_m") if tail is None else parse_positive_m(tail, "--tail"),
        lies=parse_lie(tail_lies),
        known=told_known(facts, **known),
        kit=gear,
        lines=pieces,
        measured_at=place,
        draws=draws,
        seed=seed,
    )
    answer, before = (plan(earlier=told), told) if told else _learned(plan, past.earlier)
    from sweepkit.kit import assumed_in_short, list_assumptions
    from sweepkit.report.trim_page import trim_page

    page = partial(
        trim_page,
        answer,
        earlier=[sweep for _, sweep in before],
        past=past.predictions,
        made=reporting.made_now(kit=kit, draws=draws, seed=seed),
        assumed=list_assumptions(gear, told=NOT_USED),
        assumed_in_short=assumed_in_short(gear, told=NOT_USED),
        imperial=units == "imperial",
    )

    def show() -> None:
        if as_json:
            past_json = [each.to_json() for each in past.predictions]
            more = {"past_predictions": past_json} if past_json else {}
            print(json.dumps(answer.to_json() | more, indent=1, allow_nan=False))
        elif card:
            from sweepkit.report.trim_card import trim_card

            print(trim_card(answer.plan, imperial=units == "imperial"))
        else:
            print(reporting.text_of_page(page(pictures=False), explain=explain))
        say_how_to_keep(answer.plan, antenna_known, log)

    return deliver(
        show,
        (
            report,
            lambda path: reporting.write_report(
                path, inputs, lambda pictures: [page(pictures=pictures)], force=force
            ),
        ),
    )


def one_of(texts: list[str] | None, option: str) -> str | None:
    """The one value of an option that may stand several times for several places."""
    from sweepkit.errors import BadInput

    if texts and len(texts) > 1:
        raise BadInput(f"{option} is given {len(texts)} times and takes one value here; leave one out")
    return texts[0] if texts else None


def _wanted_kind(name: str | None, facts: Mapping[str, Any]) -> AntennaKind:
    """The kind of the option, else the one that is known."""
    from sweepkit.antennas.catalogue import kind_named
    from sweepkit.errors import BadInput

    known = name or facts.get("kind")
    if known is None:
        raise BadInput("the kind of antenna is not told; add --kind, such as --kind dipole")
    return kind_named(known)


def _band_hz(band: str | None, segment: str | None, region: int | None) -> tuple[float, float] | None:
    from sweepkit.bands import find_band, read_bands
    from sweepkit.trim.request import parse_segment_hz

    if segment is not None:
        return parse_segment_hz(segment)
    if band is None:
        return None
    found = find_band(read_bands(region=region), band)
    return found.low_hz, found.high_hz


def _earlier(texts: list[str], move: Move, hints: dict[str, Any]) -> Earlier:
    from sweepkit.cli.stdin import read_named
    from sweepkit.trim.request import parse_earlier

    told = [parse_earlier(text, move) for text in texts]
    return [(state, read_named(Path(path), **hints)) for state, path in told]


def _learned(plan: Callable[..., TrimAnswer], earlier: Earlier) -> tuple[TrimAnswer, Earlier]:
    """The answer with earlier sweeps of the logbook, and those it rests on.

    Sweeps that do not go together are left out, and why is said.
    """
    from sweepkit.cli.log_place import say
    from sweepkit.errors import BadInput

    if not earlier:
        return plan(), ()
    names = "; ".join(state.name for state, _ in earlier)
    try:
        answer = plan(earlier=earlier)
    except BadInput as error:
        answer = plan()
        say(f"earlier sweeps of the logbook were left out ({names}): {error.text}")
        return answer, ()
    say(f"earlier sweeps of this setup, from the logbook: {names}")
    return answer, earlier
