"""A plan for several places as a page: the move, what it gives and costs, a row a place, what the wire cannot give."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from sweepkit.antennas.catalogue import part_of
from sweepkit.cautions import POWER_OFF
from sweepkit.figures import Figure
from sweepkit.plots.look import NARROW
from sweepkit.quantities import frequency_text, length_text
from sweepkit.report.page import (
    Grid,
    Page,
    Picture,
    Row,
    Table,
    Tone,
    Verdict,
    figure_row,
    file_title,
    length_row,
    sentence,
    stop_verdicts,
    sweeps_text,
)
from sweepkit.report.picture import as_picture
from sweepkit.report.provenance import Made, list_provenance
from sweepkit.report.trim_page import DOING, LETTING_OUT
from sweepkit.several_bands.answer import Action, BandRow, BandsPlan, PartMove
from sweepkit.several_bands.pictured import OverLength, OverTurns
from sweepkit.sweep import Sweep

SIGNS: dict[Action, str] = {"shorten": "−", "lengthen": "+", "leave": "=", "retune": "~", "cannot_say": "?"}
TONES: dict[Action, Tone] = {
    "shorten": "fair",
    "lengthen": "fair",
    "leave": "good",
    "retune": "fair",
    "cannot_say": "unknown",
}
VERDICT_WORDS = {"direct": "DIRECT", "tuner": "TUNER", "no": "NO", "unknown": "?"}
MOST_SWR = 99.0  # larger ones are written as >99


def bands_page(
    plan: BandsPlan,
    sweeps: Sequence[Sweep],
    *,
    made: Made | None = None,
    assumed: tuple[str, ...] = (),
    assumed_in_short: str = "",
    imperial: bool = False,
    pictures: bool = True,
) -> Page:
    """The page of a plan for several places."""
    return Page(
        title=f"Trim for {len(plan.bands)} place{'s' if len(plan.bands) != 1 else ''}",
        subtitle="; ".join(_file(file) for file in plan.files) or "from the logbook",
        verdicts=_verdicts(plan, imperial),
        tables=tuple(_tables(plan, imperial)),
        pictures=tuple(_pictures(plan)) if pictures else (),
        more_findings=tuple(finding for finding in plan.findings if finding.level == "note"),
        cautions=plan.cautions or (POWER_OFF,),
        cautions_title="Before you touch it",
        cautions_in_short=None if plan.cautions else "",
        assumed=assumed,
        assumed_in_short=assumed_in_short,
        provenance=list_provenance(tuple(sweeps), made or Made()),
    )


def _pictures(plan: BandsPlan) -> Iterator[Picture]:
    """SWR of each place over the length, or the map of the coil."""
    shown = plan.picture
    if isinstance(shown, OverLength):
        from sweepkit.plots.several_places import plot_bands_over_length

        figure = plot_bands_over_length(
            shown.length_m,
            shown.swr,
            now_m=shown.now_m,
            best_m=shown.best_m,
            first_m=shown.first_m,
            size=NARROW,
            titled=False,
        )
        words = f"Today {shown.now_m:.2f} m, best {shown.best_m:.2f} m. {sentence_of_effects(plan)}"
        yield as_picture(figure, "bands-length", "SWR of each place over the length", words)
    if isinstance(shown, OverTurns):
        from sweepkit.plots.several_places import plot_coil_map

        figure = plot_coil_map(
            shown.taps, shown.shortest_hz, shown.longest_hz, shown.settings, size=NARROW, titled=False
        )
        words = "; ".join(
            f"{name}: tap {tap:g}, {frequency_text(dip_hz)}" for tap, dip_hz, name in shown.settings
        )
        yield as_picture(figure, "coil-map", "Where each tap dips, shortest to longest whip", words)


def _file(file: dict[str, object]) -> str:
    start, stop = (float(str(file[key])) / 1e6 for key in ("start_hz", "stop_hz"))
    return f"{file_title(str(file['path']))} ({start:.3f} to {stop:.3f} MHz, {file['points']} points)"


def _verdicts(plan: BandsPlan, imperial: bool) -> tuple[Verdict, ...]:
    lines = headlines(plan, imperial=imperial)
    why = [sentence_of_effects(plan)] if plan.action not in ("cannot_say",) else []
    if plan.action in ("leave", "cannot_say"):
        why.insert(0, sentence(plan.reason.rstrip(".")))
    why += [
        f"{sentence(finding.text)} {sentence(finding.next_step)}"
        for finding in plan.findings
        if finding.code == "rebuild"
    ]
    if plan.action in ("leave", "cannot_say"):
        why += sweeps_text(plan.next_sweeps)
    if plan.action == "retune" and plan.next_sweeps:
        why.append("Then sweep at each setting, the places that were not swept first:")
        why += sweeps_text(plan.next_sweeps)
    answer = Verdict(SIGNS[plan.action], "", lines[0], (*lines[1:], *filter(None, why)), TONES[plan.action])
    stops = stop_verdicts(plan.findings)
    return (answer, *stops) if plan.action == "cannot_say" else (*stops, answer)


def headlines(plan: BandsPlan, *, imperial: bool = False) -> list[str]:
    """Each move in one line, in the order of work."""
    if plan.action == "cannot_say":
        return ["CANNOT SAY."]
    if plan.action == "retune":
        told = [finding.text for finding in plan.findings if finding.code == "today-differs"]
        rows = [_setting_text(plan, k, imperial) for k in range(len(plan.settings))]
        return [*(f"{text[:1].upper()}{text[1:]}." for text in told), *rows]
    if plan.action == "leave":
        return ["LEAVE IT AS IT IS."]
    return [_headline(move, imperial) for move in plan.moves if move.m]


def _headline(move: PartMove, imperial: bool) -> str:
    verb = (DOING if move.m < 0 else LETTING_OUT)[move.by]
    size = length_text(abs(move.m), imperial=imperial)
    if move.part in ("wire", "whip"):
        each = f" {'EACH LEG' if move.parts == 2 else 'OF THE ' + move.part.upper()}."
        text = f"{verb} {size}{each}" if move.m < 0 else f"{verb} {size}{each.replace('OF', 'TO', 1)}"
        return text if move.by != "slide" else f"{verb} {size}."
    text = f"LEGS FOR {move.part}: {verb} {size} EACH."
    if move.sweep_next is not None:
        text += f" THEN SWEEP {move.sweep_next.start_hz / 1e6:g} to {move.sweep_next.stop_hz / 1e6:g} MHz."
    return text


def _setting_text(plan: BandsPlan, number: int, imperial: bool) -> str:
    row = plan.settings[number]
    parts = [f"TAP {row.tap:g}"] if row.tap is not None else []
    if row.whip_m is not None:
        parts.append(f"{part_of(plan.kind).upper()} {length_text(row.whip_m, imperial=imperial)}")
    parts += [f"{name} {length_text(size, imperial=imperial)}" for name, size in (row.lengths or {}).items()]
    several = sum(other.band == row.band for other in plan.settings) > 1
    where = f" at {frequency_text(row.target_hz)}" if several else ""
    return f"{row.band}{where}: {', '.join(parts) or 'no setting'}."


def sentence_of_effects(plan: BandsPlan) -> str:
    """What the whole change gives and costs: ``SWR on 40 m 2.3 -> 1.4; 10 m loses: SWR 1.6 -> 1.9.``"""
    gains = ", ".join(f"{row.name} {_change(row)}" for row in plan.bands if row.effect == "gains")
    parts = [part for part in (gains and f"SWR on {gains}", _losing(plan)) if part]
    in_part = any(move.m and abs(move.m) < abs(move.full_m.value or 0.0) for move in plan.moves)
    return f"{'; '.join(parts)}{' after the whole change' if in_part else ''}." if parts else ""


def _losing(plan: BandsPlan) -> str:
    rows = [row for row in plan.bands if row.effect == "loses"]
    return ", ".join(f"{row.name} loses: SWR {_change(row)}{_share(row)}" for row in rows)


def _share(row: BandRow) -> str:
    """The share within the limit, where that is what it loses."""
    now, then = row.now.share_within_limit.value, row.after.share_within_limit.value
    if now is None or then is None or now - then < 0.1:
        return ""
    return f", {100 * now:.0f} to {100 * then:.0f} % of it within the limit"


def _change(row: BandRow) -> str:
    return f"{_swr(row.now.best_swr)} -> {_swr(row.after.best_swr)}"


def _swr(figure: Figure) -> str:
    if figure.value is None:
        return "?"
    return f"{figure.value:.1f}" if figure.value < MOST_SWR else f">{MOST_SWR:.0f}"


def _mhz(figure: Figure) -> str:
    return "-" if figure.value is None else f"{figure.value / 1e6:.3f}"


def _tables(plan: BandsPlan, imperial: bool) -> Iterator[Table | Grid]:
    if plan.bands and not is_card_of_log(plan):
        yield _places(plan)
    if plan.not_by_wire:
        yield Grid("What cannot be had this way", ("",), tuple((text,) for text in plan.not_by_wire))
    warnings = [
        finding for finding in plan.findings if finding.level == "warning" and finding.code != "rebuild"
    ]
    if warnings:
        yield Grid(
            "Noticed", ("",), tuple((f"{finding.text} -> {finding.next_step}",) for finding in warnings)
        )
    if plan.feed_end:
        rows = tuple((row.band, f"{row.by} would {row.would} it", row.why) for row in plan.feed_end)
        yield Grid("At the feed end", ("place", "knob", "why"), rows, more=True)
    if plan.settings:
        yield _settings(plan, imperial)
    if plan.avoid or plan.clear:
        yield from _lengths(plan, imperial)
    if plan.action != "cannot_say" and plan.moves:
        yield Table("Intervals of 95 %", tuple(_intervals(plan, imperial)))
        yield Table("After every move in full", tuple(_after(plan)), more=True)
    if plan.other_aim is not None:
        yield _other(plan, imperial)


def _places(plan: BandsPlan) -> Grid:
    """A row for each place, lowest first."""
    rows = [
        (
            row.name,
            _mhz(row.now.dip_hz),
            _swr(row.now.best_swr),
            _swr(row.after.best_swr),
            VERDICT_WORDS[row.after.verdict],
        )
        for row in plan.bands
    ]
    where = "" if any(finding.code == "line-not-told" for finding in plan.findings) else " at the feedpoint"
    return Grid(
        f"SWR{where}, verdict at the radio", ("place", "dip MHz", "SWR now", "after", "then"), tuple(rows)
    )


def _intervals(plan: BandsPlan, imperial: bool) -> Iterator[Row]:
    for move in plan.moves if plan.action != "leave" else ():
        name = "whole change" if len(plan.moves) == 1 else f"whole change of {move.part}"
        yield length_row(f"{name}{' of each leg' if move.parts == 2 else ''}", move.full_m, imperial)
    yield figure_row(f"loss now, {plan.aim}", plan.loss_now_db, "dB", ".2f")
    yield figure_row("loss after it", plan.loss_after_db, "dB", ".2f")
    yield figure_row("least within reach", plan.loss_least_db, "dB", ".2f")
    if plan.learned_from:
        yield Row("earlier sweeps learned from", str(plan.learned_from), "")
    if plan.known_from:
        yield Row("answer to length from", plan.known_from, "")


def _after(plan: BandsPlan) -> Iterator[Row]:
    for row in plan.bands:
        yield figure_row(f"{row.name}, dip", row.after.dip_hz, "MHz", ".3f", scale=1e-6)
        yield figure_row(f"{row.name}, best SWR", row.after.best_swr, "", ".2f")
        yield Row(f"{row.name}, why", row.why, "")


def _other(plan: BandsPlan, imperial: bool) -> Grid:
    other = plan.other_aim
    assert other is not None
    word = "worst" if plan.aim == "mean" else "mean"
    change = "no answer" if other.full_m.value is None else length_text(other.full_m.value, imperial=imperial)
    rows = tuple((band.name, _swr(band.best_swr)) for band in other.bands)
    return Grid(f"With --aim {word}: {change} instead", ("place", "SWR after"), rows, more=True)


def _settings(plan: BandsPlan, imperial: bool) -> Grid:
    rows = []
    for row in plan.settings:
        rows.append(
            (
                row.band,
                "-" if row.tap is None else f"{row.tap:g}",
                "-" if row.whip_m is None else length_text(row.whip_m, imperial=imperial),
                _expected(row.dip_hz, digits=2 if is_card_of_log(plan) else 3),
                _swr(row.best_swr),
                "-" if row.hz_per_m.value is None else f"{row.hz_per_m.value / 1e5:.1f}",
                "-" if row.hz_per_turn.value is None else f"{row.hz_per_turn.value / 1e3:.0f}",
                "-" if row.last is None else row.last.when[:10],
            )
        )
    columns = ("place", "tap", part_of(plan.kind), "dip MHz", "SWR", "kHz/cm", "kHz/turn", "last used")
    kept = [k for k in range(len(columns)) if k in (0, 3) or any(row[k] not in ("-", "?") for row in rows)]
    title = (
        "Settings on record, expected dips with the spread of a new setup"
        if is_card_of_log(plan)
        else "Settings"
    )
    return Grid(title, tuple(columns[k] for k in kept), tuple(tuple(row[k] for k in kept) for row in rows))


def is_card_of_log(plan: BandsPlan) -> bool:
    """Whether the answer rests on the logbook: nothing was swept, or one setting of today."""
    return plan.action in ("retune", "cannot_say") and (
        not plan.files or any(finding.code == "today-differs" for finding in plan.findings)
    )


def _expected(figure: Figure, *, digits: int) -> str:
    if figure.value is None or figure.low is None or figure.high is None:
        return _mhz(figure)
    return f"{figure.value / 1e6:.{digits}f} ({figure.low / 1e6:.{digits}f}-{figure.high / 1e6:.{digits}f})"


def _lengths(plan: BandsPlan, imperial: bool) -> Iterator[Grid]:
    def span(low_m: float, high_m: float) -> str:
        return f"{length_text(low_m, imperial=imperial)} to {length_text(high_m, imperial=imperial)}"

    rows = tuple((row.part, span(row.low_m, row.high_m), row.band, row.why) for row in plan.avoid)
    if rows:
        yield Grid("Lengths to keep away from", ("part", "length", "place", "why"), rows)
    good = tuple((row.part, span(row.low_m, row.high_m)) for row in plan.clear)
    if good:
        yield Grid("Lengths that suit every place", ("part", "length"), good)
