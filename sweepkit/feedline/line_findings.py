"""What is wrong with a piece of line that was measured: broken, shorted, lossy, of another type."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from sweepkit.feedline.loss_check import check_loss
from sweepkit.feedline.measure import LineMeasurement
from sweepkit.feedline.reflections import BARE_END
from sweepkit.figures import Figure
from sweepkit.findings import Finding
from sweepkit.quantities import length_text

USUAL_Z0_OHM = 50.0
SAME_Z0 = 0.10  # impedances within this share belong to one kind of line: data sheets allow 2 to 5 %
STEP_Z0 = 0.15  # a piece whose impedance is off the others' by more is another kind of line
HIGHEST_COAX_OHM = 125.0  # coax has less; a wire antenna swept as if it were a line shows several hundred
OFF = "radio off and disconnected: "
Z0_ADVICE = "read the jacket of the cable; in a 50 ohm station its length shifts every dip"


def find_line_faults(measured: LineMeasurement) -> list[Finding]:
    """Findings of a measured line, worst first."""
    if not measured.identified.is_explained:
        return [*_not_bare(measured), *_pairs_of_echoes(measured)]
    if _looks_like_wire(measured):
        return _not_bare(measured)
    found = [
        *_broken(measured),
        *_contradicted(measured),
        *_other_impedance(measured),
        *check_loss(measured),
        *_unknown_velocity(measured),
    ]
    order = {"stop": 0, "warning": 1, "note": 2}
    return sorted(found, key=lambda finding: order[finding.level])


def _not_bare(measured: LineMeasurement) -> list[Finding]:
    """Nothing that ends open or shorted at once; behind a lossy joint a told end may still be bare."""
    joint = may_be_joint(measured)
    lossy = ", or one joint in it is lossy" if joint else ""
    weigh = "; where a lossy joint is, sweepkit diagnose says, with --far-end and --line" if joint else ""
    return [
        Finding(
            "far-end-not-bare",
            "stop",
            "the sweep is not that of a line with a bare open or short at its far end: "
            "an antenna or a box is still on it, or the line is damaged in several places" + lossy,
            OFF
            + "take everything off the far end, leave it open and sweep; short it and sweep again"
            + weigh,
        )
    ]


def may_be_joint(measured: LineMeasurement) -> bool:
    """Whether it was told how long the line is and that its end is bare, and the wave comes back from before that."""
    length_m, end = measured.told.length_m, measured.told_ends[0]
    if length_m is None or end == "unknown" or measured.through or measured.identified.is_explained:
        return False
    before = [r.distance_m.high for r in measured.reflections if r.looks_like.endswith("of impedance")]
    return any(high is not None and high < length_m for high in before)


def _looks_like_wire(measured: LineMeasurement) -> bool:
    """A wire antenna is a line too, of several hundred ohm; nobody means that one."""
    told = measured.told.piece
    highest = HIGHEST_COAX_OHM if told is None else max(HIGHEST_COAX_OHM, 1.3 * told.z0_ohm)
    return max(measured.identified.fit.sections.z0_ohm) > highest


def _pairs_of_echoes(measured: LineMeasurement) -> Iterator[Finding]:
    """A rise and a fall of impedance, or the other way round, as from a piece of another impedance."""
    echoes = [r for r in measured.reflections if r.looks_like.endswith("of impedance") and r.size_db > -20]
    for first, second in pairwise(echoes):
        if first.looks_like != second.looks_like and abs(first.size_db - second.size_db) < 4:
            rho = 10 ** (first.size_db / 20) * (1 if first.looks_like.startswith("rise") else -1)
            yield _piece(USUAL_Z0_OHM * (1 + rho) / (1 - rho), first.distance_m, second.distance_m)
            return


def _broken(measured: LineMeasurement) -> Iterator[Finding]:
    """An end that is not the far end that was told."""
    end, told = measured.identified.ends[0], measured.told_ends[0]
    if abs(end) < BARE_END:
        yield Finding(
            "far-end-not-bare",
            "warning",
            f"the far end is neither open nor shorted: {measured.reflections[-1].looks_like}; "
            "loss and impedance are less sure for it",
            OFF + "leave the far end open, sweep, short it, and sweep again",
        )
        return
    is_early = measured.scale.agreement in ("shorter", "impossible")
    is_as_told = told == ("open" if end > 0 else "short")
    if is_as_told and not is_early:
        return
    word, fault = ("open", "broken") if end > 0 else ("shorted", "shorted")
    there = f"the line ends {word} at {_metres(measured.length_m)}"
    if is_early:
        told_m = length_text(measured.told.expected_m or 0.0)
        text = f"{there}, where {told_m} were told: it is {fault} there, or the length is wrong"
    elif told == "unknown":
        text = f"{there}; if that is not its far end, it is {fault} there"
    else:
        text = f"swept with the far end {told}, yet {there}: it is {fault}, or the end was told wrong"
    yield Finding(
        f"{word}-line",
        "warning" if told == "unknown" and not is_early else "stop",
        text,
        OFF + "look at the connector or the spot at that distance, and sweep the line from its other end too",
        distance_m=measured.length_m,
    )


def _contradicted(measured: LineMeasurement) -> Iterator[Finding]:
    """A told length that the delay does not allow."""
    agreement, told_m = measured.scale.agreement, measured.told.expected_m
    if told_m is None or agreement == "agrees":
        return
    delay_ns = measured.identified.fit.sections.total_delay_s * 1e9
    if agreement == "impossible":
        factor = told_m / (0.299792458 * delay_ns)
        text = f"{length_text(told_m)} in {delay_ns:.1f} ns would be a velocity factor of {factor:.2f}"
    else:
        text = (
            f"the delay of {delay_ns:.1f} ns is that of {_metres(measured.length_m)}, {agreement} than the "
        )
        text += f"{length_text(told_m)} told"
    yield Finding(
        "length-contradicts-delay",
        "stop",
        text,
        "measure the length again, feet or metres; check the type; count every piece between the connectors",
    )


def _other_impedance(measured: LineMeasurement) -> Iterator[Finding]:
    """A piece, or all of it, of another impedance than the rest, the type, or 50 ohm."""
    sections = measured.identified.fit.sections
    main = measured.main_section
    usual = USUAL_Z0_OHM if measured.told.piece is None else measured.told.piece.z0_ohm
    near_usual = [k for k, z0 in enumerate(sections.z0_ohm) if abs(z0 / usual - 1) <= SAME_Z0]
    base = main if not near_usual else max(near_usual, key=lambda k: sections.delay_s[k])
    starts_m = np.concatenate([[0.0], np.cumsum(sections.delay_s)]) / sections.total_delay_s
    starts_m = starts_m * float(measured.scale.length_m[0])
    for k, z0_ohm in enumerate(sections.z0_ohm):
        if k != base and abs(z0_ohm / sections.z0_ohm[base] - 1) > STEP_Z0:
            yield _piece(z0_ohm, Figure(float(starts_m[k])), Figure(float(starts_m[k + 1])))
    if abs(sections.z0_ohm[base] / usual - 1) > SAME_Z0:
        said = "" if measured.told.piece is None else f", told as {measured.told.piece.type or 'its record'}"
        yield Finding(
            "wrong-impedance-piece",
            "warning",
            f"the line has {sections.z0_ohm[base]:.0f} ohm, not {usual:.0f}{said}",
            Z0_ADVICE,
            distance_m=Figure(0.0),
        )


def _piece(z0_ohm: float, start_m: Figure, stop_m: Figure) -> Finding:
    return Finding(
        "wrong-impedance-piece",
        "warning",
        f"a piece of about {z0_ohm:.0f} ohm lies between {_metres(start_m)} and {_metres(stop_m)}",
        Z0_ADVICE,
        distance_m=start_m,
    )


def _unknown_velocity(measured: LineMeasurement) -> Iterator[Finding]:
    """Length and velocity factor that cannot be told apart."""
    told = measured.told
    if told.length_m is None and told.known_velocity_factor is None:
        delay_ns = measured.identified.fit.sections.total_delay_s * 1e9
        yield Finding(
            "velocity-factor-unknown",
            "note",
            f"the delay is {delay_ns:.1f} ns; without length, velocity factor or type the length stays open: "
            f"{_metres(measured.length_m)} for anything from solid dielectric to foam",
            "give --length, --velocity-factor or --type; until then distances are scaled by a guess, in the block too",
        )


def _metres(figure: Figure) -> str:
    """A distance with its interval, for people."""
    if figure.value is None:
        return "an unknown distance"
    if figure.low is None or figure.high is None or figure.high - figure.low < 0.02:
        return length_text(figure.value)
    return f"{length_text(figure.value)} ({figure.low:.2f} to {figure.high:.2f})"
