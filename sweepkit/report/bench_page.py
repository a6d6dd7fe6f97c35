"""A box measured on the bench as a page: its loss first, figures, the block for the kit, provenance."""

from __future__ import annotations

from collections.abc import Sequence

from sweepkit.bench.answer import is_known, kit_block
from sweepkit.bench.measure import Bench
from sweepkit.cautions import ANALYZER, NO_DIRECT_CURRENT, POWER_OFF
from sweepkit.quantities import frequency_text
from sweepkit.report.page import Block, Grid, Page, Verdict, file_title, sentence
from sweepkit.report.provenance import Made, list_provenance
from sweepkit.sweep import Sweep

NAMES = {
    "transformer": "transformer",
    "pair": "each of two alike, back to back",
    "choke": "choke",
    "adapter": "adapter",
}
BETTER = "from the load alone; the far side open and shorted as well would tell more"


def bench_page(
    bench: Bench, sweeps: Sequence[Sweep], *, name: str, made: Made | None = None, pictures: bool = True
) -> Page:
    """The page of one box, under the operator's own name; it has no ``pictures``."""
    block = kit_block(bench, name=name)
    return Page(
        title=f"Box: {', '.join(file_title(sweep.source.path) for sweep in sweeps)}",
        subtitle=NAMES[bench.what]
        + (f", {bench.ratio:g}:1" if bench.what in ("transformer", "pair") else ""),
        verdicts=(_verdict(bench), *(_finding(bench, k) for k in range(len(bench.findings)))),
        tables=(_table(bench),),
        blocks=(Block("For your kit.toml", block),) if block else (),
        cautions=(POWER_OFF, ANALYZER, NO_DIRECT_CURRENT),
        cautions_title="Before you touch it",
        provenance=list_provenance(sweeps, made or Made()),
    )


def _verdict(bench: Bench) -> Verdict:
    """The middle of the span in one line."""
    if any(finding.code == "loss-contradicts" for finding in bench.findings):
        return Verdict("!", "", "CANNOT SAY", ("More would come out than goes in.",), "fair")
    if bench.what == "choke":
        return _choke_verdict(bench)
    k = len(bench.f_hz) // 2
    at = frequency_text(bench.f_hz[k])
    said = (f"At {at}.",) if bench.exact else (f"At {at}, {BETTER}.",)
    return Verdict("✓", "", f"LOSES {bench.loss_db[k].text('.2f', 'dB')}", said, "good")


def _choke_verdict(bench: Bench) -> Verdict:
    """What it has nearest the middle of the span where the analyzer tells it, else how much at least."""
    known = [k for k, pair in enumerate(zip(bench.r_ohm, bench.x_ohm, strict=True)) if is_known(*pair)]
    if not known:
        word = "CANNOT SAY" if bench.least_ohm is None else f"{bench.least_ohm:.0f} ohm OR MORE"
        return Verdict("?", "", word, ("This analyzer tells its R and X nowhere in the span.",), "unknown")
    k = min(known, key=lambda k: abs(k - len(bench.f_hz) // 2))
    word = f"R {bench.r_ohm[k].text('.0f')}, X {bench.x_ohm[k].text('.0f', 'ohm')}"
    return Verdict("✓", "", word, (f"At {frequency_text(bench.f_hz[k])}.",), "good")


def _finding(bench: Bench, k: int) -> Verdict:
    finding = bench.findings[k]
    said = "NOTE" if finding.level == "note" else "DOES NOT FIT"
    return Verdict("!", "", said, (sentence(finding.text), sentence(finding.next_step)), "fair")


def _table(bench: Bench) -> Grid:
    own = "" if bench.what == "choke" else " with its load"
    columns = ["MHz", *([] if bench.what == "choke" else ["loss, dB"]), f"R{own}, ohm", f"X{own}, ohm"]
    rows = []
    for k, f_hz in enumerate(bench.f_hz):
        loss = [] if bench.what == "choke" else [bench.loss_db[k].text(".2f")]
        rows.append((f"{f_hz / 1e6:.3f}", *loss, bench.r_ohm[k].text(".1f"), bench.x_ohm[k].text(".1f")))
    return Grid("Over frequency", tuple(columns), tuple(rows), more=True)
