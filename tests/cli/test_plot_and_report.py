"""``sweepkit plot`` and ``--report`` as a user runs them."""

from __future__ import annotations

import pytest

DIPOLE, WHIP = "ridge_dipole_40m.s1p", "spit_whip_40m.s1p"


@pytest.mark.parametrize("kind", ["swr", "impedance", "smith", "return-loss", "overlay"])
def test_each_kind_is_drawn(run, samples, tmp_path, kind):
    target = tmp_path / "a.svg"
    done = run("plot", samples / DIPOLE, "--kind", kind, "--draws", 50, "-o", target)
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
    assert target.read_text(encoding="utf-8").startswith("<?xml")


def test_several_sweeps_lie_over_one_another(run, samples, tmp_path):
    target = tmp_path / "a.png"
    done = run("plot", samples / DIPOLE, samples / WHIP, "--draws", 50, "-o", target)
    assert done.returncode == 0, done.stderr
    assert target.exists()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--kind", "waterfall"), "it is one of swr, impedance"),
        (("--kind", "smith"), "2 sweeps and --kind smith draws one"),
    ],
)
def test_what_cannot_be_drawn_is_said(run, samples, tmp_path, words, said):
    done = run("plot", samples / DIPOLE, samples / WHIP, *words, "--draws", 0, "-o", tmp_path / "a.png")
    assert done.returncode == 2
    assert said in done.stderr
    assert not (tmp_path / "a.png").exists()


def test_a_bad_file_does_not_stop_the_picture_of_the_others(run, samples, tmp_path):
    bad = tmp_path / "bad.s1p"
    bad.write_text("# MHz S RI R 50\n7 0.1\n")
    done = run("plot", samples / DIPOLE, bad, "--draws", 0, "-o", tmp_path / "a.png")
    assert done.returncode == 2
    assert "bad.s1p:2" in done.stderr
    assert (tmp_path / "a.png").exists()


def test_a_report_tells_its_command_and_is_not_overwritten(run, samples, tmp_path):
    target = tmp_path / "a.html"
    words = ("review", samples / DIPOLE, "--draws", 50, "--seed", 7, "--report", target)
    assert run(*words).returncode == 0
    text = target.read_text(encoding="utf-8")
    assert "--seed 7 --report" in text
    assert "<dd>50, 7</dd>" in text
    again = run(*words)
    assert again.returncode == 2
    assert "exists already" in again.stderr


def test_a_report_of_a_setup_has_the_pictures_of_each_sweep(run, samples, tmp_path):
    target, again = tmp_path / "a.html", tmp_path / "again.s1p"
    again.write_text("! swept again\n" + (samples / DIPOLE).read_text(encoding="utf-8"), encoding="utf-8")
    done = run("review", samples / DIPOLE, again, "--setup", "--draws", 50, "--report", target)
    assert done.returncode == 0, done.stderr
    text = target.read_text(encoding="utf-8")
    assert 'id="p1-1-swr"' in text
    assert 'id="p1-2-swr"' in text


def test_a_report_has_an_ending_that_is_known(run, samples, tmp_path):
    done = run("review", samples / DIPOLE, "--draws", 0, "--report", tmp_path / "a.pdf")
    assert done.returncode == 2
    assert "a report ends in .html or .md" in done.stderr


def test_markdown(run, samples, tmp_path):
    target = tmp_path / "a.md"
    assert run("review", samples / DIPOLE, "--draws", 50, "--report", target).returncode == 0
    assert "**40 m DIRECT**" in target.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("word", "first", "said"),
    [
        (
            "--setup",
            DIPOLE,
            "2 sweeps of one setup",
        ),  # of two bands: sweeps of one dip that disagree are not merged
        ("--repeats", "meadow_vertical_2.s1p", "mean of 2 repeats"),
    ],
)
def test_review_plots_the_one_answer_of_several_sweeps(run, samples, tmp_path, word, first, said):
    target = tmp_path / "a.svg"
    other = "meadow_vertical_2.s1p"
    files = (samples / first, samples / other)
    done = run("review", *files, word, "--draws", 50, "--plot", target)
    assert (done.returncode, done.stderr) == (0, "")
    text = target.read_text(encoding="utf-8")
    assert said in text
    assert other in text


def test_review_plots_no_more_than_one_answer(run, samples, tmp_path):
    done = run("review", samples / DIPOLE, samples / WHIP, "--draws", 0, "--plot", tmp_path / "a.png")
    assert done.returncode == 2
    assert done.stdout == ""
    assert "--plot draws one answer" in done.stderr
    assert "--setup or --repeats" in done.stderr


def test_feedline_plots_the_reflections_along_the_line(run, samples, tmp_path):
    target = tmp_path / "a.svg"
    words = (
        "feedline",
        samples / "broken_line.s1p",
        "--velocity-factor",
        0.66,
        "--draws",
        50,
        "--plot",
        target,
    )
    done = run(*words)
    assert (done.returncode, done.stderr) == (0, "")
    text = target.read_text(encoding="utf-8")
    assert "distance from the near end, m" in text
    assert "broken_line.s1p: reflections along the line" in text
    again = run(*words)
    assert again.returncode == 2
    assert "exists already" in again.stderr
    assert again.stdout == ""


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("feedline", "broken_line.s1p"), "ENDS OPEN AT "),
        (("trim", DIPOLE, "--kind", "dipole", "--length", "10.14 m", "--target", "7.2 MHz"), "on each leg"),
    ],
)
def test_reports_of_a_line_and_of_a_plan(run, samples, tmp_path, words, said):
    target = tmp_path / "a.html"
    command, name, *rest = words
    done = run(command, samples / name, *rest, "--draws", 50, "--report", target)
    assert (done.returncode, done.stderr) == (0, "")
    text = target.read_text(encoding="utf-8")
    assert said in text
    assert f"sweepkit {command} " in text
