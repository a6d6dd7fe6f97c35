"""Every page and drawing that the commands write of a hostile file and a hostile logbook, in a browser."""

from __future__ import annotations

import os
import shutil
import time

import pytest

from tests.cli.test_hostile import NAME
from tests.report.test_page_in_browser import opened, unprintable

EVIL = "<img src=x onerror=alert(1)>\u202e</script><script>alert(2)</script>'\"&\n=1+1"
PLAIN = "plain.s1p"
SPOOL = "spool_open.s1p"
BOTH = ("--report", "a.html", "--plot", "a.svg")
WRITES = {  # the sample that gets the hostile name, words before that name and after it
    "review": ("ridge_dipole_40m.s1p", ("review",), BOTH),
    "repeats": ("ridge_dipole_40m.s1p", ("review", "--repeats", PLAIN), BOTH),
    "smith": ("ridge_dipole_40m.s1p", ("plot", "--kind", "smith"), ("-o", "a.svg")),
    "overlay": ("ridge_dipole_40m.s1p", ("plot", PLAIN), ("-o", "a.svg")),
    "compare": ("ridge_dipole_40m.s1p", ("compare", PLAIN), BOTH[:2]),
    "trim": (
        "ridge_dipole_40m.s1p",
        ("trim", "--kind", "dipole", "--length", "10.2 m", "--target", "7.1 MHz"),
        BOTH[:2],
    ),
    "feedline": (SPOOL, ("feedline", "--end", "open"), BOTH),
    "diagnose": ("ridge_dipole_40m.s1p", ("diagnose", "--baseline", PLAIN), BOTH[:2]),
}


def assert_tame(browser, path):
    """Nothing ran, nothing was asked for, and no letter of it turns or hides others."""
    page = opened(browser, path, path.read_text(encoding="utf-8"), width=800, mobile=False)
    time.sleep(0.1)
    assert page.get_log("browser") == []
    assert page.find_elements("css selector", "img, iframe, [onerror], [onload], [onclick]") == []
    own = 1 if path.suffix == ".html" else 0
    assert len(page.find_elements("css selector", "script:not([type])")) == own
    assert unprintable(page) == set()


@pytest.mark.skipif(os.name == "nt", reason="Windows allows no such file names")
@pytest.mark.parametrize("what", WRITES)
def test_a_hostile_file_name_in_every_page_and_drawing(browser, run, samples, tmp_path, what):
    sample, before, after = WRITES[what]
    shutil.copy(samples / sample, tmp_path / NAME)
    shutil.copy(samples / "ridge_dipole_40m.s1p", tmp_path / PLAIN)
    done = run(*before, NAME, *after, "--draws", 0, cwd=tmp_path)
    assert done.returncode in (0, 1), done.stderr
    written = [path for path in tmp_path.glob("a.*") if path.suffix in (".html", ".svg")]
    assert written
    for path in written:
        assert_tame(browser, path)


def test_hostile_facts_of_a_logbook_in_a_page(browser, run, samples, tmp_path):
    sample = samples / "ridge_dipole_40m.s1p"
    facts = [f"--set={key}={EVIL}" for key in ("note", "operator", "sweep-note")]
    words = ("--site", EVIL, "--antenna", EVIL, *facts, "--log", "log.sqlite")
    for number in (1, 2):
        (tmp_path / f"{number}.s1p").write_text(f"! {number}\n" + sample.read_text())
        done = run("log", "add", f"{number}.s1p", *words, cwd=tmp_path)
        assert done.returncode == 0, done.stderr
    done = run("compare", "--log", "log.sqlite", "--report", "a.html", "--draws", 0, cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert_tame(browser, tmp_path / "a.html")
    done = run(
        "diagnose", "1.s1p", "--antenna", EVIL, *("--log", "log.sqlite"), "--report", "b.html", cwd=tmp_path
    )
    assert done.returncode == 0, done.stderr
    assert_tame(browser, tmp_path / "b.html")
