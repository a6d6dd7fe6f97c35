"""The words of a comparison: figures with their units, differences with what is usual, spread and outlook."""

from __future__ import annotations

from collections.abc import Iterator

from sweepkit.antennas.rungs import WORDS as LADDER
from sweepkit.antennas.rungs import Rung
from sweepkit.comparison.answer import Comparison
from sweepkit.comparison.differences import Difference, inside_of, pair_verdict
from sweepkit.comparison.groups import Group
from sweepkit.comparison.serving import Serving
from sweepkit.figures import Figure
from sweepkit.quantities import count_text

WORDS = {"same": "SAME", "within": "WITHIN", "different": "DIFFERENT", "cannot_say": "CANNOT SAY"}
TOLD: dict[Rung, str] = {
    "swept-again": "Only swept again",
    "joined-anew": "Joined anew",
    "put-up-again": "Put up again",
    "another-site": "At another site",
    "other-ground": "On another ground or at another height",
}
ORDER = ("different", "cannot_say", "within", "same")
UNTOLD = (
    "Nobody told what lies between: --kept (nothing was taken down), --rejoined, --put-up-again, --same-site or "
    "setup.toml tells it."
)
WORDS_OF_SERVING = {"yes": "yes", "no": "no", "cannot_say": "cannot say yet"}
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


def is_untold(comparison: Comparison) -> bool:
    """Whether nobody told what lies between some of the sides."""
    return any(one.scales and one.told is None for one in comparison.differences)


def in_order(comparison: Comparison) -> list[tuple[str, str]]:
    """Pairs of sides, by their verdict and then the most unusual first."""
    pairs = comparison.pairs
    return sorted(
        pairs,
        key=lambda pair: (ORDER.index(pair_verdict(pairs[pair])), -max(one.times for one in pairs[pair])),
    )


def group_line(group: Group) -> str:
    """A group on one line: how many, means with their intervals, the lowest and the highest dip."""
    said = "; ".join(
        f"{NAMES[name]} {figure_text(name, group.figures[name])}"
        for name in ("dip_hz", "r_ohm", "dip_swr")
        if group.figures[name].value is not None
    )
    ends = group.ends.get("dip_hz")
    furthest = ""
    if ends is not None and group.n > 1:
        low, a, high, b = ends
        furthest = f"; dips from {a / 1e6:.3f} ({low}) to {b / 1e6:.3f} ({high})"
    return f"{group.name}, {count_text(group.n, 'setup')}: {said or 'no dip'}{furthest}"


def difference_line(difference: Difference) -> str:
    """A difference with its place on the ladder and its verdict, on one line."""
    name = NAMES[difference.quantity]
    shift = _in_unit(difference.quantity, difference.difference)
    if difference.verdict is None:
        return f"{name}: {shift}"
    if difference.scales and difference.difference.value is None:
        said = difference.why.removesuffix(f"; held against {difference.held_against}")
        return f"{name}: {said}. {WORDS[difference.verdict].capitalize()}."
    if not difference.scales:
        said = f"{shift}, " if difference.difference.value is not None else ""
        return f"{name}: {said}cannot say, {difference.why}"
    word = WORDS[difference.verdict].lower()
    return f"{name} {_moved(difference)}: {_on_ladder(difference)}. {_because(difference, word)}"


def _moved(one: Difference) -> str:
    """``MOVED 74 kHz down (66 to 82)``; without a direction where the interval holds none."""
    scale, unit, digits = UNITS[one.quantity]
    value, low, high = (
        (end or 0.0) * scale for end in (one.difference.value, one.difference.low, one.difference.high)
    )
    if one.difference.low is None:
        return f"{value:+z.{digits}f} {unit}"
    if low < 0 < high:
        return f"moved {value:+z.{digits}f} {unit} ({low:+z.{digits}f} to {high:+z.{digits}f})"
    near, far = sorted((abs(low), abs(high)))
    way = "up" if value > 0 else "down"
    return f"MOVED {abs(value):.{digits}f} {unit} {way} ({near:.{digits}f} to {far:.{digits}f})"


def _on_ladder(one: Difference) -> str:
    """``more than joining anew explains (up to 14), less than putting up again (up to 79)``."""
    scale, _, digits = UNITS[one.quantity]
    beyond = [rung for rung in one.scales if rung.beyond]
    inside = inside_of(one.scales)
    parts = []
    if beyond:
        upto = f" (up to {beyond[-1].limit * scale:.{digits}f})" if beyond[-1].limit else ""
        parts.append(f"more than {LADDER[beyond[-1].what]} explains{upto}")
    if inside:
        size = abs(one.difference.value or 0.0)
        low = "less than" if size < inside.limit else "not surely more than"
        upto = f" (up to {inside.limit * scale:.{digits}f})" if inside.limit else ""
        though = "though " if one.verdict == "different" else ""
        parts.append(f"{though}{low} {LADDER[inside.what]}{upto}")
    return ", ".join(parts)


def _because(one: Difference, word: str) -> str:
    """The verdict with what was told; of ``within`` also what would hide in it."""
    if one.told is None:
        return (
            "Too little to matter: within." if one.verdict == "within" else "Nobody told which: cannot say."
        )
    unseen = f", and a change of up to {one.hides} would not show" if one.hides else ""
    if one.verdict == "different" and not one.limit:  # of groups, whose interval holds what was told
        return f"Different: beyond {LADDER[one.told]}."
    told = f"{TOLD[one.told]}: " if one.limit else ""
    return f"{told}{word if told else word.capitalize()}{unseen}."


def radial_lines(comparison: Comparison) -> Iterator[str]:
    """What each added radial changed, and what one more would; nothing but by radials."""
    for name, trend in comparison.radials.items():
        for step in trend.steps:
            yield f"{step.fewer} to {step.more} radials: {NAMES[name]} {_percent(step.per_radial)} for each."
        if trend.next_change.value is not None:
            seen = {"yes": "would be seen", "no": "would not be seen", "cannot_say": "may or may not be seen"}
            text = f"One more: {NAMES[name]} {_percent(trend.next_change)}, which {seen[trend.visible]} (usual up to"
            yield f"{text} {_brief(100 * trend.limit)} %)."


def spread_lines(comparison: Comparison) -> Iterator[str]:
    """Which part of the spread comes from what, for each quantity, where there are enough setups."""
    for name, split in comparison.variance.items():
        parts = [
            f"{part.names[0]} {_sd(part.sd)}" for part in split.components if part.sd.value is not None
        ] + [f"{' and '.join(part.names)} together {_sd(part.sd)}" for part in split.together]
        if parts:
            yield f"Spread of {NAMES[name]}: {'; '.join(parts)}."


def outlook_lines(comparison: Comparison) -> Iterator[str]:
    """How small a difference would be seen, and with how many setups a smaller one; of one setup alone no word."""
    if len(comparison.setups) < 2:
        return
    for outlook in comparison.outlook:
        if outlook.quantity not in ("dip_hz", "r_ohm"):
            continue
        needed = [
            f"{100 * one.difference:g} % with {one.setups_each}"
            for one in outlook.needed
            if one.setups_each is not None
        ]
        more = f"; {', '.join(needed)}" if needed else ""
        least = f"{_brief(100 * outlook.smallest_one_each)} %"
        yield f"One setup of each side shows {NAMES[outlook.quantity]} {least} apart{more} of each."


def serving_line(one: Serving) -> str:
    """``40 m, wet ground: spit-whip was fit for use 7 of 8 times (next time 0.83, 0.58 to 0.98): yes``."""
    ground = "" if one.ground is None else f", {one.ground} ground"
    chance = f"next time {one.chance.value:.2f}{_range(one.chance, 1.0, 2)}".replace(" (", ", ").replace(
        ")", ""
    )
    width = one.bandwidth_hz.value
    more = "" if width is None else f"; 2:1 width {width / 1e3:.0f} kHz"
    minutes = one.setup_minutes.value
    more += "" if minutes is None else f"; put up in {minutes:.0f} min"
    verdict = WORDS_OF_SERVING[one.verdict]
    return (
        f"{one.band}{ground}: {one.antenna} needed no tuner {one.served} of {one.n} times ({chance}): "
        f"{verdict}{more}"
    )


def figure_text(name: str, figure: Figure) -> str:
    """A figure of a setup with its unit and interval; empty without an answer."""
    if figure.value is None:
        return ""
    scale, unit, digits = (1e-6, "MHz", 3) if name == "dip_hz" else UNITS.get(name, (1.0, "", 2))
    return f"{figure.value * scale:.{digits}f} {unit}".strip() + _range(figure, scale, digits)


def _range(figure: Figure, scale: float, digits: int) -> str:
    if figure.low is None or figure.high is None:
        return ""
    return f" ({figure.low * scale:z.{digits}f} to {figure.high * scale:z.{digits}f})"


def _in_unit(name: str, figure: Figure) -> str:
    if figure.value is None:
        return figure.reason or ""
    scale, unit, digits = UNITS.get(name, (1.0, "", 2))
    return f"{figure.value * scale:+z.{digits}f} {unit}".strip() + _range(figure, scale, digits)


def _percent(figure: Figure) -> str:
    text = f"{_brief(100 * (figure.value or 0.0), sign='+')} %"
    if figure.low is None or figure.high is None:
        return text
    return f"{text} ({_brief(100 * figure.low, sign='+')} to {_brief(100 * figure.high, sign='+')})"


def _brief(value: float, *, sign: str = "") -> str:
    """Two digits, or all those before the point."""
    return format(value, f"{sign}z.0f" if abs(value) >= 10 else f"{sign}z.2g")


def _sd(figure: Figure) -> str:
    if figure.value is None or figure.low is None or figure.high is None:
        return "unknown"
    value, low, high = (
        f"{100 * x:.2g}" if x < 0.1 else f"{100 * x:.0f}" for x in (figure.value, figure.low, figure.high)
    )
    return f"{value} % ({low} to {high})"
