"""What a review says of the line itself: does it fit, is there one nobody told of, what does it cost."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import isfinite

import numpy as np

from sweepkit.analysis.quantile import quantile
from sweepkit.conversions import swr_from_gamma_abs
from sweepkit.feedline.chain import ChainDraws
from sweepkit.feedline.delay_fits import FIT_LEAST_S
from sweepkit.feedline.likely import (
    ECHO_BOX_S,
    ECHO_WIDE_HZ,
    SOLID_COAX_M_S,
    LineGuess,
    guess_lines,
    surely_no_lines,
)
from sweepkit.feedline.losses import matched_loss_db, swr_both_ends, swr_ceiling, worst_volts_and_amps
from sweepkit.feedline.plane import group_delay_s, remove_chain
from sweepkit.findings import Finding
from sweepkit.kit import Analyzer
from sweepkit.kit.analyzer import rms_of
from sweepkit.reviews.bands import BandCurve, LineFigures
from sweepkit.reviews.plane import DrawnDip
from sweepkit.reviews.planes import Planes
from sweepkit.station.band import BandVerdict

LARGEST_IN_RMS = 2.0  # a complex normal error is larger in 2 of 100 cases [-]
# A sweep that hides less than so much of a told line's delay does not go through it; our choice
HIDDEN_SHARE = 0.5
NO_RESONANCE = ": no zero of X is given"  # how a contradicted plane ends in a review
ANTENNA_SWR = 4.0  # a dip below it is an antenna's: no dead line of any use shows one ...
# ... but one that is not quite of the reference's impedance, which makes at least so many, down to an SWR: a long lossy
# one all.
RIPPLES = ((8, 1.0), (4, 2.0), (2, 2.5))
OWN_LOSS = "; the SWR is low by the line's own loss"


def find_dead_end(planes: Planes, drawn: tuple[DrawnDip, ...]) -> Finding | None:
    """A line that ends in an open or a short, where nothing in the sweep looks like an antenna; dips deepest first."""
    view = planes.measured
    if view.phase != "signed" or planes.measured_at == "feedpoint" or view.jagged:
        return None
    least_swr = next((swr for count, swr in RIPPLES if len(drawn) >= count), ANTENNA_SWR)
    if drawn and swr_from_gamma_abs(drawn[0].gamma_abs[0]) < least_swr:
        return None
    from sweepkit.feedline.dead_line import find_dead_line

    chain = planes.chain if planes.chain is not None and planes.chain.chain.pieces else None
    noise = quantile(view.noise, 0.5)
    return find_dead_line(view.f_hz, view.gamma, chain, noise=noise, reference_ohm=view.reference_ohm)


def warn_of_dead_end(dead_end: Finding, verdicts: Sequence[BandVerdict]) -> Finding:
    """The same, so that nobody keys it where its loss alone makes a band look usable."""
    if not any(one.verdict in ("direct", "tuner") for one in verdicts):
        return dead_end
    return replace(dead_end, level="stop", text=dead_end.text + OWN_LOSS)


def find_likely_dead_end(planes: Planes, drawn: tuple[DrawnDip, ...]) -> Finding | None:
    """That a sweep of which neither place nor line is told shows no antenna; no proof of it."""
    view = planes.measured
    if drawn or view.phase != "signed" or view.jagged or planes.chain is not None:
        return None
    if planes.measured_at == "feedpoint":
        return None
    from sweepkit.feedline.dead_line import find_likely_dead_line

    noise = quantile(view.noise, 0.5)
    return find_likely_dead_line(view.f_hz, view.gamma, noise=noise, reference_ohm=view.reference_ohm)


def find_wrong_plane(planes: Planes, guess: LineGuess | None) -> Finding | None:
    """A plane that the sweep contradicts: a line where none was told, or none where one was."""
    if guess is None:
        return None
    pieces = planes.chain.chain.pieces if planes.chain is not None else ()
    delay = guess.one_way_s
    if planes.measured_at == "feedpoint" or (planes.chain is not None and not pieces):
        if guess.answer != "likely" or delay.value is None:
            return None
        where = "at the feedpoint" if planes.measured_at == "feedpoint" else "with no line"
        return Finding(
            "wrong-plane",
            "warning",
            f"told as {where}, but delayed by {guess.in_words}{NO_RESONANCE}",
            "taken at the radio: leave out --measured-at; else sweep again at the feedpoint"
            if pieces
            else "tell the line with --line, or sweep again at the feedpoint",
        )
    if planes.chain is None or guess.answer != "none seen":
        return None
    told_s = float(group_delay_s(planes.measured.f_hz, planes.chain.part(slice(0, 1))).mean())
    if guess.hidden_s > HIDDEN_SHARE * told_s:
        return None
    return Finding(
        "wrong-plane",
        "warning",
        f"{told_s * 1e9:.0f} ns of line told, no more than {guess.hidden_s * 1e9:.0f} ns show{NO_RESONANCE}",
        "taken at the feedpoint: --measured-at feedpoint; else tell the line that was there",
    )


def find_hidden_line(planes: Planes, guess: LineGuess | None) -> Finding | None:
    """That a sweep told as without a line may hide a short one, for which R and X stand at its other end."""
    told_without = planes.chain is None or not planes.chain.chain.pieces
    view = planes.measured
    if planes.feedpoint is None or not told_without or view.phase != "signed" or view.jagged:
        return None
    if guess is not None and guess.answer == "likely":
        return None
    hidden_s = FIT_LEAST_S / 2 if guess is None else guess.hidden_s
    which = (
        f"of up to {hidden_s * SOLID_COAX_M_S:.0f} m of coax" if isfinite(hidden_s) else "of any usual length"
    )
    is_wide = float(view.f_hz[-1] - view.f_hz[0]) >= ECHO_WIDE_HZ
    shown_m = ECHO_BOX_S[0] / 2 * SOLID_COAX_M_S
    wide = f"; to know, sweep wide: 1 to 30 MHz with 201 points show coax from about {shown_m:.0f} m on"
    return Finding(
        "line-not-excluded",
        "note",
        f"no line was told, and one {which} may hide in this sweep; R, X, Q and the zero of X would be those of its "
        "other end then, dip and SWR nearly the antenna's",
        f"with coax in between, tell it with --line{'' if is_wide else wide}",
    )


def guess_lines_in(planes: Sequence[Planes]) -> list[LineGuess | None]:
    """What sweeps on one grid say of a line in each; nothing without phase, or where points do not go together.

    Where no line was told, nothing either of those that surely show none.
    """
    views = [each.measured for each in planes]
    asked = np.array(
        [k for k, view in enumerate(views) if view.phase == "signed" and not view.jagged], dtype=int
    )
    guesses: list[LineGuess | None] = [None] * len(views)
    if not asked.size:
        return guesses
    f_hz, gamma = views[0].f_hz, np.stack([views[k].gamma for k in asked])
    chain = planes[0].chain
    if chain is None or not chain.chain.pieces:
        open_ones = ~surely_no_lines(f_hz, gamma)
        asked, gamma = asked[open_ones], gamma[open_ones]
    for k, guess in zip(asked.tolist(), guess_lines(f_hz, gamma), strict=True):
        guesses[k] = guess
    return guesses


def find_unseen_end(planes: Planes) -> Finding | None:
    """What magnitudes do not tell: the other end of a line that is not of the reference's impedance."""
    chain = planes.chain
    if chain is None or planes.measured.phase == "signed" or (planes.radio and planes.feedpoint):
        return None
    names = ", ".join(dict.fromkeys(piece.name for piece in chain.chain.pieces))
    here, there = ("feedpoint", "radio") if planes.measured_at == "feedpoint" else ("radio", "feedpoint")
    return Finding(
        "no-phase",
        "note",
        f"without phase, SWR is not carried along {names}, which is not of {planes.measured.reference_ohm:g} ohm; "
        f"figures hold at the {here}, the {there} is not known",
        f"to know it at the {there}, export the sweep with phase",
    )


def find_line_faults(planes: Planes, analyzer: Analyzer, guess: LineGuess | None) -> tuple[Finding, ...]:
    """Findings about a line, told or not, with an antenna at its end."""
    view = planes.measured
    if view.phase != "signed":
        return ()
    if planes.chain is None:
        likely = None if planes.measured_at == "feedpoint" or guess is None else guess.finding()
        return tuple(filter(None, (likely, find_hidden_line(planes, guess))))
    doubted = () if planes.doubt is None else (planes.doubt,)
    outside = planes.chain.chain.outside_fit(float(view.f_hz[0]), float(view.f_hz[-1]))
    notes = [_outside_fit(outside)] if outside else []
    if planes.measured_at == "radio" and planes.chain.chain.pieces:
        misfit = _misfit(planes, planes.chain, analyzer)
        if misfit:
            notes.insert(0, misfit)
        if planes.chain.size == 1:
            notes.append(_nothing_learned())
    if planes.learned is not None:
        from sweepkit.station.learned_words import say_learned

        notes.append(say_learned(planes.learned, float(view.f_hz[int(np.argmin(np.abs(view.gamma)))])))
    hidden = find_hidden_line(planes, guess)
    return (*doubted, *notes, *([hidden] if hidden else []))


def _misfit(planes: Planes, chain: ChainDraws, analyzer: Analyzer) -> Finding | None:
    """That the line as told cannot be; without draws a look at the feedpoint mostly tells that nothing is wrong."""
    view, feedpoint = planes.measured, planes.feedpoint
    if chain.size == 1 and feedpoint is not None and float(np.abs(feedpoint.gamma).max()) <= 1:
        return None
    from sweepkit.feedline.misfit import find_misfit

    found = find_misfit(
        view.f_hz,
        view.gamma,
        chain,
        noise=quantile(view.noise, 0.5),
        directivity=LARGEST_IN_RMS * rms_of(analyzer.directivity),
        reference_ohm=view.reference_ohm,
    )
    return found.finding() if found else None


def describe_line(curve: BandCurve, planes: Planes, *, power_w: float) -> LineFigures | None:
    """The line at the best frequency of a band with the radio's full power going in; nothing without one."""
    if planes.chain is None or not planes.chain.chain.pieces or planes.radio is None:
        return None
    if planes.radio.phase != "signed":  # where on the line voltage and current are highest is in the phase
        return None
    nominal = planes.chain.part(slice(0, 1))
    best = int(np.argmin(curve.gamma_abs[0]))
    f_hz = curve.grid_hz[best : best + 1]
    z0 = planes.radio.reference_ohm
    at_feedpoint = remove_chain(f_hz, curve.gamma[:1, best : best + 1], nominal, reference_ohm=z0)
    ceiling = float(swr_ceiling(f_hz, nominal, reference_ohm=z0)[0, 0])
    swr = float(swr_both_ends(f_hz, at_feedpoint, nominal, reference_ohm=z0)[1][0, 0])
    volts, amps = worst_volts_and_amps(f_hz, at_feedpoint, nominal, power_w=power_w, reference_ohm=z0)
    if not (np.isfinite(swr) and np.isfinite(volts).all() and np.isfinite(amps).all()):
        return None  # more than total reflection at the far end; line-does-not-fit says so
    return LineFigures(
        matched_loss_db=float(matched_loss_db(f_hz, nominal)[0, 0]),
        swr_at_feedpoint=swr,
        swr_ceiling=ceiling if np.isfinite(ceiling) else None,
        worst_peak_v=float(volts[0, 0]),
        worst_rms_a=float(amps[0, 0]),
    )


def _nothing_learned() -> Finding:
    return Finding(
        "nothing-learned",
        "note",
        "without draws nothing is learned of line and analyzer: the feedpoint is seen through the line exactly as told",
        "leave --draws 0 out to have intervals, and the line as the sweep itself shows it",
    )


def _outside_fit(names: tuple[str, ...]) -> Finding:
    return Finding(
        "loss-extrapolated",
        "note",
        f"the published loss of {', '.join(names)} does not cover all of this sweep; beyond it the loss "
        "follows the same law, k1*sqrt(f) + k2*f",
        "where the loss matters, measure the piece with sweepkit feedline",
    )
