"""Text with --explain, Markdown and HTML say the same; without it a terminal shows what is first."""

from __future__ import annotations

import html
import re
from dataclasses import fields, is_dataclass

import pytest

from sweepkit.kit import Kit, assumed_in_short, list_assumptions
from sweepkit.report.page import Command, Page
from sweepkit.report.page_html import page_html
from sweepkit.report.page_markdown import page_markdown
from sweepkit.report.page_text import LEAST_ROWS, page_text
from sweepkit.report.review_page import review_page
from sweepkit.reviews import review
from tests.report.pages import (
    SAMPLES,
    page_of_comparison,
    page_of_diagnosis,
    page_of_line,
    page_of_radials,
    page_of_review,
    page_of_trim,
    repeated,
    sample,
)

# Not words of the answer, or a short form of others that are.
LEFT_OUT = {
    "pictures",
    "readouts",
    "sign",
    "tone",
    "code",
    "level",
    "cautions_in_short",
    "assumed_in_short",
    "columns",
}


def words_of(part: object) -> list[str]:
    """Every text that stands on a page, each once for every time it does."""
    if isinstance(part, str):
        return [part] if part else []
    if isinstance(part, Command):
        return [part.why, *part.quoted]
    if is_dataclass(part):
        return [
            text
            for field in fields(part)
            if field.name not in LEFT_OUT
            for text in words_of(getattr(part, field.name))
        ]
    if isinstance(part, tuple):
        return [text for each in part for text in words_of(each)]
    return []


def plain(text: str) -> str:
    """Without line breaks, indents, marks and the columns of a table."""
    text = re.sub(r"<(script|style|svg)\b.*?</\1>", " ", text, flags=re.DOTALL)
    text = html.unescape(re.sub(r"</?[a-z][^>]*>", " ", text))
    return re.sub(r"[\s|]+", " ", text)


def review_of(name, **known):
    answer = review(sample(name), draws=20, **known)
    return review_page(answer, assumed=("what is assumed",), assumed_in_short="short", pictures=False)


PAGES = {
    "direct": lambda: review_of("ridge_dipole_40m.s1p", measured_at="feedpoint"),
    "partly": lambda: review_of("meadow_vertical_1.s1p", lines=["RG-58 12 m"]),
    "coarse": lambda: review_of("spit_whip_40m_coarse.s1p"),
    "broken": lambda: review_of("broken_line.s1p", lines=["RG-58 20 m"]),
    "repeats": lambda: page_of_review(repeated(), pictures=False),
    "trim": lambda: page_of_trim(pictures=False),
    "cut": lambda: page_of_trim(by="cut", pictures=False),
    "line": lambda: page_of_line("spool_open.s1p", "spool_short.s1p", pictures=False),
    "broken line": lambda: page_of_line("broken_line.s1p", pictures=False),
    "comparison": lambda: page_of_comparison(pictures=False),
    "radials": page_of_radials,
    "diagnosis": lambda: page_of_diagnosis(pictures=False),
}


@pytest.fixture(scope="module", params=PAGES)
def page(request) -> Page:
    return PAGES[request.param]()


@pytest.mark.parametrize("width", [40, 72])
def test_every_format_says_all(page, width):
    wanted = words_of(page)
    assert len(wanted) > 20
    text = re.sub(r" \\\n", "\n", page_text(page, width=width, explain=True))
    markdown = re.sub(r"\\([^A-Za-z0-9\s])", r"\1", page_markdown([page]))
    shown = {"text": plain(text), "markdown": plain(markdown), "html": plain(page_html([page]))}
    for words in wanted:
        for name, whole in shown.items():
            glued = name == "text" and " " not in words and len(words) > width - 10  # a long word is broken
            assert re.sub(r"[\s|]+", "" if glued else " ", words).strip() in (
                whole.replace(" ", "") if glued else whole
            ), f"{name} lacks {words!r}"


def test_what_is_first_is_part_of_all_and_fits_forty_columns(page):
    first = page_text(page, width=40)
    assert max(map(len, first.splitlines())) <= 40 or page.command is not None or page.blocks
    assert len(first.splitlines()) <= len(page_text(page, width=40, explain=True).splitlines())


@pytest.mark.parametrize("path", sorted(SAMPLES.glob("*.s1p")), ids=lambda path: path.stem)
@pytest.mark.parametrize("known", [{}, {"measured_at": "feedpoint"}, {"lines": ["RG-58 12 m"]}], ids=str)
def test_one_file_and_one_band_fit_fifteen_lines(path, known):
    from sweepkit.bands import find_band, read_bands

    sweep = sample(path.name, path.name)
    bands = [
        band for band in read_bands(region=1) if sweep.f_hz[0] < band.high_hz and band.low_hz < sweep.f_hz[-1]
    ]
    band = find_band(read_bands(region=1), "40 m") if any(b.name == "40 m" for b in bands) else bands[0]
    told = [word for line in known.get("lines", []) for word in ("--line", line)]
    answer = review(sweep, bands=(band,), draws=50, **known)
    page = review_page(
        answer, assumed=list_assumptions(Kit()), assumed_in_short=assumed_in_short(Kit()), told=told, pictures=False
    )  # fmt: skip
    text = page_text(page)
    assert len(text.splitlines()) <= 15, text


@pytest.mark.parametrize(("by", "most"), [("fold", 15), ("cut", 17)])
def test_a_trim_of_one_place_is_short_and_keeps_every_caution(by, most):
    page = page_of_trim(by=by, pictures=False)
    text = page_text(page)
    assert len(text.splitlines()) <= most, text
    for caution in page.cautions:
        assert caution in plain(text)
    rows = [row for row in page.tables[0].rows if not row.more]
    assert all(f"{row.name} {row.value}" in plain(text) for row in rows[:LEAST_ROWS])
    assert all(row.value in plain(page_text(page, explain=True)) for row in rows)


def test_many_findings_leave_room_for_the_answer_and_are_counted():
    from dataclasses import replace

    from sweepkit.findings import Finding

    answer = review(sample("ridge_dipole_40m.s1p"), measured_at="feedpoint", draws=20)
    many = tuple(Finding("jagged", "warning", f"seen {k} " + "word " * 30, "step " * 30) for k in range(4))
    page = review_page(replace(answer, findings=many), assumed_in_short="short", pictures=False)
    text, whole = page_text(page), page_text(page, explain=True)
    assert len(text.splitlines()) <= 15
    assert ("seen 0" in text, "seen 1" in text, "and 3 more" in text) == (True, False, True)
    assert all(f"seen {k}" in whole for k in range(4))
    assert "and 3 more" not in whole
