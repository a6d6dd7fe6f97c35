"""A trim plan as text: the move in one line, then why, then the figures. Made for 40 columns in the sun."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence

from sweepkit.figures import Figure
from sweepkit.quantities import FOOT_M, frequency_text, length_text
from sweepkit.trim.answer import TrimPlan
from sweepkit.trim.predictions import PastPrediction, predictions_text

LEAST_WIDTH, MOST_WIDTH = 40, 72
DOING = {"fold": "FOLD", "cut": "CUT", "slide": "SLIDE IN", "add": "ADD"}
LETTING_OUT = {"fold": "UNFOLD", "slide": "SLIDE OUT", "add": "ADD", "cut": "ADD"}
MARKS = {"stop": "!!", "warning": "! ", "note": "- "}


def trim_text(
    plan: TrimPlan,
    *,
    width: int = MOST_WIDTH,
    imperial: bool = False,
    assumptions: tuple[str, ...] = (),
    past: Sequence[PastPrediction] = (),
) -> str:
    """A plan for a terminal.

    Parameters
    ----------
    plan : TrimPlan
        The plan.
    width : int
        Columns of the terminal; held between 40 and 72.
    imperial : bool
        Feet and inches beside.
    assumptions : tuple of str
        What stands in for what the operator has not told.
    past : sequence of PastPrediction
        How earlier predictions for this antenna came out.

    Returns
    -------
    str
        Lines, without a newline at the end.
    """
    width = min(max(width, LEAST_WIDTH), MOST_WIDTH)
    blocks = [
        [*_wrapped(headline(plan, imperial=imperial), width), *_wrapped(_capital(plan.reason) + ".", width)],
        list(_figures(plan, width, imperial)),
        _wrapped(predictions_text(past), width) if past else [],
        list(_next_sweeps(plan, width)),
        list(_findings(plan, ("stop", "warning"), width)),
        [line for caution in plan.cautions for line in _wrapped(f"* {caution}", width, hang="  ")],
        list(_findings(plan, ("note",), width)),
        _wrapped(f"Assumed: {'; '.join(assumptions)}.", width) if assumptions else [],
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block)


def headline(plan: TrimPlan, *, imperial: bool = False) -> str:
    """The move in one line.

    Parameters
    ----------
    plan : TrimPlan
        The plan.
    imperial : bool
        Feet and inches beside.
    """
    if plan.action == "cannot_say":
        return "CANNOT SAY how much: sweep again."
    if plan.action == "leave":
        return "LEAVE IT AS IT IS."
    move = plan.first_move
    verb = (DOING if move.m < 0 else LETTING_OUT)[move.by]
    each = f"each {plan.part}" if plan.parts == 2 else f"the {plan.part}"
    joined = {"CUT": "off", "ADD": "to"}.get(verb, "on" if move.by == "fold" else "at")
    return f"{verb} {length_text(abs(move.m), imperial=imperial)} {joined} {each}."


def _figures(plan: TrimPlan, width: int, imperial: bool) -> Iterator[str]:
    if plan.now_hz.value is None:
        return
    target = "" if plan.action == "leave" else f", target {frequency_text(plan.target_hz)}"
    yield from _wrapped(f"Dip now {_frequency(plan.now_hz)}{target}.", width)
    change = plan.change_m
    if change.value is not None:
        per = f"each {plan.part}" if plan.parts == 2 else f"the {plan.part}"
        yield from _wrapped(f"To the target: {_length(change, imperial)} on {per}, all in all.", width)
    if plan.action in ("shorten", "lengthen"):
        yield from _wrapped(f"After this move: {_frequency(plan.after_first_move_hz)}.", width)
        yield from _wrapped(_capital(f"where: {plan.where}."), width)
    shift = plan.sensitivity_hz_per_m
    if shift.value is not None:
        together = ", both parts together" if plan.parts == 2 else ""
        beside = f" ({abs(shift.value) * FOOT_M / 12e3:.1f} kHz per inch)" if imperial else ""
        yield from _wrapped(f"Shift: {abs(shift.value) / 1e5:.2g} kHz per cm{beside}{together}.", width)
    if plan.learned_from:
        sweeps = "sweep" if plan.learned_from == 1 else "sweeps"
        yield from _wrapped(f"Learned from {plan.learned_from} earlier {sweeps} of this antenna.", width)


def _next_sweeps(plan: TrimPlan, width: int) -> Iterator[str]:
    for wanted in plan.next_sweeps:
        span = f"{wanted.start_hz / 1e6:g} to {wanted.stop_hz / 1e6:g} MHz"
        yield from _wrapped(f"Sweep {span}, {wanted.points} points.", width)


def _findings(plan: TrimPlan, levels: tuple[str, ...], width: int) -> Iterator[str]:
    for finding in plan.findings:
        if finding.level in levels:
            yield from _wrapped(f"{MARKS[finding.level]} {finding.text}", width, hang="   ")
            if finding.next_step:
                yield from _wrapped(f"-> {finding.next_step}", width, indent="   ", hang="      ")


def _frequency(figure: Figure) -> str:
    if figure.value is None:
        return figure.reason or ""
    if figure.low is None or figure.high is None:
        return frequency_text(figure.value)
    return f"{figure.value / 1e6:.3f} ({figure.low / 1e6:.3f} to {figure.high / 1e6:.3f}) MHz"


def _length(figure: Figure, imperial: bool) -> str:
    if figure.value is None:
        return figure.reason or ""
    middle = length_text(figure.value, imperial=imperial)
    if figure.low is None or figure.high is None:
        return middle
    return f"{middle} ({length_text(figure.low)} to {length_text(figure.high)})"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _wrapped(text: str, width: int, *, indent: str = "", hang: str = "") -> list[str]:
    return textwrap.wrap(text, width, initial_indent=indent, subsequent_indent=hang or indent)
