"""A comparison as a page: the verdict of each pair first, then differences, setups, picture, fairness, provenance."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from sweepkit.comparison.answer import Comparison, radial_setups
from sweepkit.comparison.differences import Difference, Verdict, pair_verdict
from sweepkit.figures import Figure
from sweepkit.findings import Finding
from sweepkit.quantities import count_text
from sweepkit.report.compare_words import (
    NAMES,
    SITES_DIFFER,
    UNTOLD,
    WORDS,
    difference_line,
    figure_text,
    group_line,
    in_order,
    is_untold,
    outlook_lines,
    radial_lines,
    serving_line,
    spread_lines,
)
from sweepkit.report.page import Grid, Page, Picture, Tone, sentence
from sweepkit.report.page import Verdict as PageVerdict
from sweepkit.report.picture import as_picture
from sweepkit.report.provenance import Made, list_provenance
from sweepkit.sweep import Sweep

MOST_PAIRS = 8
MOST_SETUPS = 60  # rows of the page's table; more is --csv's work
MOST_GROUPS = 12  # rows of the picture
PICTURE_INCHES = 3.5  # as of pictures of one sweep, so that the smallest text stays readable on a phone
SIGNS: dict[Verdict, str] = {"same": "=", "within": "≈", "different": "≠", "cannot_say": "?"}
TONES: dict[Verdict, Tone] = {"same": "good", "within": "good", "different": "fair", "cannot_say": "unknown"}
COLUMNS = ("dip_hz", "dip_swr", "r_ohm", "q", "bandwidth_hz", "line_loss_db")


def compare_page(
    comparison: Comparison,
    *,
    sweeps: Sequence[Sweep] = (),
    logbook: str = "",
    made: Made | None = None,
    pictures: bool = True,
) -> Page:
    """The page of one comparison; its files are named for the provenance, a notebook's has no picture."""
    sides = ", ".join(arm.label for arm in comparison.arms[:MOST_GROUPS])
    return Page(
        title=f"Comparison by {comparison.by}",
        subtitle=f"{count_text(len(comparison.setups), 'setup')}; {sides}",
        verdicts=tuple(_verdicts(comparison)),
        tables=(
            *_sentences(f"By {comparison.by}", map(group_line, comparison.groups)),
            *_sentences("Which serves which band", map(serving_line, comparison.serving)),
            *_radial_grid(comparison),
            *_difference_grids(comparison),
            _setup_grid(comparison),
            *_sentences("Where the spread comes from", spread_lines(comparison)),
            *_sentences(
                "What more setups would show", outlook_lines(comparison), more=comparison.by == "setup"
            ),
        ),
        pictures=tuple(_pictures(comparison)) if pictures else (),
        findings=tuple(
            Finding(unfair.code, "warning" if unfair.bars else "note", unfair.text, "")
            for unfair in comparison.fairness
        ),
        cautions=(
            *((UNTOLD,) if is_untold(comparison) else ()),
            *((SITES_DIFFER,) if comparison.by == "site" else ()),
            _ranking(comparison),
            *comparison.not_shown,
        ),
        cautions_title="To bear in mind",
        provenance=(*((("logbook", logbook),) if logbook else ()), *list_provenance(sweeps, made or Made())),
    )


def _ranking(comparison: Comparison) -> str:
    if comparison.ranking is None:
        return sentence(comparison.why_no_ranking)
    return f"Least loss first: {', '.join(comparison.ranking)}."


def _sentences(title: str, lines: Iterator[str], *, more: bool = False) -> Iterator[Grid]:
    rows = tuple((line,) for line in lines)
    if rows:
        yield Grid(title, ("seen",), rows, more)


def _shown(comparison: Comparison) -> list[tuple[tuple[str, str], list[Difference]]]:
    """The pairs of the page, those that differ first."""
    pairs = comparison.pairs
    return [(pair, pairs[pair]) for pair in in_order(comparison)[:MOST_PAIRS]]


def _verdicts(comparison: Comparison) -> Iterator[PageVerdict]:
    pairs = comparison.pairs
    if not pairs:
        yield PageVerdict("?", "", "CANNOT SAY", ("There is nothing to compare with.",), "unknown")
    for (a, b), own in _shown(comparison):
        verdict = pair_verdict(own)
        whys = [difference_line(one) for one in _deciding(own)] or [sentence(own[0].why)]
        yield PageVerdict(SIGNS[verdict], "", f"{WORDS[verdict]}: {a} and {b}", tuple(whys), TONES[verdict])
    if len(pairs) > MOST_PAIRS:
        told: list[str] = [pair_verdict(own) for own in pairs.values()]
        counts = ", ".join(f"{told.count(verdict)} {words.lower()}" for verdict, words in WORDS.items())
        yield PageVerdict("", "", f"{len(pairs)} IN ALL", (f"{counts}.",), "unknown")


def _deciding(own: Sequence[Difference]) -> list[Difference]:
    """The differences that make the verdict of a pair: its headline says them, and nothing else does again."""
    verdict = pair_verdict(own)
    return [one for one in own if one.verdict == verdict]


def _difference_grids(comparison: Comparison) -> Iterator[Grid]:
    kind_told = any(setup.facts.get("kind") for setup in comparison.setups)
    for (a, b), own in _shown(comparison):
        held_against = next((one.held_against for one in own if one.scales), "")
        said = _deciding(own)
        rows = []
        for one in own:
            if one in said:
                continue
            name = NAMES[one.quantity]
            rows.append((name, difference_line(one)[len(name) :].lstrip(": ")))
        if held_against:
            untold = "" if kind_told else ", which moves most: nobody told the kind (--kind)"
            rows.append(("held against", f"{held_against}{untold}."))
        yield Grid(f"{b} against {a}", ("figure", "difference"), tuple(rows))


def _radial_grid(comparison: Comparison) -> Iterator[Grid]:
    rows = tuple((text,) for text in radial_lines(comparison))
    if rows:
        yield Grid("What each radial did", ("change",), rows)


def _setup_grid(comparison: Comparison) -> Grid:
    head = ("setup", "where and when", *(NAMES[name] for name in COLUMNS))
    rows = [
        (
            setup.id,
            ", ".join(part for part in (setup.site, setup.antenna, (setup.when or "")[:10]) if part),
            *(figure_text(name, comparison.figures[setup.id][name]) or "-" for name in COLUMNS),
        )
        for setup in comparison.setups[:MOST_SETUPS]
    ]
    return Grid("Setups, with 95 % intervals", head, tuple(rows))


def _pictures(comparison: Comparison) -> Iterator[Picture]:
    """The dip of every setup, by side; for radials dip, R and Q over their number."""
    figures = comparison.figures
    if comparison.radials:
        from sweepkit.plots.radials import RadialStep, plot_radials

        best = max(trend.steps[-1].more for trend in comparison.radials.values() if trend.steps)
        steps = [
            RadialStep(
                int(setup.facts["radials"]),
                figures[setup.id]["dip_hz"],
                figures[setup.id]["r_ohm"],
                figures[setup.id]["q"],
            )
            for setup in radial_setups(comparison.arms)[0]
        ]
        drawn = plot_radials(steps, width_inches=PICTURE_INCHES)
        words = f"Dip, R and Q of {len(steps)} setups with up to {best} radials."
        yield as_picture(drawn, "p1-radials", "Dip, R and Q over the number of radials", words)
        return
    arms = comparison.arms[-MOST_GROUPS:] if comparison.by == "month" else comparison.arms[:MOST_GROUPS]
    groups = {arm.label: [figures[setup.id]["dip_hz"] for setup in arm.setups] for arm in arms}
    if not any(figure.value is not None for row in groups.values() for figure in row):
        return
    from sweepkit.plots.spread import plot_spread

    drawn = plot_spread(
        groups,
        words="95 % intervals",
        along="dip, MHz",
        scale=1e-6,
        means={group.name: group.figures["dip_hz"] for group in comparison.groups},
        width_inches=PICTURE_INCHES,
    )
    yield as_picture(drawn, "p1-spread", f"Dip of each {comparison.by}", _in_words(groups))


def _in_words(groups: dict[str, list[Figure]]) -> str:
    parts = []
    for label, row in groups.items():
        values = [figure.value / 1e6 for figure in row if figure.value is not None]
        if values:
            parts.append(f"{label}: {', '.join(f'{value:.3f}' for value in values)} MHz")
    return "; ".join(parts)
