"""``sweepkit trim`` for one place: the usual case."""

from __future__ import annotations

import json
import shlex
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sweepkit.cli import log_place
from sweepkit.cli.exits import Exit
from sweepkit.cli.log_place import known_antenna, line_and_place
from sweepkit.cli.trim_told import deliver_plan
from sweepkit.errors import BadInput

if TYPE_CHECKING:
    from sweepkit.antennas.kind import Kind as AntennaKind
    from sweepkit.antennas.kind import Known, Move
    from sweepkit.cli.trim_told import Told, Wanted
    from sweepkit.kit import Kit
    from sweepkit.kit.known import KnownAntenna
    from sweepkit.records.past import Past
    from sweepkit.sweep import Sweep
    from sweepkit.trim.answer import TrimPlan
    from sweepkit.trim.from_sweep import TrimAnswer
    from sweepkit.trim.predictions import PastPrediction
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


def trim_one(told: Told, kit: Kit) -> Exit:
    """Plan for the one place, or say the length to begin with, and print it."""
    from sweepkit.cli.files import read_named

    place = _place(told.wanted, kit.region if told.region is None else told.region)
    file = told.files[0] if told.files else None
    if told.start:
        if file is not None:
            raise BadInput("--start is for before the first sweep; leave the file out, or leave --start out")
        facts = known_antenna(told.antenna, kit, told.log).facts
        where_hz = place["target_hz"] or sum(place["band_hz"] or ()) / 2
        return _say_start(_wanted_kind(told.wire.kind, facts), where_hz, told.beside.known(facts), told)
    if file is None:
        raise BadInput(
            "no sweep is named; a file was expected; or ask with --start what length to begin with"
        )
    return _show(told, kit, read_named(file, **told.reading.hints(kit)), place)


def _place(wanted: Wanted, region: int | None) -> dict[str, Any]:
    """Where the dip is to go: one frequency, or the ends of what is to fit best."""
    from sweepkit.quantities import parse_frequency_hz
    from sweepkit.trim.request import without_name

    if len(wanted.places) != 1:
        raise BadInput("say where the dip is to go, with one of --target, --band and --segment")
    target_hz = parse_frequency_hz(without_name(wanted.targets[0])) if wanted.targets else None
    band_hz = _band_hz(wanted.bands, wanted.segments, region)
    if wanted.must_work not in (None, "wet"):
        raise BadInput(f"--must-work is {wanted.must_work!r}; it is wet, or left out")
    return {"target_hz": target_hz, "band_hz": band_hz}


def _say_start(kind: AntennaKind, target_hz: float, known: Known, told: Told) -> Exit:
    """Print it, from the antenna's own sweeps in the logbook where there are any."""
    from sweepkit.trim.start import start_length

    own = _own_wavelengths(kind, told.antenna, told.log) if told.antenna else []
    start = start_length(kind, target_hz, own_wavelengths=own, wire=known.wire)
    document = json.dumps(start.to_json(), indent=1, allow_nan=False)
    print(document if told.output.as_json else start.text(imperial=told.imperial))
    return Exit.DONE


def _own_wavelengths(kind: AntennaKind, antenna: str, log: Path | None) -> list[float]:
    """Of the antenna's sweeps in the logbook, where there is one."""
    from sweepkit.records.past import own_wavelengths

    if not log_place.is_there(log):
        return []
    with log_place.open_named(log) as opened:
        return list(own_wavelengths(opened, kind, antenna))


def _show(told: Told, kit: Kit, sweep: Sweep, place: dict[str, Any]) -> Exit:
    """The plan from the present sweep, with what options, kit and logbook know."""
    from sweepkit.report.trim_page import trim_page
    from sweepkit.trim.from_sweep import plan_trim
    from sweepkit.trim.request import length_m_of, parse_lie, parse_move, parse_positive_m

    wire, gear = told.wire, told.gear
    antenna = known_antenna(told.antenna, kit, told.log, present=sweep.source.sha256)
    facts = antenna.facts
    kind = _wanted_kind(wire.kind, facts)
    move = parse_move(wire.by, kind)
    stated = _earlier(wire.earlier or [], move, told.reading.hints(kit))
    inputs = [
        *told.files,
        *told.checks.inputs,
        *(Path(state.name) for state, _ in stated),
        *([gear.kit] if gear.kit else []),
        *log_place.as_input(told.log),
    ]
    told.output.check(inputs)
    lines, measured_at = line_and_place(antenna, kit, gear)
    if not wire.lengths:
        log_place.say_state(antenna)
    length_m = length_m_of(one_of(wire.lengths, "--length"), facts, needed=kind.answer is not None)
    past = _past(antenna, told, sweep, length_m, move)
    plan = partial(
        plan_trim,
        sweep,
        kind=kind,
        length_m=length_m,
        **place,
        by=move,
        must_work_wet=told.wanted.must_work == "wet",
        tail_m=facts.get("tail_m") if wire.tail is None else parse_positive_m(wire.tail, "--tail"),
        lies=parse_lie(wire.tail_lies),
        known=told.beside.known(facts),
        own=past.own,
        kit=kit,
        lines=lines,
        measured_at=measured_at,
        checks=told.checks.read(kit),
        **told.drawn.both(),
    )
    answer, before = (plan(earlier=stated), stated) if stated else _learned(plan, past.earlier)
    page = partial(trim_page, answer, earlier=[sweep for _, sweep in before], past=past.predictions)
    document = partial(_document, answer, past.predictions)
    code = deliver_plan(told, kit, answer.plan, page, document, inputs, known=NOT_USED)
    _say_how_to_keep(answer.plan, antenna, told)
    return code


def _document(answer: TrimAnswer, predictions: Sequence[PastPrediction]) -> dict[str, Any]:
    past = [each.to_json() for each in predictions]
    return answer.to_json() | ({"past_predictions": past} if past else {})


def _past(antenna: KnownAntenna, told: Told, sweep: Sweep, length_m: float, move: Move) -> Past:
    """What the logbook knows of the wire before this sweep."""
    from sweepkit.records.past import Past, past_of

    if not antenna.setup:
        return Past()
    with log_place.open_named(told.log) as opened:
        return past_of(opened, antenna, sweep, antenna=told.antenna or "", length_m=length_m, by=move)


def _say_how_to_keep(plan: TrimPlan, known: KnownAntenna, told: Told) -> None:
    """Tell the command that logs the next sweep with this move and its prediction; today's sweep is logged first."""
    after = plan.after_first_move_hz
    if not known.setup or plan.action not in ("shorten", "lengthen") or after.value is None:
        return
    log = ["--log", str(told.log)] if told.log else []
    if not known.is_present:
        words = [
            "sweepkit",
            "log",
            "add",
            str(told.files[0]),
            "--antenna",
            str(told.antenna),
            "--when",
            "now",
            *log,
        ]
        log_place.say(
            "this sweep is not in the logbook; log it before the move, and trim says then how to keep the next one "
            f"with its prediction: {shlex.join(words)}"
        )
        return
    facts = [f"by={plan.first_move.by}", f"change={100 * plan.first_move.m:.4g} cm"]
    ends = (("predicted", after.value), ("predicted-low", after.low), ("predicted-high", after.high))
    facts += [f"{key}={value / 1e6:.4f} MHz" for key, value in ends if value is not None]
    words = ["sweepkit", "log", "add", "NEXT_FILE", "--setup", known.setup, "--when", "now", *log]
    words += [word for fact in facts for word in ("--set", fact)]
    log_place.say(f"once that is done and swept, this keeps it with the prediction: {shlex.join(words)}")


def one_of(texts: list[str] | None, option: str) -> str | None:
    """The one value of an option that may stand several times for several places."""

    if texts and len(texts) > 1:
        raise BadInput(f"{option} is given {len(texts)} times and takes one value here; leave one out")
    return texts[0] if texts else None


def _wanted_kind(name: str | None, facts: Mapping[str, Any]) -> AntennaKind:
    """The kind of the option, else the one that is known."""
    from sweepkit.antennas.catalogue import kind_named
    from sweepkit.cli.trim_bands import SEVERAL_PARTS

    known = name or facts.get("kind")
    if known is None:
        raise BadInput("the kind of antenna is not told; add --kind, such as --kind dipole")
    return kind_named(known, beside=SEVERAL_PARTS)


def _band_hz(
    bands: list[str] | None, segments: list[str] | None, region: int | None
) -> tuple[float, float] | None:
    from sweepkit.bands import find_band, read_bands
    from sweepkit.trim.request import parse_segment_hz, without_name

    if segments:
        return parse_segment_hz(without_name(segments[0]))
    if not bands:
        return None
    found = find_band(read_bands(region=region), bands[0])
    return found.low_hz, found.high_hz


def _earlier(texts: list[str], move: Move, hints: dict[str, Any]) -> Earlier:
    from sweepkit.cli.files import read_named
    from sweepkit.trim.request import parse_earlier

    told = [parse_earlier(text, move) for text in texts]
    return [(state, read_named(Path(path), **hints)) for state, path in told]


def _learned(plan: Callable[..., TrimAnswer], earlier: Earlier) -> tuple[TrimAnswer, Earlier]:
    """The answer with earlier sweeps of the logbook, and those it rests on; which these are is said."""
    from sweepkit.records.past import plan_with

    answer, used, why_not = plan_with(plan, earlier)
    names = "; ".join(state.name for state, _ in earlier)
    if why_not is not None:
        log_place.say(f"earlier sweeps of the logbook were left out ({names}): {why_not}")
    elif earlier:
        log_place.say(f"earlier sweeps of this setup, from the logbook: {names}")
    return answer, used
