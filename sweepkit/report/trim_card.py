"""Plans on a card, at most 8 lines of 40 columns: the move first, then a line a place, and the gravest finding."""

from __future__ import annotations

from sweepkit.quantities import frequency_text
from sweepkit.report.bands_page import VERDICT_WORDS, headlines, is_card_of_log
from sweepkit.report.card import COLUMNS, LINES
from sweepkit.report.trim_page import headline
from sweepkit.several_bands.answer import BandRow, BandsPlan, Setting
from sweepkit.trim.answer import TrimPlan
from sweepkit.visible import visible

LEAST_MOVES = 3  # lines of moves there are at least, with fewer places then; the text has all
MARKS = {"gains": "+", "same": "=", "loses": "-", "cannot_say": "?"}


def plan_card(plan: TrimPlan | BandsPlan, *, imperial: bool = False) -> str:
    """At most 8 lines of 40 columns without a newline at the end; with feet and inches beside where asked for."""
    if isinstance(plan, BandsPlan):
        return _bands_card(plan, imperial)
    return _trim_card(plan, imperial)


def _trim_card(plan: TrimPlan, imperial: bool) -> str:
    lines = folded(headline(plan, imperial=imperial))
    if plan.now_hz.value is not None:
        lines.append(f"dip now  {frequency_text(plan.now_hz.value)}")
    if plan.first_move.by != "none" and plan.after_first_move_hz.value is not None:
        lines.append(f"then     {frequency_text(plan.after_first_move_hz.value)}")
    lines.append(f"target   {frequency_text(plan.target_hz)}")
    lines += [
        f"{'!!' if finding.level == 'stop' else '!'} {finding.code}"
        for finding in plan.findings
        if finding.level != "note"
    ]
    return "\n".join(visible(line)[:COLUMNS].rstrip() for line in lines[:LINES])


def _bands_card(plan: BandsPlan, imperial: bool) -> str:
    """What does not fit is counted."""
    moves = [line for text in headlines(plan, imperial=imperial) for line in folded(text)]
    if plan.action == "retune":
        return _settings_card(plan, imperial)
    stops = [f"!! {finding.code}" for finding in plan.findings if finding.level == "stop"][:1]
    sweeps = [
        f"SWEEP {sweep.start_hz / 1e3:.0f}-{sweep.stop_hz / 1e3:.0f}kHz {sweep.points}pts"
        for sweep in plan.next_sweeps
    ]
    beside = [*stops, *(sweeps[:1] if plan.action == "cannot_say" else [])]
    rows = [_row(row) for row in sorted(plan.bands, key=lambda row: -row.weight)]
    first = [*_fitting(moves, max(LEAST_MOVES, LINES - len(beside) - len(rows))), *beside]
    lines = [*first, *_fitting(rows, LINES - len(first))]
    return "\n".join(visible(line)[:COLUMNS].rstrip() for line in lines)


def _settings_card(plan: BandsPlan, imperial: bool) -> str:
    """Settings by weight with their dips, and what is swept after them."""
    texts = headlines(plan, imperial=imperial)
    told = len(texts) - len(plan.settings)
    first = [line for text in texts[:told] for line in folded(text)]
    weights = {row.name: row.weight for row in plan.bands}
    order = sorted(range(len(plan.settings)), key=lambda k: -weights.get(plan.settings[k].band, 1.0))
    rows = [_setting(texts[told + k], plan.settings[k]) for k in order]
    last = [] if is_card_of_log(plan) else ["THEN SWEEP AT EACH SETTING."]
    lines = [*first, *_fitting(rows, LINES - len(first) - len(last)), *last]
    return "\n".join(visible(line)[:COLUMNS].rstrip() for line in lines)


def _setting(text: str, row: Setting) -> str:
    """A setting with the interval of its dip, or the dip alone, where the line has room."""
    low, value, high = (row.dip_hz.low, row.dip_hz.value, row.dip_hz.high)
    dips = []
    if low is not None and high is not None:
        dips.append(f"{low / 1e6:.2f}-{high / 1e6:.2f}MHz")
    if value is not None:
        dips.append(f"{value / 1e6:.2f}MHz")
    text = _in_one_unit(text)
    tried = [f"{shorter} {dip}" for dip in dips for shorter in (text.rstrip("."), _without_part(text))]
    return next((line for line in (*tried, text) if len(visible(line)) <= COLUMNS), _without_part(text))


def _in_one_unit(text: str) -> str:
    """``3.37 m (11 ft 0.75 in)`` as ``11 ft 0.75 in``."""
    import re

    return re.sub(r"[\d.]+ c?m \(([^)]*)\)", r"\1", text)


def _without_part(text: str) -> str:
    """``40 m at 7.074 MHz: TAP 21.`` as ``40 m: TAP 21``: its dip tells the part."""
    name, colon, setting = text.rstrip(".").partition(": ")
    return f"{name.rpartition(' at ')[0] or name}{colon}{setting}"


def folded(text: str) -> list[str]:
    """A move on as many lines as it takes."""
    import textwrap

    return textwrap.wrap(visible(text), COLUMNS, subsequent_indent="  ", break_on_hyphens=False)


def _fitting(lines: list[str], room: int) -> list[str]:
    """What fits; the rest is counted."""
    if len(lines) <= room:
        return lines
    return [*lines[: room - 1], f"+{len(lines) - room + 1} more"]


def _row(row: BandRow) -> str:
    now, then = row.now.best_swr.value, row.after.best_swr.value
    swr = "not swept" if now is None else _swr(now) if then is None else f"{_swr(now)} -> {_swr(then)}"
    return f"{MARKS[row.effect]} {visible(row.name)[:12]:<6} {swr:<13} {VERDICT_WORDS[row.after.verdict]}"


def _swr(value: float) -> str:
    return f"{value:.1f}" if value < 99 else ">99"
