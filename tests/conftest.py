"""Property tests repeat the same examples; `--hypothesis-profile anew` searches.

The fixtures ``run`` and ``run_process`` run the command line.
"""

from __future__ import annotations

import os

# As the command line does, before numpy is there: threads of several workers stand in each other's way.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import gc
import subprocess
import sys
from collections import Counter
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from hypothesis import settings

from tests.command_line import run_here
from tests.tiers import is_read, tier_of

settings.register_profile("anew", deadline=None)  # how long an example takes decides no test
settings.register_profile("repeatable", settings.get_profile("anew"), derandomize=True, max_examples=50)
settings.load_profile("repeatable")

ROOT = Path(__file__).resolve().parents[1]
SAMPLES = ROOT / "sample_sweeps"

Finished = subprocess.CompletedProcess[str]
Run = Callable[..., Finished]
COLUMNS = "72"


@cache
def _module_of(path: Path) -> str:
    return path.relative_to(ROOT / "tests").with_suffix("").as_posix()


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """A file without a test of the tier asked for is not even read: that takes as long as many a test."""
    if not collection_path.name.startswith("test_") or ROOT / "tests" not in collection_path.parents:
        return None
    return not is_read(_module_of(collection_path), str(config.getoption("markexpr"))) or None


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    cases: Counter[str] = Counter()
    for item in items:
        function = item.nodeid.split("[")[0]
        module = _module_of(item.path)
        tier = tier_of(module, item.name, cases[function])
        cases[function] += 1
        if tier and not item.get_closest_marker("slow"):
            item.add_marker(tier)


def pytest_collection_finish() -> None:
    """Thousands of collected tests are never garbage; looking through them again and again took 5 % of a run."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 20, 50)


@pytest.hookimpl(optionalhook=True)  # where the tests run on one core alone there is no such hook
def pytest_xdist_make_scheduler(config: pytest.Config, log: object) -> object:
    """Tests of a file stay on one core, so that what they share is made once."""
    from xdist.scheduler import LoadFileScheduling

    return LoadFileScheduling(config, log)


@pytest.fixture(scope="session")
def run() -> Run:
    """``run("review", "x.s1p")`` runs the command line here, and gives what a finished process would."""

    def _run(*words: object, columns: str = COLUMNS, cwd: Path | None = None) -> Finished:
        before = os.getcwd()
        with pytest.MonkeyPatch.context() as patch:
            patch.setenv("COLUMNS", columns)
            try:
                os.chdir(cwd or before)
                return run_here(*words)
            finally:
                os.chdir(before)

    return _run


@pytest.fixture(scope="session")
def run_process() -> Run:
    """The same in a process of its own, as a user does; warnings are errors."""

    def _run(*words: object, **kwargs: object) -> Finished:
        environment = {**os.environ, "PYTHONPATH": str(ROOT), "COLUMNS": COLUMNS}
        command = [sys.executable, "-W", "error", "-m", "sweepkit", *map(str, words)]
        return subprocess.run(
            command, capture_output=True, text=True, check=False, env=environment, timeout=120, **kwargs
        )

    return _run


@pytest.fixture(scope="session")
def reviews_made() -> dict[str, Any]:
    """By what they rest on; see ``each_review_once``."""
    return {}


@pytest.fixture
def each_review_once(monkeypatch: pytest.MonkeyPatch, reviews_made: dict[str, Any]) -> None:
    """For tests of what a logbook keeps: its review of the same sweep under the same facts is made once a run."""
    from sweepkit import reviews

    as_ever = reviews.review

    def once(sweep: Any, **told: Any) -> Any:
        if told.get("outing") is not None:  # it rests on other sweeps
            return as_ever(sweep, **told)
        read = (sweep.source.sha256, sweep.f_hz[[0, -1]], sweep.reference_ohm, sweep.phase, sweep.measured_at)
        key = f"{read} {sorted(told.items(), key=str)}"
        if key not in reviews_made:
            reviews_made[key] = as_ever(sweep, **told)
        return reviews_made[key]

    monkeypatch.setattr(reviews, "review", once)


@pytest.fixture(scope="session")
def samples() -> Path:
    return SAMPLES
