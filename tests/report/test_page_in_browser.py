"""The page as a browser shows it."""

from __future__ import annotations

import json
import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from sweepkit.report.page_html import page_html
from sweepkit.report.review_page import review_page
from tests.report.conftest import HOSTILE


def opened(browser: Any, path: Path, text: str, *, width: int = 360, mobile: bool = True) -> Any:
    """The page, loaded at a width."""
    path.write_text(text, encoding="utf-8")
    browser.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride",
        {"width": width, "height": 740, "deviceScaleFactor": 2, "mobile": mobile},
    )
    for log in ("browser", "performance"):
        browser.get_log(log)
    browser.get(path.as_uri())
    return browser


def point_at(browser: Any, figure: Any, *, x: float, y: float, kind: str = "pointermove") -> None:
    """A pointer over a place of the drawing, in its own units."""
    browser.execute_script(
        """
        const svg = arguments[0].querySelector('svg');
        const at = new DOMPoint(arguments[1], arguments[2]).matrixTransform(svg.getScreenCTM());
        svg.dispatchEvent(new PointerEvent(arguments[3], {clientX: at.x, clientY: at.y, bubbles: true, pointerId: 1}));
        """,
        figure,
        x,
        y,
        kind,
    )


def test_the_readout_shows_the_nearest_point(browser, dipole, tmp_path):
    page = opened(browser, tmp_path / "a.html", page_html([review_page(dipole)]))
    figure = page.find_element("css selector", "figure[id$=swr]")
    frame = json.loads(figure.get_attribute("data-frame"))
    f_hz, gamma = dipole.sweep.f_hz, dipole.sweep.gamma
    for share in (0.0, 0.31, 0.5, 0.777, 1.0):
        x = frame["left"] + share * (frame["right"] - frame["left"])
        point_at(page, figure, x=x, y=frame["top"] + 5)
        f_mhz = frame["x"][0] + share * (frame["x"][1] - frame["x"][0])
        k = int(np.argmin(np.abs(f_hz / 1e6 - f_mhz)))
        swr = (1 + abs(gamma[k])) / (1 - abs(gamma[k]))
        z_ohm = 50 * (1 + gamma[k]) / (1 - gamma[k])
        text = figure.find_element("css selector", "output").text
        assert text.startswith(f"{f_hz[k] / 1e6:.3f} MHz")
        assert f"SWR {swr:.2f} (" in text
        assert f"R {z_ohm.real:.1f} ohm (" in text
        assert f"X {z_ohm.imag:.1f} ohm (".replace("-", "−") in text


def test_the_interval_of_the_readout_holds_the_value(dipole):
    readout = review_page(dipole).readouts[0]
    value, low, high = (np.array(column) for column in readout["swr"])
    assert ((low <= value) & (value <= high)).all()
    assert (low < high).all()


def test_on_the_smith_chart_the_nearest_point_is_that_in_the_plane(browser, dipole, tmp_path):
    page = opened(browser, tmp_path / "a.html", page_html([review_page(dipole)]))
    figure = page.find_element("css selector", "figure[id$=smith]")
    frame = json.loads(figure.get_attribute("data-frame"))
    gamma = dipole.sweep.gamma[30]
    x = frame["left"] + (gamma.real - frame["x"][0]) / (frame["x"][1] - frame["x"][0]) * (
        frame["right"] - frame["left"]
    )
    y = frame["bottom"] - (gamma.imag - frame["y"][0]) / (frame["y"][1] - frame["y"][0]) * (
        frame["bottom"] - frame["top"]
    )
    point_at(page, figure, x=x, y=y, kind="pointerdown")
    assert figure.find_element("css selector", "output").text.startswith(
        f"{dipole.sweep.f_hz[30] / 1e6:.3f} MHz"
    )


def test_arrow_keys_move_the_readout_and_say_it(browser, dipole, tmp_path):
    from selenium.webdriver.common.keys import Keys

    page = opened(browser, tmp_path / "a.html", page_html([review_page(dipole)]))
    slider = page.find_element("css selector", "figure[id$=swr] input")
    before = int(slider.get_attribute("value"))
    slider.send_keys(Keys.ARROW_RIGHT)
    assert int(slider.get_attribute("value")) == before + 1
    expected = f"{dipole.sweep.f_hz[before + 1] / 1e6:.3f} MHz"
    assert slider.get_attribute("aria-valuetext").startswith(expected)
    others = page.find_elements("css selector", "[data-readout] output")
    assert len(others) == 3
    assert all(other.text.startswith(expected) for other in others)


@pytest.mark.parametrize("width", [360, 800, 1400])
def test_nothing_sticks_out_of_the_page(browser, dipole, tmp_path, width):
    page = opened(browser, tmp_path / "a.html", page_html([review_page(dipole)]), width=width)
    assert page.execute_script("return document.documentElement.scrollWidth") <= width
    sizes = page.execute_script(
        "return [...document.querySelectorAll('svg text')].map(t => t.getBoundingClientRect().height)"
    )
    assert min(sizes) >= 11  # px, with the height of the line: no text of a picture is smaller
    answer = page.find_element("css selector", ".answer")
    assert float(answer.value_of_css_property("font-size").removesuffix("px")) >= 30


def test_the_slid_dip_shows_what_python_computed_for_each_place(browser, dipole, tmp_path):
    from selenium.webdriver.common.keys import Keys

    made = review_page(dipole)
    moves = next(picture.moves for picture in made.pictures if picture.moves)
    page = opened(browser, tmp_path / "a.html", page_html([made]))
    figure = page.find_element("css selector", "figure[data-moves]")
    slider, output = (figure.find_element("css selector", name) for name in ("input", "output"))
    line = figure.find_element("css selector", ".cursor path:last-child")
    assert output.text == moves["words"][moves["now"]]
    before = line.get_attribute("d")
    slider.send_keys(Keys.ARROW_RIGHT)
    assert output.text == slider.get_attribute("aria-valuetext") == moves["words"][moves["now"] + 1]
    assert line.get_attribute("d") != before
    slider.send_keys(Keys.END)
    assert output.text == moves["words"][-1]
    frame = json.loads(figure.get_attribute("data-frame"))
    value = moves["swr"][-1][0]
    k = next(k for k, swr in enumerate(value) if swr is not None)
    x, y = map(float, line.get_attribute("d").removeprefix("M").split("L")[0].split())
    along = frame["x"][0] + (x - frame["left"]) / (frame["right"] - frame["left"]) * (
        frame["x"][1] - frame["x"][0]
    )
    share = (frame["bottom"] - y) / (frame["bottom"] - frame["top"])
    assert along == pytest.approx(moves["mhz"][k], abs=0.002)
    shown = frame["y"][0] * (frame["y"][1] / frame["y"][0]) ** share
    assert shown == pytest.approx(min(value[k], frame["y"][1]), rel=0.01)


def test_the_slider_is_large_enough_for_a_finger(browser, dipole, tmp_path):
    page = opened(browser, tmp_path / "a.html", page_html([review_page(dipole)]))
    # 44 CSS px: WCAG 2.1, success criterion 2.5.5
    assert page.find_element("css selector", "input").size["height"] >= 44


def test_no_console_errors_and_no_request_leaves_the_page(browser, dipole, tmp_path):
    path = tmp_path / "a.html"
    page = opened(browser, path, page_html([review_page(dipole)]))
    time.sleep(0.3)
    assert page.get_log("browser") == []
    events = [json.loads(entry["message"])["message"] for entry in page.get_log("performance")]
    asked = [
        event["params"]["request"]["url"]
        for event in events
        if event["method"] == "Network.requestWillBeSent"
    ]
    assert path.as_uri() in asked
    assert [url for url in asked if url != path.as_uri() and not url.startswith("data:")] == []


def test_a_hostile_file_runs_nothing(browser, hostile, tmp_path):
    page = opened(browser, tmp_path / "a.html", page_html([review_page(hostile)]))
    time.sleep(0.3)
    assert page.execute_script("return window.hacked === undefined")
    assert page.get_log("browser") == []
    assert len(page.find_elements("css selector", "script:not([type])")) == 1
    assert page.find_elements("css selector", "img, [onerror], [onload]") == []
    shown = page.find_element("css selector", "h1").text
    assert shown == HOSTILE.rsplit("/", 1)[-1].replace("\u202e", r"\u202e")
    assert not unprintable(page)


def unprintable(page: Any) -> set[str]:
    """What the browser holds, in texts and attributes, that could rule a terminal or turn the writing."""
    held = page.execute_script(
        """
        const texts = [document.title, document.documentElement.textContent];
        for (const e of document.querySelectorAll('*'))
            for (const a of e.attributes) texts.push(a.value);
        return texts.join('');
        """
    )
    return {letter for letter in held if not letter.isprintable()} - {"\n"}


def test_the_policy_stops_what_the_template_would_let_through(browser, dipole, tmp_path):
    text = page_html([review_page(dipole)])
    planted = text.replace(
        "<main>", "<main><script>window.hacked=1</script><img src='https://example.org/x.png'>"
    )
    page = opened(browser, tmp_path / "a.html", planted)
    assert page.execute_script("return window.hacked === undefined")
    assert len(page.get_log("browser")) >= 2  # the browser says what it refused


def test_every_picture_has_words_and_every_section_a_name(browser, dipole, tmp_path):
    page = opened(browser, tmp_path / "a.html", page_html([review_page(dipole)]))
    labels = [image.get_attribute("aria-label") for image in page.find_elements("css selector", "[role=img]")]
    assert len(labels) == 4
    assert sum("7.094 MHz, SWR 1.52" in label for label in labels) == 3
    assert sum("dip 7.094 MHz" in label for label in labels) == 1
    missing = page.execute_script(
        "return [...document.querySelectorAll('[aria-labelledby]')]"
        ".filter(e => !document.getElementById(e.getAttribute('aria-labelledby'))).length"
    )
    assert missing == 0
    double = page.execute_script(
        "const ids = [...document.querySelectorAll('[id]')].map(e => e.id); return ids.length - new Set(ids).size"
    )
    assert double == 0


def test_two_sweeps_on_one_page_have_a_readout_each(browser, dipole, tmp_path):
    pages = [review_page(dipole, number=1), review_page(dipole, number=2)]
    page = opened(browser, tmp_path / "a.html", page_html(pages))
    first, second = page.find_elements("css selector", "figure[id$=swr]")
    before = second.find_element("css selector", "output").text
    frame = json.loads(first.get_attribute("data-frame"))
    point_at(page, first, x=frame["left"], y=frame["top"])
    assert first.find_element("css selector", "output").text.startswith("6.500 MHz")
    assert second.find_element("css selector", "output").text == before


def test_it_prints_without_what_needs_a_screen(browser, dipole, tmp_path):
    page = opened(browser, tmp_path / "a.html", page_html([review_page(dipole)]), width=800, mobile=False)
    try:
        page.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
        assert not page.find_element("css selector", "input").is_displayed()
        assert not page.find_element("css selector", "output").is_displayed()
        for width, height in ((8.27, 11.69), (8.5, 11.0)):  # A4, Letter; inches
            pdf = page.execute_cdp_cmd("Page.printToPDF", {"paperWidth": width, "paperHeight": height})
            assert len(pdf["data"]) > 10_000
    finally:
        page.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})
