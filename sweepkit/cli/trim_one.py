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
    from sweepkit.answers.trim_asked import TrimAsked
    from sweepkit.antennas.kind import Kind as AntennaKind
    from sweepkit.antennas.kind import Move
    from sweepkit.cli.trim_told import Told
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

    asked = _asked(told, kit)
    file = told.files[0] if told.files else None
    if told.start:
        if file is not None:
            raise BadInput("--start is for before the first sweep; leave the file out, or leave --start out")
        return _say_start(asked, known_antenna(told.antenna, kit, told.log).facts, told)
    if file is None:
        raise BadInput(
            "no sweep is named; a file was expected; or ask with --start what length to begin with"
        )
    return _show(told, kit, asked, read_named(file, **told.reading.hints(kit)))


def _asked(told: Told, kit: Kit) -> TrimAsked:
    """The options as the floor below takes them."""
    from sweepkit.answers.trim_asked import TrimAsked

    wanted, wire = told.wanted, told.wire
    if len(wanted.places) > 1:
        raise BadInput("say where the dip is to go, with one of --target, --band and --segment")
    if wanted.must_work not in (None, "wet"):
        raise BadInput(f"--must-work is {wanted.must_work!r}; it is wet, or left out")
    return TrimAsked(
        kind=wire.kind,
        length=one_of(wire.lengths, "--length"),
        target=one_of(wanted.targets, "--target"),
        band=one_of(wanted.bands, "--band"),
        segment=one_of(wanted.segments, "--segment"),
        by=wire.by,
        tail=wire.tail,
        tail_lies=wire.tail_lies,
        must_work_wet=wanted.must_work == "wet",
        region=kit.region if told.region is None else told.region,
        beside=vars(told.beside),
    )


def _say_start(asked: TrimAsked, facts: Mapping[str, Any], told: Told) -> Exit:
    """Print it, from the antenna's own sweeps in the logbook where there are any."""
    from sweepkit.trim.start import start_length

    kind, target_hz = asked.antenna_kind(facts), asked.target_hz or sum(asked.band_hz or ()) / 2
    own = _own_wavelengths(kind, told.antenna, told.log) if told.antenna else []
    start = start_length(kind, target_hz, own_wavelengths=own, wire=told.beside.known(facts).wire)
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


def _show(told: Told, kit: Kit, asked: TrimAsked, sweep: Sweep) -> Exit:
    """The plan from the present sweep, with what options, kit and logbook know."""
    from sweepkit.report.trim_page import trim_page
    from sweepkit.trim.from_sweep import plan_trim

    antenna = known_antenna(told.antenna, kit, told.log, present=sweep.source.sha256)
    stated = _earlier(told.wire.earlier or [], asked.move(antenna.facts), told.reading.hints(kit))
    inputs = [
        *told.files,
        *told.checks.inputs,
        *(Path(state.name) for state, _ in stated),
        *([told.gear.kit] if told.gear.kit else []),
        *log_place.as_input(told.log),
    ]
    told.output.check(inputs)
    lines, measured_at = line_and_place(antenna, kit, told.gear)
    if not told.wire.lengths:
        log_place.say_state(antenna)
    wish = asked.wish(antenna.facts)
    past = _past(antenna, told, sweep, wish["length_m"], wish["by"])
    plan = partial(
        plan_trim,
        sweep,
        **wish,
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


def _earlier(texts: list[str], move: Move, hints: dict[str, Any]) -> Earlier:
    from sweepkit.cli.files import read_named
    from sweepkit.trim.request import parse_earlier

    told = [parse_earlier(text, move) for text in texts]
    return [(state, read_named(Path(path), **hints)) for state, path in told]


def _learned(plan: Callable[..., TrimAnswer], earlier: Earlier) -> tuple[TrimAnswer, Earlier]:
    """The answer with earlier sweeps of the logbook, and those it rests on; which these are is said."""
    from sweepkit.records.past import plan_with, used_text

    answer, used, why_not = plan_with(plan, earlier)
    if earlier:
        log_place.say(used_text(earlier, why_not))
    return answer, used
