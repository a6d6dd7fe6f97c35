"""Pages of trim, feedline, repeats and setups as a browser shows them."""

from __future__ import annotations

import json
import time

import numpy as np
import pytest

from sweepkit.report.page_html import page_html
from tests.report.conftest import HOSTILE
from tests.report.pages import (
    measured,
    one_setup,
    page_of_comparison,
    page_of_diagnosis,
    page_of_line,
    page_of_radials,
    page_of_review,
    page_of_trim,
    repeated,
)
from tests.report.test_page_in_browser import opened, point_at, unprintable

SPOOL = ("spool_open.s1p", "spool_short.s1p")
PAGES = {
    "trim": page_of_trim,
    "line": lambda: page_of_line(*SPOOL),
    "repeats": lambda: page_of_review(repeated()),
    "setup": lambda: page_of_review(one_setup()),
    "comparison": page_of_comparison,
    "radials": page_of_radials,
    "diagnosis": page_of_diagnosis,
}
WITHOUT_READOUT = ("comparison", "radials", "diagnosis")


@pytest.mark.parametrize("name", PAGES)
def test_it_fits_a_phone_and_a_desk_and_the_console_is_quiet(browser, tmp_path, name):
    for width in (360, 1200):
        page = opened(browser, tmp_path / "a.html", page_html([PAGES[name]()]), width=width)
        time.sleep(0.1)
        assert page.get_log("browser") == []
        assert page.execute_script("return document.documentElement.scrollWidth") <= width
        sizes = page.execute_script(
            "return [...document.querySelectorAll('svg text')].map(t => t.getBoundingClientRect().height)"
        )
        assert min(sizes) > 7.5  # px
        shown = [output.text for output in page.find_elements("css selector", "output")]
        assert all(shown)
        assert bool(shown) == (name not in WITHOUT_READOUT)


def test_the_readout_of_a_line_shows_the_nearest_distance(browser, tmp_path):
    page = opened(browser, tmp_path / "a.html", page_html([page_of_line(*SPOOL)]))
    figure = page.find_element("css selector", "figure[data-readout]")
    frame = json.loads(figure.get_attribute("data-frame"))
    script = page.find_element("css selector", "script[type='application/json']")
    values = json.loads(script.get_attribute("textContent"))
    line, _, _ = measured(*SPOOL)
    at_m = line.length_m.value
    x = frame["left"] + (at_m - frame["x"][0]) / (frame["x"][1] - frame["x"][0]) * (
        frame["right"] - frame["left"]
    )
    point_at(page, figure, x=x, y=frame["top"] + 5)
    k = int(np.argmin(np.abs(np.array(values["distance_m"]) - at_m)))
    said = figure.find_element("css selector", "output").text.replace("−", "-")
    assert f"{values['distance_m'][k]:.2f} m" in said
    assert f"{values['size_db'][0][k]:.1f} dB" in said


def test_the_readout_of_a_trim_page_is_that_of_its_sweep(browser, tmp_path):
    page = opened(browser, tmp_path / "a.html", page_html([page_of_trim()]))
    figure = page.find_element("css selector", "figure[id$=swr]")
    frame = json.loads(figure.get_attribute("data-frame"))
    point_at(page, figure, x=frame["right"], y=frame["top"] + 5)
    assert figure.find_element("css selector", "output").text.startswith("15.600 MHz")
    point_at(page, figure, x=frame["left"], y=frame["top"] + 5)
    assert figure.find_element("css selector", "output").text.startswith("12.600 MHz")


@pytest.mark.parametrize(
    "make",
    [
        lambda: page_of_trim(HOSTILE),
        lambda: page_of_line(*SPOOL, path=HOSTILE),
        lambda: page_of_review(repeated(HOSTILE)),
        lambda: page_of_comparison(HOSTILE),
        lambda: page_of_diagnosis(HOSTILE),
    ],
    ids=["trim", "line", "repeats", "comparison", "diagnosis"],
)
def test_a_hostile_file_runs_nothing(browser, tmp_path, make):
    page = opened(browser, tmp_path / "a.html", page_html([make()]))
    time.sleep(0.1)
    assert page.execute_script("return window.hacked === undefined")
    assert page.get_log("browser") == []
    assert len(page.find_elements("css selector", "script:not([type])")) == 1
    assert page.find_elements("css selector", "img, [onerror], [onload]") == []
    assert unprintable(page) == set()
