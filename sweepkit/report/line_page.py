"""A measured line as a page: what is wrong with it first, figures, picture, the block for the kit, provenance."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from sweepkit.cautions import ANALYZER, POWER_OFF
from sweepkit.feedline.line_findings import may_be_joint
from sweepkit.feedline.line_json import kit_block_of
from sweepkit.feedline.loss_check import (
    OwnRecord,
    compared_at_hz,
    compared_hz,
    expected_loss_db,
    find_loss_excess_db,
    loss_excess_over_record_db,
)
from sweepkit.feedline.measure import LineMeasurement
from sweepkit.figures import Figure
from sweepkit.findings import Finding
from sweepkit.kit.line_table import OWN_SOURCE
from sweepkit.plots.look import NARROW
from sweepkit.quantities import frequency_text, length_text
from sweepkit.report.page import (
    Block,
    Command,
    Grid,
    Page,
    Picture,
    Row,
    Table,
    Tone,
    Verdict,
    figure_row,
    file_title,
    sentence,
)
from sweepkit.report.picture import as_picture
from sweepkit.report.provenance import Made, list_provenance
from sweepkit.sweep import Sweep

# The answer in large type for each finding; the finding's own words stand below it.
WORDS = {
    "open-line": "ENDS OPEN",
    "shorted-line": "ENDS SHORTED",
    "far-end-not-bare": "CANNOT SAY",
    "length-contradicts-delay": "LENGTH DOES NOT FIT",
    "wrong-impedance-piece": "ANOTHER IMPEDANCE",
    "line-loss": "TOO LOSSY",
    "wrong-type": "ANOTHER TYPE",
}
TONES: dict[str, Tone] = {"stop": "bad", "warning": "fair"}
SIGNS = {"stop": "✗", "warning": "!"}
LOSS_IN_SHORT_HZ = (7.1e6, 28.5e6)  # of those that are listed
AS_TYPE = "LOSS AS EXPECTED"
UNTOLD = "not told"
NEVER_TRANSMIT = "Never transmit into an open, a short or an unplugged line."


def line_page(
    measured: LineMeasurement,
    findings: Sequence[Finding],
    sweeps: Sequence[Sweep],
    *,
    record: OwnRecord | None = None,
    made: Made | None = None,
    imperial: bool = False,
    pictures: bool = True,
    number: int = 1,
) -> Page:
    """The page of one measured line; of its sweeps, in the order of ``measured.told_ends``, the first is drawn.

    ``record`` is the same piece earlier, ``number`` that of the page among several, which keeps the names of their
    pictures apart; a page for a notebook does without pictures.
    """
    sweeps = sweeps[:1] if measured.through else sweeps
    names = [file_title(sweep.source.path) for sweep in sweeps]
    block = kit_block_of(measured, findings)
    return Page(
        title=f"Line: {', '.join(names)}",
        subtitle=_subtitle(measured, names),
        verdicts=tuple(_verdicts(measured, findings)),
        command=_diagnose(measured, sweeps[0]),
        tables=tuple(_tables(measured, record, imperial)),
        pictures=(_picture(measured, sweeps[0], number),) if pictures else (),
        readouts=(line_readout(measured, sweeps[0]),) if pictures else (),
        findings=tuple(finding for finding in findings if finding.level == "note"),
        blocks=(Block("For your kit.toml", block),) if block else (),
        cautions=(POWER_OFF, NEVER_TRANSMIT, ANALYZER),
        cautions_title="Before you touch it",
        cautions_in_short=NEVER_TRANSMIT,
        provenance=list_provenance(sweeps, made or Made()),
    )


def _subtitle(measured: LineMeasurement, names: Sequence[str]) -> str:
    """What was swept, and what was told of it."""
    f_hz, told = measured.swept_hz, measured.told
    ends = ", ".join(
        f"far end {UNTOLD if end == 'unknown' else end} in {name}"
        for end, name in zip(measured.told_ends, names, strict=False)
    )
    if measured.through:
        ends = f"between two ports in {names[0]}; its open and its short were computed"
    known = [f"{length_text(told.length_m)} by tape"] if told.length_m is not None else []
    if told.velocity_factor is not None:
        known.append(f"velocity factor {told.velocity_factor:g} at high frequencies told")
    if told.piece is not None:
        known.append(f"type {_type_name(measured)} told")
    span = f"{f_hz[0] / 1e6:.3f} to {f_hz[-1] / 1e6:.3f} MHz, {f_hz.size} points"
    return "; ".join([span, ends, *known])


def _type_name(measured: LineMeasurement) -> str:
    piece = measured.told.piece
    return "" if piece is None else piece.type or piece.name


def _verdicts(measured: LineMeasurement, findings: Sequence[Finding]) -> Iterator[Verdict]:
    """Every fault, worst first, else that none was found; then the loss against the type."""
    faults = [finding for finding in findings if finding.level != "note"]
    for finding in sorted(faults, key=lambda finding: finding.level != "stop"):
        word = WORDS.get(finding.code, finding.level.upper())
        is_open = word == "CANNOT SAY"
        sign = "?" if is_open else SIGNS[finding.level]
        tone: Tone = "unknown" if is_open else TONES[finding.level]
        at = finding.distance_m
        if finding.code in ("open-line", "shorted-line") and at is not None and at.value is not None:
            word += f" AT {length_text(at.value)}"
        yield Verdict(sign, "", word, (sentence(finding.text), sentence(finding.next_step)), tone)
    excess = find_loss_excess_db(measured)
    if not faults:
        why = f"The sweep is that of one line{_in_short(measured)}."
        compared = "" if excess.value is not None else " Loss not judged: type not told (--type)."
        yield Verdict("✓", "", "NOTHING WRONG FOUND", (why + compared,), "good")
    is_stopped = any(finding.level == "stop" for finding in faults)
    if (
        excess.value is not None
        and not is_stopped
        and not any(finding.code in ("line-loss", "wrong-type") for finding in faults)
    ):
        name, word = ("", "LOSS AS IN YOUR KIT") if _is_own(measured) else (_type_name(measured), AS_TYPE)
        yield Verdict("✓", name, word, (_excess_text(measured, excess),), "good")


def _in_short(measured: LineMeasurement) -> str:
    """How long it is, and what it loses at a low and a high frequency in use."""
    length_m = measured.length_m.value
    if length_m is None:
        return ""
    loses = zip(measured.loss_hz, measured.loss_db, strict=True)
    said = [f"{loss.value:.2f} dB at {f_hz / 1e6:g} MHz" for f_hz, loss in loses if f_hz in LOSS_IN_SHORT_HZ]
    length = f" of {length_text(length_m)}{_openly(measured)}"
    return length + (f"; it loses {', '.join(said)}" if said else "")


def _openly(measured: LineMeasurement) -> str:
    """Between which lengths it is where nothing but the delay tells it."""
    told, length = measured.told, measured.length_m
    known = (told.length_m, told.velocity_factor, told.piece)
    if any(each is not None for each in known) or length.low is None or length.high is None:
        return ""
    return f", or {length_text(length.low)} to {length_text(length.high)}, since no type is told"


def _diagnose(measured: LineMeasurement, sweep: Sweep) -> Command | None:
    """``sweepkit diagnose`` where a lossy joint may be what keeps the sweep from being that of a line."""
    piece, told = measured.told.piece, measured.told
    if piece is None or piece.type is None or told.length_m is None or not may_be_joint(measured):
        return None
    line = f"{piece.type} {told.length_m:g} m"
    far_end = ("--far-end", measured.told_ends[0])
    why = "Whether a joint in it is lossy, and where:"
    return Command(why, ("sweepkit", "diagnose", sweep.source.path or "FILE", *far_end, "--line", line))


def _excess_text(measured: LineMeasurement, excess: Figure) -> str:
    against = f"against {_type_name(measured)} of this length at {frequency_text(compared_hz(measured))}"
    interval = "" if excess.low is None else f" ({excess.low:+.2f} to {excess.high:+.2f})"
    figures = "your own figures in the kit" if _is_own(measured) else "the published figures"
    return f"{excess.value:+.2f}{interval} dB {against}: not clearly off {figures}."


def _is_own(measured: LineMeasurement) -> bool:
    """Whether the loss compared with is the operator's, not that of a catalogued type."""
    return measured.told.piece is not None and measured.told.piece.source == OWN_SOURCE


def _tables(measured: LineMeasurement, record: OwnRecord | None, imperial: bool) -> Iterator[Table | Grid]:
    length, *others = _line_rows(measured, imperial)
    yield Table("The line", (length, *_record_rows(measured, record), *others))
    if measured.length_m.value is not None:
        yield _losses(measured)
    if measured.reflections:
        yield _places(measured, imperial)


def _line_rows(measured: LineMeasurement, imperial: bool) -> Iterator[Row]:
    length = measured.length_m
    row = figure_row("length", length, "m", ".2f")
    if imperial and length.value is not None:
        row = Row(row.name, length_text(length.value, imperial=True), row.interval)
    yield row
    at = f"{measured.middle_hz / 1e6:g} MHz"
    yield figure_row(f"velocity factor at {at}", measured.velocity_factor_in_place, "", ".3f")
    yield figure_row("impedance", measured.z0_ohm, "ohm", ".1f")
    excess = find_loss_excess_db(measured)
    if excess.value is not None:
        at = f"{compared_hz(measured) / 1e6:g} MHz"
        yield figure_row(f"loss over that of {_type_name(measured)}, {at}", excess, "dB", "+.2f")
    apart, far = (
        length_text(length_m, imperial=imperial) for length_m in (measured.resolution_m, measured.range_m)
    )
    yield Row("resolution", apart, "twice that parts two places", more=True)
    yield Row("seen as far as", far, "what lies beyond seems nearer", more=True)


def _record_rows(measured: LineMeasurement, record: OwnRecord | None) -> Iterator[Row]:
    """The loss against what the same piece lost when it was put on record."""
    if record is None or measured.length_m.value is None:
        return
    at_hz = compared_at_hz(measured, record)
    at = "" if at_hz is None else f", {frequency_text(at_hz)}"
    name = f"loss over its own record, {record.when or 'time unknown'}{at}"
    yield figure_row(name, loss_excess_over_record_db(measured, record), "dB", "+.2f")


def _losses(measured: LineMeasurement) -> Grid:
    """Loss over frequency, beside that of the type where one was told."""
    piece = measured.told.piece
    title, columns = "Loss, one way, matched", ["frequency, MHz", "loss, dB", "95 % interval, dB"]
    expected: list[str] = []
    if piece is not None:
        title += f"; expected: {_type_name(measured)} of this length"
        columns.append("expected, dB")
        expected = [f"{loss_db:.2f}" for loss_db in expected_loss_db(measured, piece, measured.loss_hz)[0]]
    rows = []
    for k, (f_hz, loss) in enumerate(zip(measured.loss_hz, measured.loss_db, strict=True)):
        shown = figure_row(f"{f_hz / 1e6:.2f}", loss, "", ".2f")
        rows.append((shown.name, shown.value, shown.interval, *expected[k : k + 1]))
    return Grid(title, tuple(columns), tuple(rows), more=True)


def _places(measured: LineMeasurement, imperial: bool) -> Grid:
    rows = []
    for place in measured.reflections:
        shown = figure_row("", place.distance_m, "", ".2f")
        distance = length_text(place.distance_m.value or 0.0, imperial=imperial)
        rows.append((distance, shown.interval, f"{place.size_db:.0f}", place.looks_like))
    return Grid(
        "Reflections, from the near end; 0 dB is a total one",
        ("distance", "95 % interval, m", "size, dB", "looks like"),
        tuple(rows),
        more=len(rows) < 2,  # the end alone
    )


def _picture(measured: LineMeasurement, sweep: Sweep, number: int) -> Picture:
    from sweepkit.plots.along_line import plot_line

    drawn = plot_line(measured, sweep, size=NARROW, titled=False, brief=True)
    merge = f"nearer than {2 * measured.resolution_m:.2g} m they merge"
    title = f"Reflections along the line, {file_title(sweep.source.path)}; {merge}"
    said = [
        f"{length_text(place.distance_m.value or 0.0)}: {place.looks_like}" for place in measured.reflections
    ]
    words = f"{title}. {'; '.join(said) or 'No place found'}."
    return as_picture(drawn, f"p{number}-line", title, words, shows=["size_db"], readout=0)


def line_readout(measured: LineMeasurement, sweep: Sweep) -> dict[str, Any]:
    """The drawn reflections, point by point; ``start`` is the farthest place that was found."""
    from sweepkit.plots.along_line import trace_line

    distance_m, size_db = trace_line(measured, sweep)
    far_m = max((place.distance_m.value or 0.0 for place in measured.reflections), default=0.0)
    return {
        "distance_m": [round(float(at), 3) for at in distance_m],
        "size_db": [[round(float(size), 2) for size in size_db]],
        "start": int(abs(distance_m - far_m).argmin()),
        "left_out": [],
    }
