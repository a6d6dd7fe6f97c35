"""What every command prints: within the width of the terminal, nothing lost in a narrow one, in words of the trade."""

from __future__ import annotations

import re

import pytest

from tests.cli.everyday_lines import HELP, LINES, LOGGED, words_of

# Words of statistics and of the code, and forms of numbers nobody says.
JARGON = re.compile(
    r"\b(statistic|degrees of freedom|posterior|prior|likelihood|quantile|percentile|p-value|ensemble|moebius"
    r"|chi-squared|off the circle|rms|cell)\b|\w less \w+$|\de[+-]\d|(?<![\d.])-0(\.0+)? (%|dB|kHz|ohm)|\d % 1 other",
    re.IGNORECASE | re.MULTILINE,
)
OF_THE_CODE = re.compile(r"\b(None|nan|inf|True|False)\b")
WIDTHS = (40, 72, 120)
HEADINGS = {
    "figure",
    "difference",
    "sweep",
    "cause",
    "weight",
    "distance",
    "frequency",
}  # of columns; where each stands by itself they say nothing


@pytest.fixture(scope="module")
def logged(run, samples, tmp_path_factory):
    """A logbook of some sample outings."""
    log = tmp_path_factory.mktemp("log") / "station.sqlite"
    outings = [
        samples / "outings" / name
        for name in ("2026-04-18_ridge_dipole", "2026-05-16_ridge_dipole", "2026-05-30_meadow_dipole")
    ]
    assert run("log", "add", *outings, "--log", log).returncode == 0
    return log


def texts_of(run, samples, words):
    done = {width: run(*words, columns=str(width), cwd=samples) for width in WIDTHS}
    assert {each.returncode for each in done.values()} == {0}, done[72].stderr
    return {width: each.stdout for width, each in done.items()}


def check(texts):
    for width, text in texts.items():
        long = [line.rstrip(" \\") for line in text.splitlines() if len(line) > width]
        broken = [
            line for line in long if max(map(len, line.split())) < 0.75 * width
        ]  # no word is: a path, a checksum
        assert broken == []
        assert [found.group() for words in (JARGON, OF_THE_CODE) for found in words.finditer(text)] == []
    whole = said(texts[120]) - HEADINGS
    for width in (40, 72):
        assert whole - said(texts[width]) == set()


def said(text):
    """Its words; how a command line is broken and where a sentence ends is no matter."""
    without_clock = re.sub(r"\b\d\d:\d\d\b", "", text)
    joined = re.sub(r"(?<=\w)-\n\s*", "-", without_clock.replace("\\\n", " "))
    return {word.strip(".,:;()") for word in joined.split()}


@pytest.mark.parametrize("line", LINES)
def test_an_answer(run, samples, line):
    check(texts_of(run, samples, words_of(line)))


@pytest.mark.parametrize(
    "line", [line for line in LINES if "--card" not in line and not line.startswith("kit")]
)
def test_all_of_an_answer(run, samples, line):
    check(texts_of(run, samples, [*words_of(line), "--explain"]))


@pytest.mark.parametrize("line", LOGGED)
def test_an_answer_from_the_logbook(run, samples, logged, line):
    check(texts_of(run, samples, [*words_of(line), "--log", logged]))


@pytest.mark.parametrize("name", HELP)
def test_help(run, samples, name):
    check(texts_of(run, samples, [*name.split(), "--help"]))
