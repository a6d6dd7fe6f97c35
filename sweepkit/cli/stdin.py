"""A sweep handed over on stdin: ``-`` where a file is named."""

from __future__ import annotations

import os
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

from sweepkit.errors import BadInput, SweepkitError
from sweepkit.sweep import Sweep

STDIN = "-"


def read_named(path: Path, **hints: Any) -> Sweep:
    """The sweep of a file, or of stdin where ``-`` is named.

    ``**hints``: hints of :func:`sweepkit.readers.read_sweep`.
    """
    from sweepkit.readers import read_sweep

    return read_sweep(path, **hints) if str(path) != STDIN else read_piped(**hints)[0]


def read_piped(**hints: Any) -> tuple[Sweep, bytes]:
    """The sweep on stdin, and its bytes as they came."""
    from sweepkit.readers import read_sweep

    data = _all_that_comes()
    copy = _spooled(data)
    try:
        sweep = read_sweep(copy, **hints)
        return replace(sweep, source=replace(sweep.source, path=STDIN)), data
    except SweepkitError as error:
        error.path = STDIN
        raise
    finally:
        os.unlink(copy)


def _all_that_comes() -> bytes:
    if sys.stdin.isatty():
        raise BadInput("nothing is piped in; a sweep was expected on stdin; name a file", path=STDIN)
    data = sys.stdin.buffer.read()
    if not data.strip():
        raise BadInput(
            "stdin is empty, or was read already; a sweep was expected; name a file, or pipe one in",
            path=STDIN,
        )
    return data


def _spooled(data: bytes) -> str:
    """A copy, since a file is looked at more than once."""
    import tempfile

    handle, name = tempfile.mkstemp(prefix="sweepkit-")
    with os.fdopen(handle, "wb") as copy:
        copy.write(data)
    return name
