"""Pages of each command from the sample sweeps, with a file name of choice."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from pathlib import Path

from sweepkit.comparison import compare_setups, setups_from_sweeps
from sweepkit.diagnosis.diagnose import diagnose
from sweepkit.feedline.line_findings import find_line_faults
from sweepkit.feedline.measure import LineMeasurement, measure_line
from sweepkit.feedline.told import Told
from sweepkit.findings import Finding
from sweepkit.readers import read_sweep
from sweepkit.report.compare_page import compare_page
from sweepkit.report.diagnose_page import diagnose_page
from sweepkit.report.line_page import line_page
from sweepkit.report.page import Page
from sweepkit.report.provenance import Made
from sweepkit.report.review_page import review_page
from sweepkit.report.trim_page import trim_page
from sweepkit.reviews import Review, review, review_repeats, review_setup
from sweepkit.sweep import Sweep
from sweepkit.trim.from_sweep import TrimAnswer, plan_trim
from sweepkit.trim.wire import EarlierState

SAMPLES = Path(__file__).resolve().parents[2] / "sample_sweeps"
MADE = Made(command="sweepkit by hand", draws=100, seed=0)
VERTICAL_M = {"meadow_vertical_1.s1p": 5.3, "meadow_vertical_2.s1p": 5.15, "meadow_vertical_3.s1p": 5.08}


def sample(name: str, path: str = "") -> Sweep:
    """A sample sweep, under another path where one is given."""
    sweep = read_sweep(SAMPLES / name)
    return replace(sweep, source=replace(sweep.source, path=path)) if path else sweep


@lru_cache
def trimmed(path: str = "", *, by: str | None = None) -> tuple[TrimAnswer, tuple[Sweep, ...]]:
    """A plan for the vertical from its second sweep and the first."""
    first = sample("meadow_vertical_1.s1p", path)
    earlier = EarlierState(first.source.path, VERTICAL_M["meadow_vertical_1.s1p"], False, "cut")
    answer = plan_trim(
        sample("meadow_vertical_2.s1p", path),
        kind="vertical",
        length_m=VERTICAL_M["meadow_vertical_2.s1p"],
        target_hz=14.15e6,
        by=by,
        lines=["RG-58 12 m"],
        measured_at="radio",
        earlier=[(earlier, first)],
        draws=100,
    )
    return answer, (first,)


@lru_cache
def page_of_trim(path: str = "", *, by: str | None = None, pictures: bool = True) -> Page:
    """As ``sweepkit trim --report`` has it."""
    answer, earlier = trimmed(path, by=by)
    return trim_page(answer, earlier=earlier, made=MADE, pictures=pictures)


@lru_cache
def measured(*names: str, path: str = "") -> tuple[LineMeasurement, tuple[Finding, ...], tuple[Sweep, ...]]:
    """A line of the samples; the name of each file tells its far end."""
    sweeps = tuple(sample(name, path) for name in names)
    ends = [name.removesuffix(".s1p").rsplit("_", 1)[-1] for name in names]
    told = [
        (sweep, end if end in ("open", "short") else "unknown")
        for sweep, end in zip(sweeps, ends, strict=True)
    ]
    line = measure_line(told, Told(velocity_factor=0.66), draws=100)
    return line, tuple(find_line_faults(line)), sweeps


@lru_cache
def page_of_line(*names: str, path: str = "", pictures: bool = True) -> Page:
    """As ``sweepkit feedline --report`` has it."""
    line, findings, sweeps = measured(*names, path=path)
    return line_page(line, findings, sweeps, made=MADE, pictures=pictures)


@lru_cache
def repeated(path: str = "") -> Review:
    """The dipole three times, the second moved a little."""
    sweep = sample("ridge_dipole_40m.s1p", path)
    moved = [sweep if k == 0 else _moved(sweep, k) for k in range(3)]
    return review_repeats(moved, measured_at="feedpoint", lines=["RG-58 15 m"], draws=100)


def _moved(sweep: Sweep, k: int) -> Sweep:
    gamma = sweep.gamma * (1 + 0.002 * k)
    source = replace(sweep.source, path=sweep.source.path.replace("40m", f"40m_{k}"), sha256=f"{k}" * 64)
    return replace(sweep, gamma=gamma, gamma_abs=abs(gamma), source=source)


@lru_cache
def one_setup() -> Review:
    """Two bands of what is said to be one setup."""
    names = ("ridge_dipole_40m.s1p", "meadow_vertical_3.s1p")
    return review_setup([sample(name) for name in names], draws=100)


def page_of_review(review: Review, *, pictures: bool = True) -> Page:
    """As ``sweepkit review --report`` has it."""
    return review_page(review, made=MADE, pictures=pictures)


@lru_cache
def page_of_comparison(path: str = "", *, pictures: bool = True) -> Page:
    """As ``sweepkit compare --report`` has it: two setups of the vertical; the hostile path names both."""
    sweeps = [sample("meadow_vertical_1.s1p", path), sample("meadow_vertical_3.s1p", path)]
    told = {"antenna": path or "meadow-vertical", "kind": "vertical", "site": path or "meadow"}
    setups = setups_from_sweeps(sweeps, told=told, lines=["RG-58 12 m"], draws=50)
    return compare_page(compare_setups(setups), sweeps=sweeps, logbook=path, made=MADE, pictures=pictures)


@lru_cache
def page_of_radials() -> Page:
    """The same by radials, of the sample outing."""
    files = sorted((SAMPLES / "outings").glob("*radial*/*.s1p"))
    setups = setups_from_sweeps([read_sweep(file) for file in files], draws=50)
    return compare_page(compare_setups(setups, by="radials"), made=MADE)


@lru_cache
def page_of_diagnosis(path: str = "", *, pictures: bool = True) -> Page:
    """As ``sweepkit diagnose --report`` has it."""
    good, now = sample("meadow_vertical_3.s1p", path), sample("meadow_vertical_2.s1p", path)
    known = {"lines": ["RG-58 12 m"], "draws": 50}
    diagnosis = diagnose([now], baseline=good, kind="vertical", rung="joined-anew", **known)
    reviews = [review(sweep, **known) for sweep in (good, now)] if pictures else []
    return diagnose_page(diagnosis, [good, now], reviews=reviews, made=MADE)
