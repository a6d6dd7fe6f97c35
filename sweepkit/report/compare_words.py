"""The words of a comparison: figures with their units, differences with what is usual, spread and outlook."""

from __future__ import annotations

from collections.abc import Iterator

from sweepkit.comparison.answer import Comparison
from sweepkit.comparison.differences import Difference
from sweepkit.figures import Figure

WORDS = {"same": "SAME", "different": "DIFFERENT", "cannot_say": "CANNOT SAY"}
UNTOLD = "Nobody told what these setups are: --kind and --same-site, or setup.toml, sharpen the answer."
HELD = "held against "
SITES_DIFFER = "Two sites usually move a dip by 1 to 2 % and R by a quarter or more, with nothing wrong."
NAMES = {
    "dip_hz": "dip",
    "r_ohm": "R",
    "q": "Q",
    "bandwidth_hz": "bandwidth",
    "dip_swr": "SWR at the dip",
    "x_ohm": "X",
    "best_swr": "best SWR in the band",
    "line_loss_db": "loss in the line",
}
UNITS = {
    "dip_hz": (1e-3, "kHz", 0),
    "bandwidth_hz": (1e-3, "kHz", 0),
    "r_ohm": (1.0, "ohm", 1),
    "line_loss_db": (1.0, "dB", 2),
}


def difference_line(difference: Difference) -> str:
    """A difference with its verdict and what is usual, on one line.

    Parameters
    ----------
    difference : Difference
        In one quantity.
    """
    name = NAMES[difference.quantity]
    if difference.limit is None:
        return f"{name}: cannot say, {difference.why}"
    limit = _in_unit(difference.quantity, Figure(difference.limit), signed=False)
    shift = _in_unit(difference.quantity, difference.difference)
    return f"{name}: {shift}, {WORDS[difference.verdict].lower()} (usual up to {limit})"


def what_it_rests_on(why: str) -> str:
    """What a difference was held against: the part of a reason that says so.

    Parameters
    ----------
    why : str
        Of a difference that was judged.
    """
    return f"{why[why.find(HELD) + len(HELD) :] if HELD in why else why}."


def radial_lines(comparison: Comparison) -> Iterator[str]:
    """What each added radial changed, and what one more would.

    Parameters
    ----------
    comparison : Comparison
        By radials; of another one nothing.
    """
    for name, trend in comparison.radials.items():
        for step in trend.steps:
            yield f"{step.fewer} to {step.more} radials: {NAMES[name]} {_percent(step.per_radial)} for each."
        if trend.next_change.value is not None:
            seen = {"yes": "would be seen", "no": "would not be seen", "cannot_say": "may or may not be seen"}
            text = f"One more: {NAMES[name]} {_percent(trend.next_change)}, which {seen[trend.visible]} (usual up to"
            yield f"{text} {100 * trend.limit:.2g} %)."


def spread_lines(comparison: Comparison) -> Iterator[str]:
    """Which part of the spread comes from what, for each quantity.

    Parameters
    ----------
    comparison : Comparison
        One with enough setups; of another one nothing.
    """
    for name, split in comparison.variance.items():
        parts = [
            f"{part.names[0]} {_sd(part.sd)}" for part in split.components if part.sd.value is not None
        ] + [f"{' and '.join(part.names)} together {_sd(part.sd)}" for part in split.together]
        if parts:
            yield f"Spread of {NAMES[name]}: {'; '.join(parts)}."


def outlook_lines(comparison: Comparison) -> Iterator[str]:
    """How small a difference would be seen, and with how many setups a smaller one.

    Parameters
    ----------
    comparison : Comparison
        The comparison.
    """
    for outlook in comparison.outlook:
        if outlook.quantity not in ("dip_hz", "r_ohm"):
            continue
        needed = [f"{100 * share:g} % with {n}" for share, n in outlook.setups_each if n is not None]
        more = f"; {', '.join(needed)} each" if needed else ""
        least = f"{100 * outlook.smallest_one_each:.2g} %"
        yield f"Seen in {NAMES[outlook.quantity]} with one setup each: {least}{more}."


def figure_text(name: str, figure: Figure) -> str:
    """A figure of a setup with its unit and interval; empty without an answer.

    Parameters
    ----------
    name : str
        Of the quantity.
    figure : Figure
        Of it.
    """
    if figure.value is None:
        return ""
    if name == "dip_hz":
        return f"{(figure.value or 0.0) / 1e6:.3f} MHz{_range(figure, 1e-6, 3)}"
    scale, unit, digits = UNITS.get(name, (1.0, "", 2))
    return f"{(figure.value or 0.0) * scale:.{digits}f} {unit}".strip() + _range(figure, scale, digits)


def _range(figure: Figure, scale: float, digits: int) -> str:
    if figure.low is None or figure.high is None:
        return ""
    return f" ({figure.low * scale:.{digits}f} to {figure.high * scale:.{digits}f})"


def _in_unit(name: str, figure: Figure, *, signed: bool = True) -> str:
    if figure.value is None:
        return figure.reason or ""
    scale, unit, digits = UNITS.get(name, (1.0, "", 2))
    sign = "+" if signed else ""
    return f"{figure.value * scale:{sign}.{digits}f} {unit}".strip() + _range(figure, scale, digits)


def _percent(figure: Figure) -> str:
    text = f"{100 * (figure.value or 0.0):+.2g} %"
    if figure.low is None or figure.high is None:
        return text
    return f"{text} ({100 * figure.low:+.2g} to {100 * figure.high:+.2g})"


def _sd(figure: Figure) -> str:
    if figure.value is None or figure.low is None or figure.high is None:
        return "unknown"
    value, low, high = (
        f"{100 * x:.2g}" if x < 0.1 else f"{100 * x:.0f}" for x in (figure.value, figure.low, figure.high)
    )
    return f"{value} % ({low} to {high})"
