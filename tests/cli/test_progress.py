"""Progress: on a terminal only, and out of the way of what is said."""

from __future__ import annotations

import io

from sweepkit.cli.progress import Progress, make_way


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def shown(written: str) -> str:
    """What stands on the line after all that was written to it."""
    line: list[str] = []
    at = 0
    for character in written:
        if character == "\r":
            at = 0
            continue
        line[at : at + 1] = [character]
        at += 1
    return "".join(line).rstrip()


def test_nothing_is_drawn_where_nobody_looks():
    stream = io.StringIO()
    with Progress(100, stream=stream) as progress:
        progress.step("a.s1p")
    assert stream.getvalue() == ""


def test_few_files_need_none():
    stream = Terminal()
    with Progress(3, stream=stream) as progress:
        progress.step("a.s1p")
    assert stream.getvalue() == ""


def test_it_counts_and_goes_away():
    stream = Terminal()
    with Progress(100, stream=stream) as progress:
        progress.step("a.s1p")
        assert shown(stream.getvalue()) == "1 of 100  a.s1p"
        make_way()
        assert shown(stream.getvalue()) == ""
        progress._next_s = 0
        progress.step("\x1b[2Jb.s1p")
        assert shown(stream.getvalue()) == "2 of 100  \\x1b[2Jb.s1p"
    assert shown(stream.getvalue()) == ""
