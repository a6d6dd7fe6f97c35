"""The command line in this process: what a finished process would give."""

from __future__ import annotations

import io
import os
import subprocess
import sys
from collections.abc import Callable
from contextlib import redirect_stderr, redirect_stdout
from functools import cache
from typing import Any
from unittest.mock import patch


def run_here(*words: object) -> subprocess.CompletedProcess[str]:
    """``run_here("review", "x.s1p")``; ``tests/cli/test_start_up.py`` runs real processes."""
    from sweepkit.cli import main

    as_ever = main.command_line

    def made(*names: str) -> Any:
        return _made(as_ever, names, os.environ.get("COLUMNS"))

    command = ["sweepkit", *map(str, words)]
    out, err = io.StringIO(), io.StringIO()
    with (
        patch.object(sys, "argv", command),
        patch.object(main, "command_line", made),
        redirect_stdout(out),
        redirect_stderr(err),
    ):
        try:
            main.main()
            code = 0
        except SystemExit as end:
            code = end.code if isinstance(end.code, int) else 0 if end.code is None else 1
    return subprocess.CompletedProcess(command, code, out.getvalue(), err.getvalue())


@cache
def _made(command_line: Callable[..., Any], names: tuple[str, ...], _columns: str | None) -> Any:
    """Commands as typer makes them, once for each width: that takes longer than many a command."""
    from typer.main import get_command

    return get_command(command_line(*names))
