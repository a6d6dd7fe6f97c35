"""A comparison as text: the verdict of each pair of sides first, then figures, fairness and what more would show."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from sweepkit.comparison.answer import NOT_SHOWN, Comparison
from sweepkit.comparison.differences import Difference, pair_verdict
from sweepkit.figures import Figure
from sweepkit.report.page import printable

LEAST_WIDTH, MOST_WIDTH = 40, 72
MOST_SETUPS = 12  # rows of the table; the rest is --csv's work
MOST_PAIRS = 8
WORDS = {"same": "SAME", "different": "DIFFERENT", "cannot_say": "CANNOT SAY"}
UNTOLD = "Nobody told what these setups are: --kind and --same-site, or setup.toml, sharpen the answer."
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


def compare_text(comparison: Comparison, *, width: int = MOST_WIDTH) -> str:
    """A comparison for a terminal.

    Parameters
    ----------
    comparison : Comparison
        The comparison.
    width : int
        Columns of the terminal; held between 40 and 72.

    Returns
    -------
    str
        Lines, without a newline at the end.
    """
    width = min(max(width, LEAST_WIDTH), MOST_WIDTH)
    blocks = [
        list(_headlines(comparison, width)),
        list(_differences(comparison, width)),
        list(_table(comparison, width)),
        [line for unfair in comparison.fairness for line in _wrapped(f"! {unfair.text}", width, hang="  ")],
        list(_radials(comparison, width)),
        list(_parts(comparison, width)),
        list(_outlook(comparison, width)),
        _wrapped(f"{comparison.why_no_ranking[:1].upper()}{comparison.why_no_ranking[1:]}.", width)
        if comparison.ranking is None
        else _wrapped(f"Least loss first: {', '.join(comparison.ranking)}. {NOT_SHOWN}", width),
        _wrapped(NOT_SHOWN, width) if comparison.ranking is None else [],
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block)


def _headlines(comparison: Comparison, width: int) -> Iterator[str]:
    pairs = comparison.pairs
    if not pairs:
        yield "CANNOT SAY: nothing to compare with."
        return
    told = {pair: pair_verdict(own) for pair, own in pairs.items()}
    first = sorted(told, key=lambda pair: ("different", "cannot_say", "same").index(told[pair]))
    for a, b in first[:MOST_PAIRS]:
        yield from _wrapped(f"{WORDS[told[a, b]]}: {printable(a)} and {printable(b)}", width, hang="  ")
    if any(not setup.told for setup in comparison.setups):
        yield from _wrapped(UNTOLD, width)
    if len(first) > MOST_PAIRS:
        counts = [f"{sum(v == verdict for v in told.values())} {WORDS[verdict].lower()}" for verdict in WORDS]
        yield f"{len(first)} in all: {', '.join(counts)}."


def _differences(comparison: Comparison, width: int) -> Iterator[str]:
    pairs = comparison.pairs
    shown = sorted(pairs, key=lambda pair: pair_verdict(pairs[pair]) != "different")[:MOST_PAIRS]
    for number, (a, b) in enumerate(shown):
        if number:
            yield ""
        yield from _wrapped(f"{printable(b)} less {printable(a)}:", width)
        if all(one.limit is None and one.why == pairs[a, b][0].why for one in pairs[a, b]):
            yield from _wrapped(f"  cannot say: {pairs[a, b][0].why}", width, hang="    ")
            continue
        for difference in pairs[a, b]:
            yield from _wrapped(f"  {difference_line(difference)}", width, hang="    ")
        judged = next((one for one in pairs[a, b] if one.limit is not None), None)
        if judged is not None:
            yield from _wrapped(f"  {what_it_rests_on(judged.why)}", width, hang="  ")
    if comparison.by == "site" and pairs:
        yield ""
        yield from _wrapped(SITES_DIFFER, width)


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
    """The part of a reason that says what a difference was held against, as a sentence.

    Parameters
    ----------
    why : str
        Of a difference that was judged.
    """
    at = why.find("held against")
    return f"Held{why[at + 4 :]}." if at >= 0 else f"{why}."


def _table(comparison: Comparison, width: int) -> Iterator[str]:
    for setup in comparison.setups[:MOST_SETUPS]:
        figures = comparison.figures[setup.id]
        where = ", ".join(
            printable(part) for part in (setup.site, setup.antenna, (setup.when or "")[:10]) if part
        )
        head = f"{printable(setup.id)}{f' ({where})' if where else ''}: "
        parts = []
        for name in ("dip_hz", "dip_swr", "r_ohm", "q", "bandwidth_hz", "line_loss_db"):
            if figures[name].value is not None:
                parts.append(f"{NAMES[name]} {figure_text(name, figures[name])}")
        said = "; ".join(parts) or figures["dip_hz"].reason or "no figures"
        yield from _wrapped(head + said, width, hang="  ")
    if len(comparison.setups) > MOST_SETUPS:
        yield f"and {len(comparison.setups) - MOST_SETUPS} more setups; --csv has them all."


def _radials(comparison: Comparison, width: int) -> Iterator[str]:
    for text in radial_lines(comparison):
        yield from _wrapped(text, width, hang="  ")


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


def _parts(comparison: Comparison, width: int) -> Iterator[str]:
    for name, split in comparison.variance.items():
        parts = [
            f"{part.names[0]} {_sd(part.sd)}" for part in split.components if part.sd.value is not None
        ] + [f"{' and '.join(part.names)} together {_sd(part.sd)}" for part in split.together]
        if parts:
            yield from _wrapped(f"Spread of {NAMES[name]}: {'; '.join(parts)}.", width, hang="  ")


def _outlook(comparison: Comparison, width: int) -> Iterator[str]:
    for outlook in comparison.outlook:
        if outlook.quantity not in ("dip_hz", "r_ohm"):
            continue
        needed = [f"{100 * share:g} % with {n}" for share, n in outlook.setups_each if n is not None]
        text = (
            f"Seen in {NAMES[outlook.quantity]} with one setup each: {100 * outlook.smallest_one_each:.2g} %"
        )
        more = f"; {', '.join(needed)} each" if needed else ""
        yield from _wrapped(f"{text}{more}.", width, hang="  ")


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


def _wrapped(text: str, width: int, *, hang: str = "") -> list[str]:
    return textwrap.wrap(text, width, subsequent_indent=hang)
