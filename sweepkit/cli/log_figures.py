"""Figures of logged sweeps: ``log figures`` and ``log add`` keep them, ``log show`` shows them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from sweepkit.cli import log_place, options
from sweepkit.cli.exits import Exit
from sweepkit.cli.log_place import say
from sweepkit.cli.option_groups import command
from sweepkit.cli.options import option
from sweepkit.cli.progress import Progress
from sweepkit.errors import BadInput

if TYPE_CHECKING:
    from sweepkit.figures import Figure
    from sweepkit.logbook import Logbook, LoggedSweep
    from sweepkit.reviews import Summary
    from sweepkit.reviews.summary import DipSummary

PLACES = {
    "feedpoint": "at the feedpoint",
    "radio": "at the radio",
    "unknown": "where it was measured (not told)",
}


@command
def refresh(
    antenna: str | None = option("--antenna", "Only sweeps of this antenna.", "NAME"),
    log: log_place.Log = None,
    as_json: options.Json = False,
) -> Exit:
    """Review all sweeps whose figures are missing or of another version, and keep them for compare."""
    from sweepkit.cli.log_shown import print_json, wrapped
    from sweepkit.logbook import refresh_figures
    from sweepkit.quantities import count_text

    reviewed, without = 0, []
    with log_place.open_named(log) as opened:
        total, answers = refresh_figures(opened, antenna=antenna)
        with Progress(total) as progress:
            for sweep, is_new, reason in answers:
                progress.step(sweep.name)
                reviewed += is_new
                if reason is not None:
                    without.append({"id": sweep.id, "reason": reason})
    if as_json:
        print_json("log-figures", sweeps=total, reviewed=reviewed, without=without)
        return Exit.DONE
    print(wrapped(f"{count_text(total, 'sweep')}: {reviewed} reviewed now, {len(without)} without figures"))
    for one in without:
        say(f"sweep {one['id']} has no figures: {one['reason']}")
    return Exit.DONE


def keep_all(opened: Logbook, numbers: Iterable[int]) -> None:
    """Review sweeps that are on disk, keep their figures and say what each is against the one before; one may fail."""
    from sweepkit.logbook import find_sweep
    from sweepkit.records.nearest import say_against, say_apart

    chosen = list(numbers)
    with Progress(len(chosen)) as progress:
        for number in chosen:
            try:
                sweep = find_sweep(opened, number)
                progress.step(sweep.name)
                say(say_against(opened, sweep))
                if apart := say_apart(opened, sweep):
                    say(apart)
            except BadInput as error:
                say(f"sweep {number} is stored; it has no figures: {error.text}")
            except Exception as error:  # the sweep is safe, and log show tells all of it
                say(f"sweep {number} is stored; its review failed ({type(error).__name__}: {error})")


def figures_of(opened: Logbook, sweep: LoggedSweep) -> Summary | BadInput:
    """The figures of a sweep, or why there are none."""
    from sweepkit.logbook import summary_of

    try:
        return summary_of(opened, sweep)
    except BadInput as error:
        return error


def figures_json(figures: Summary | BadInput) -> dict[str, Any]:
    """The figures, or the reason in their place."""
    return {"reason": figures.text} if isinstance(figures, BadInput) else figures.to_json()


def figures_text(figures: Summary | BadInput) -> str:
    """The dips of each plane with their figures and intervals."""
    if isinstance(figures, BadInput):
        return f"no figures: {figures.text}"
    lines = []
    for plane, dips in figures.planes.items():
        lines += [f"figures {PLACES[plane]}" + ("" if dips else ": no dip inside the sweep")]
        lines += [line for dip in dips for line in _dip_lines(dip, has_q=plane == "feedpoint")]
    if "outing-disagrees" in figures.findings:
        lines.append("the sweeps of its outing do not fit one line and one calibration")
    if not figures.adequate:
        lines.append(f"the sweep was not good enough: {', '.join(_lacking(figures.findings))}")
    return "\n".join(lines)


def _lacking(codes: Iterable[str]) -> list[str]:
    """What another sweep can settle."""
    from sweepkit.reviews.setup import OF_THE_SWEEP

    return [code for code in codes if code in OF_THE_SWEEP]


def _dip_lines(dip: DipSummary, *, has_q: bool) -> list[str]:
    """One dip: the frequency first, the rest below."""
    from sweepkit.reviews.summary import BANDWIDTH_SWR

    return [
        f"  dip = {_figure(dip.dip_hz, '.3f', 'MHz', 1e-6)}",
        f"    SWR = {_figure(dip.dip_swr, '.2f')}",
        f"    R = {_figure(dip.r_ohm, '.1f', 'ohm')}",
        *([f"    Q = {_figure(dip.q, '.1f')}"] if has_q else []),
        f"    bandwidth at SWR {BANDWIDTH_SWR:g} = {_figure(dip.bandwidth_hz, '.0f', 'kHz', 1e-3)}",
    ]


def _figure(figure: Figure, form: str, unit: str = "", scale: float = 1.0) -> str:
    """A figure with its interval, or why there is none."""
    return f"{'cannot be said: ' if figure.value is None else ''}{figure.text(form, unit, scale=scale)}"
