"""The command line in this process: what a finished process would give."""

from __future__ import annotations

import io
import subprocess
import sys
from contextlib import redirect_stderr, redirect_stdout
from unittest.mock import patch


def run_here(*words: object) -> subprocess.CompletedProcess[str]:
    """``run_here("review", "x.s1p")``; ``tests/cli/test_start_up.py`` runs real processes."""
    from sweepkit.cli.main import main

    command = ["sweepkit", *map(str, words)]
    out, err = io.StringIO(), io.StringIO()
    with patch.object(sys, "argv", command), redirect_stdout(out), redirect_stderr(err):
        try:
            main()
            code = 0
        except SystemExit as end:
            code = end.code if isinstance(end.code, int) else 0 if end.code is None else 1
    return subprocess.CompletedProcess(command, code, out.getvalue(), err.getvalue())
