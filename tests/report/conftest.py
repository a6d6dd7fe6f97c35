"""Pages, and a browser to look at them where one is installed."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from sweepkit.readers import read_sweep
from sweepkit.report.page import Page
from sweepkit.report.review_page import review_page
from sweepkit.reviews import Review, review

SAMPLES = Path(__file__).resolve().parents[2] / "sample_sweeps"
HOSTILE = (
    "</script><script>window.hacked=1</script><img src=x onerror='window.hacked=2'>\u202e\"'&`{{7*7}}${1}.s1p"
)


@pytest.fixture(scope="session")
def dipole() -> Review:
    return review(read_sweep(SAMPLES / "ridge_dipole_40m.s1p"), measured_at="feedpoint", draws=200)


@pytest.fixture(scope="session")
def dipole_page(dipole: Review) -> Page:
    return review_page(dipole)


@pytest.fixture(scope="session")
def hostile(dipole: Review) -> Review:
    """A review whose file name and remarks are an attack."""
    source = replace(
        dipole.sweep.source, path=f"sweeps/{HOSTILE}", comments=(HOSTILE, "--> <svg onload=alert(1)>")
    )
    finding = replace_text(HOSTILE)
    return replace(dipole, sweep=replace(dipole.sweep, source=source), findings=(*dipole.findings, finding))


def replace_text(text: str) -> Any:
    from sweepkit.findings import Finding

    return Finding("jagged", "warning", text, text)


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """Headless Chromium, driven by selenium; its log is kept."""
    webdriver = pytest.importorskip("selenium.webdriver", reason="selenium is not installed (extra: test)")
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    driver = shutil.which("chromedriver")
    if not chromium or not driver:
        pytest.skip("no browser: Debian's chromium and chromium-driver are not installed")
    from selenium.webdriver.chrome.service import Service

    options = webdriver.ChromeOptions()
    options.binary_location = chromium
    for word in (
        "--headless=new",
        "--no-sandbox",  # a container's root has no other way; the pages are our own
        "--disable-gpu",
        "--disable-dev-shm-usage",
        "--disable-background-networking",
    ):
        options.add_argument(word)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    opened = webdriver.Chrome(options=options, service=Service(driver))
    try:
        yield opened
    finally:
        opened.quit()
