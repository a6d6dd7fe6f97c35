"""Property tests search anew on a contributor's machine; where CI is set they repeat the same examples.

The fixture ``run`` runs the command line as a user does: in a process of its own.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import settings

settings.register_profile("repeatable", derandomize=True)
if os.environ.get("CI"):
    settings.load_profile("repeatable")

ROOT = Path(__file__).resolve().parents[1]
SAMPLES = ROOT / "sample_sweeps"

Run = Callable[..., "subprocess.CompletedProcess[str]"]


@pytest.fixture(scope="session")
def run() -> Run:
    """``run("review", "x.s1p")`` gives the finished process."""

    def _run(*words: object, **kwargs: object) -> subprocess.CompletedProcess[str]:
        environment = {**os.environ, "PYTHONPATH": str(ROOT), "COLUMNS": "72"}
        command = [sys.executable, "-W", "error", "-m", "sweepkit", *map(str, words)]
        return subprocess.run(
            command, capture_output=True, text=True, check=False, env=environment, timeout=120, **kwargs
        )

    return _run


@pytest.fixture(scope="session")
def samples() -> Path:
    return SAMPLES
