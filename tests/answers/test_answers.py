"""The face to Python: paths or sweeps, text or SI units, tables, and a notebook's short form."""

from __future__ import annotations

import base64
import inspect
import json
import math
import re
import subprocess
import sys
from html.parser import HTMLParser
from pathlib import Path
from typing import get_type_hints

import numpy as np
import pytest

import sweepkit
from sweepkit.figures import Figure

ROOT = Path(__file__).resolve().parents[2]
SAMPLES = ROOT / "sample_sweeps"
DIPOLE, LONG = SAMPLES / "ridge_dipole_40m.s1p", SAMPLES / "ridge_dipole_40m_long.s1p"
OPEN, SHORT = SAMPLES / "spool_open.s1p", SAMPLES / "spool_short.s1p"
DRAWS = 50


@pytest.fixture(scope="module")
def answers():
    return {
        "review": sweepkit.review(DIPOLE, lines="RG-58 15 m", draws=DRAWS),
        "trim": sweepkit.plan_trim(
            str(LONG), kind="dipole", length="10.58 m", target="7.1 MHz", measured_at="feedpoint", draws=DRAWS
        ),
        "diagnose": sweepkit.diagnose(LONG, baseline=DIPOLE, kind="dipole", draws=DRAWS),
        "feedline": sweepkit.measure_line([OPEN, SHORT], ends=["open", "short"], type="RG-58", draws=DRAWS),
        "compare": sweepkit.compare([DIPOLE, LONG], told={"kind": "dipole"}, draws=DRAWS),
        "bands": sweepkit.plan_bands(
            LONG,
            kind="dipole",
            length=10.58,
            target=[7.05e6, "7.15 MHz"],
            measured_at="feedpoint",
            draws=DRAWS,
        ),
    }


COMMANDS = {
    "review": ["review", DIPOLE, "--line", "RG-58 15 m"],
    "trim": [
        *["trim", LONG, "--kind", "dipole", "--length", "10.58 m", "--target", "7.1 MHz"],
        *["--measured-at", "feedpoint"],
    ],
    "diagnose": ["diagnose", LONG, "--baseline", DIPOLE, "--kind", "dipole"],
    "feedline": ["feedline", OPEN, SHORT, "--end", "open", "--end", "short", "--type", "RG-58"],
    "compare": ["compare", DIPOLE, LONG, "--kind", "dipole"],
    "bands": [
        *["trim", LONG, "--kind", "dipole", "--length", "10.58 m", "--target", "7050000.0 Hz"],
        *["--target", "7.15 MHz", "--measured-at", "feedpoint"],
    ],
}


def same_but_paths(document):
    return json.loads(re.sub(r'"path": "[^"]*[/\\]', '"path": "', json.dumps(document)))


@pytest.mark.parametrize("name", COMMANDS)
def test_an_answer_is_that_of_the_command(answers, run, name):
    done = run(*COMMANDS[name], "--json", "--draws", DRAWS)
    assert done.returncode == 0, done.stderr
    assert same_but_paths(answers[name].to_json()) == same_but_paths(json.loads(done.stdout))


def test_every_public_name_is_there_and_loads_at_first_use():
    code = "import sweepkit, sys; before = set(sys.modules); print(*(m for m in before if m.startswith('sweepkit.')))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    assert not done.stdout.split()
    for name in sweepkit.__all__:
        assert getattr(sweepkit, name) is not None
    assert set(sweepkit.__all__) <= set(dir(sweepkit))


def test_every_plot_is_there():
    for name in sweepkit.plots.__all__:
        assert callable(getattr(sweepkit.plots, name))
    with pytest.raises(AttributeError, match="no attribute 'plot_nonsense'"):
        _ = sweepkit.plots.plot_nonsense


def test_type_checkers_see_the_names_that_are_there():
    for package in (sweepkit, sweepkit.plots):
        source = Path(package.__file__).read_text(encoding="utf-8")
        block = source.split("if TYPE_CHECKING:\n")[1].split("\n\n")[0]
        named = {word for line in block.splitlines() for word in line.split(" import ")[1].split(", ")}
        assert named == set(package.__all__) - {"__version__"}


@pytest.mark.parametrize("name", sorted(set(sweepkit.__all__) - {"__version__", "plots"}))
def test_annotations_of_public_names_can_be_read(name):
    """Whoever reads them at run time, a generator of references among others, gets types."""
    public = getattr(sweepkit, name)
    assert get_type_hints(public if inspect.isfunction(public) else public.__init__)


def test_an_answer_takes_a_sweep_or_its_file():
    sweep = sweepkit.read_sweep(DIPOLE)
    by_path, by_sweep = sweepkit.review(DIPOLE, draws=0), sweepkit.review(sweep, draws=0)
    assert by_path.to_json() == by_sweep.to_json()


def test_a_review_takes_line_and_place_from_setup_toml_where_nobody_told_them(tmp_path, run):
    (tmp_path / "setup.toml").write_text('line = "RG-58 15 m"\nmeasured_at = "radio"\n', encoding="utf-8")
    path = tmp_path / DIPOLE.name
    path.write_bytes(DIPOLE.read_bytes())
    beside, told = sweepkit.review(path, draws=0), sweepkit.review(DIPOLE, lines="RG-58 15 m", draws=0)
    other = sweepkit.review(path, lines="RG-213 3 m", draws=0)
    assert same_but_paths(beside.to_json()) == same_but_paths(told.to_json())
    assert same_but_paths(beside.to_json()) == same_but_paths(
        json.loads(run("review", path, "--json", "--draws", 0).stdout)
    )
    assert same_but_paths(other.to_json()) != same_but_paths(told.to_json())


@pytest.mark.parametrize(
    ("as_text", "as_number"),
    [
        ({"length": "10.58 m", "target": "7.1 MHz"}, {"length": 10.58, "target": 7.1e6}),
        ({"length": "1058 cm", "segment": "7000-7100 kHz"}, {"length": 10.58, "segment": (7.0e6, 7.1e6)}),
        ({"length": "10.58 m", "band": "40 m"}, {"length": np.float64(10.58), "segment": (7.0e6, 7.2e6)}),
        (
            {"length": "10.58 m", "target": "7.1 MHz", "earlier": [("10.70 m", LONG)]},
            {"length": 10.58, "target": 7.1e6, "earlier": [(10.70, sweepkit.read_sweep(LONG))]},
        ),
    ],
)
def test_text_with_a_unit_and_a_number_in_si_units_say_the_same(as_text, as_number):
    one, other = (
        sweepkit.plan_trim(sweepkit.read_sweep(DIPOLE), kind="dipole", draws=DRAWS, **told).to_json()
        for told in (as_text, as_number)
    )
    one.pop("findings"), other.pop("findings")  # they name the band
    one.pop("reason"), other.pop("reason")
    assert one == other


@pytest.mark.parametrize(
    ("told", "words"),
    [
        ({"length": "10.58", "target": "7.1 MHz"}, r"length: '10.58' has no unit; write it like"),
        ({"length": -3.0, "target": "7.1 MHz"}, r"length is -3.0; above 0 and at most 10000 m was expected"),
        ({"length": math.nan, "target": "7.1 MHz"}, r"length is nan; above 0"),
        (
            {"length": "10.58 m", "target": 7.1},
            r"target is 7.1; 1000 to 1e\+12 Hz was expected; a bare number is in Hz",
        ),
        ({"length": "10.58 m"}, "one of --target, --band and --segment"),
        ({"length": "10.58 m", "segment": (7.1e6, 7.0e6)}, "its lower end stands first"),
        ({"length": "10.58 m", "target": "7.1 MHz", "kind": "cage"}, "cage"),
        (
            {"length": "10.58 m", "target": "7.1 MHz", "measured_at": "attic"},
            "measured_at is 'attic'; it is one of",
        ),
        ({"length": "10.58 m", "target": "7.1 MHz", "unit": "MHz"}, "unit: a hint for reading a file"),
    ],
)
def test_what_cannot_be_is_refused_in_one_line(told, words):
    with pytest.raises(sweepkit.BadInput, match=words):
        sweepkit.plan_trim(sweepkit.read_sweep(LONG), **({"kind": "dipole", "draws": 0} | told))


def test_a_misspelt_argument_is_a_mistake_of_the_caller():
    with pytest.raises(TypeError, match="unexpected keyword argument 'meassured_at'"):
        sweepkit.review(DIPOLE, meassured_at="radio")
    with pytest.raises(TypeError, match="unexpected keyword argument 'bands'"):
        sweepkit.plan_bands(LONG, kind="dipole", bands="40 m")
    with pytest.raises(TypeError, match="unexpected keyword argument 'antenna'"):
        sweepkit.compare(antenna="dip")
    with pytest.raises(TypeError, match="text with a unit, or a number in m, was expected"):
        sweepkit.plan_trim(LONG, kind="dipole", length=[10.58], target="7.1 MHz")


def test_radials_on_the_ground_are_at_a_height_of_nothing():
    told = {"kind": "vertical", "length": "5.62 m", "target": "14.15 MHz", "draws": 0}
    lying, flat = (
        sweepkit.plan_trim(SAMPLES / "meadow_vertical_1.s1p", **told, **words).to_json()
        for words in ({"radial_height": 0}, {"radials_on_ground": True})
    )
    assert lying == flat


def test_one_piece_of_line_may_stand_alone():
    one, several = (
        sweepkit.review(DIPOLE, lines=lines, draws=0).to_json() for lines in ("RG-58 15 m", ["RG-58 15 m"])
    )
    assert one == several
    assert sweepkit.review(DIPOLE, lines="none", draws=0).feedpoint is not None


def test_bands_are_named():
    answer = sweepkit.review(DIPOLE, bands="40m", draws=0)
    assert [band.name for band in answer.bands] == ["40 m"]
    with pytest.raises(sweepkit.BadInput, match="no band is called '41 m'"):
        sweepkit.review(DIPOLE, bands=["41 m"], draws=0)


def test_each_swept_end_is_told():
    with pytest.raises(sweepkit.BadInput, match="2 sweeps and 0 far ends"):
        sweepkit.measure_line([OPEN, SHORT])
    assert sweepkit.measure_line(OPEN, draws=0).told_ends == ("unknown",)


def test_hints_are_for_files(tmp_path):
    lines = DIPOLE.read_text(encoding="utf-8").splitlines()
    path = tmp_path / "dip.s1p"
    path.write_text("\n".join(line.replace("R 50", "") for line in lines), encoding="utf-8")
    assert sweepkit.review(path, reference_ohm=50, draws=0).sweep.reference_ohm == 50


def test_a_logbook_is_compared_and_closed(tmp_path, run):
    log = tmp_path / "log.sqlite"
    for folder in ("2026-04-18_ridge_dipole", "2026-05-16_ridge_dipole", "2026-06-13_ridge_dipole"):
        done = run("log", "add", *sorted((SAMPLES / "outings" / folder).glob("*.s1p")), "--log", log)
        assert done.returncode == 0, done.stderr
    answer = sweepkit.compare(log=log, antennas="dipole-40m")
    expected = json.loads(run("compare", "--antenna", "dipole-40m", "--log", log, "--json").stdout)
    assert answer.to_json() == expected
    with sweepkit.open_logbook(log) as opened:
        assert sweepkit.compare(log=opened).to_json() == expected
    with pytest.raises(sweepkit.BadInput, match="no sweep of 'attic-dipole'"):
        sweepkit.compare(log=log, antennas=["attic-dipole"])
    with pytest.raises(sweepkit.BadInput, match="nothing to compare"):
        sweepkit.compare()
    with pytest.raises(sweepkit.BadInput, match="rung is 'ladder'; it is one of swept-again"):
        sweepkit.compare([DIPOLE, LONG], rung="ladder")
    log.unlink()  # which a system refuses of an open file


def test_the_first_table_has_figures_with_both_ends(answers):
    rows = {"review": 1, "trim": 1, "feedline": 1, "compare": 2}
    figures = {"review": "dip_hz", "trim": "change_m", "feedline": "length_m", "compare": "dip_hz"}
    for name, count in rows.items():
        frame = answers[name].to_frame()
        assert len(frame) == count
        figure = figures[name]
        ends = frame[[f"{figure}_low", figure, f"{figure}_high"]].to_numpy(dtype=float)
        assert (np.diff(ends, axis=1) >= 0).all()
    causes = answers["diagnose"].to_frame()
    assert list(causes["code"]) == [cause.code for cause in answers["diagnose"].hypotheses]


def test_a_frame_holds_the_numbers_of_the_json(answers):
    document = answers["review"].to_json()
    bands = answers["review"].to_frame("bands")
    assert list(bands["best_swr"]) == [band["best_swr"]["value"] for band in document["bands"]]
    assert list(bands["best_swr_high"]) == [band["best_swr"]["high"] for band in document["bands"]]
    dips = answers["review"].to_frame("dips")
    assert set(dips["plane"]) == {"radio", "feedpoint"}
    losses = answers["feedline"].to_frame("loss_db")
    assert list(losses["value"]) == [loss["value"] for loss in answers["feedline"].to_json()["loss_db"]]


def test_no_answer_is_nan_with_a_reason():
    frame = sweepkit.compare([DIPOLE, LONG], draws=0).to_frame()
    assert frame["q"].isna().all()
    assert set(frame["q_reason"]) == {"Q is only known at the feedpoint"}
    assert frame["dip_hz"].dtype == float
    assert frame["dip_hz_low"].isna().all()  # without draws there is no interval


def test_rows_of_many_answers_stand_below_one_another(run, tmp_path):
    import pandas as pd

    frame = pd.concat([sweepkit.review(path, draws=0).to_frame() for path in (DIPOLE, LONG)])
    table = tmp_path / "table.csv"
    assert run("review", DIPOLE, LONG, "--draws", 0, "--csv", table).returncode == 0
    written = pd.read_csv(table)
    assert [column for column in frame if not column.endswith("_reason")] == list(written)
    np.testing.assert_array_equal(frame["dip_hz"], written["dip_hz"])


def test_several_places_are_told_as_text_or_in_si_units():
    told = {"kind": "dipole", "measured_at": "feedpoint", "draws": 0}
    one, other = (
        sweepkit.plan_bands(LONG, **told, **words).to_json()
        for words in (
            {"length": "10.58 m", "band": ["40 m"], "tail": "20 cm", "earlier": [("+12 cm", LONG)]},
            {"length": 10.58, "band": "40 m", "tail": 0.2, "earlier": [(10.70, sweepkit.read_sweep(LONG))]},
        )
    )
    assert one == other
    with pytest.raises(sweepkit.BadInput, match="no sweep is given"):
        sweepkit.plan_bands(band="40 m")
    with pytest.raises(sweepkit.BadInput, match="no place is named"):
        sweepkit.plan_bands(LONG, kind="dipole", length=10.58)


def test_a_table_that_is_not_there_lists_those_that_are(answers):
    with pytest.raises(sweepkit.BadInput, match="no table 'whips'; there are sweep, bands, dips"):
        answers["review"].to_frame("whips")


@pytest.mark.parametrize("name", COMMANDS)
def test_the_short_form_is_one_paragraph(answers, name):
    answer = answers[name]
    markdown = answer._repr_markdown_().replace("\\", "")
    assert "\n" not in markdown.split("\n\n")[0]
    assert len(markdown) < 4000
    assert "--explain" not in markdown, "a notebook has no such option"
    assert "\n" not in repr(answer)
    assert len(repr(answer)) < 2000


@pytest.mark.parametrize("name", COMMANDS)
def test_the_short_form_says_the_answer_first_as_the_command_does(answers, run, name):
    done = run(*COMMANDS[name], "--draws", DRAWS, columns="200")
    assert done.returncode == 0, done.stderr
    first = done.stdout.splitlines()[0]
    assert answers[name]._repr_markdown_().replace("\\", "").startswith(f"**{first}")
    assert repr(answers[name]).startswith(first.rstrip("."))


def test_the_short_form_keeps_its_caution(answers):
    assert "Before you key" in answers["review"]._repr_markdown_()
    assert "Radio off and disconnected" in answers["trim"]._repr_markdown_()


def test_a_review_shows_a_table_and_its_picture(answers):
    html = answers["review"]._repr_html_()
    assert html.count("<table>") == html.count("<img ") == 1
    assert "95 % interval" in html
    assert base64.b64decode(html.split("base64,")[1].split('"')[0]).startswith(b"\x89PNG")
    assert len(html) < 20_000  # a notebook keeps every answer it has shown


def test_a_sweep_and_a_figure_show_themselves_in_a_line():
    sweep = sweepkit.read_sweep(DIPOLE)
    assert repr(sweep) == (
        "Sweep ridge_dipole_40m.s1p: 6.500 to 7.700 MHz, 201 points, with phase, reference 50 ohm"
    )
    assert str(Figure(1.5184, 1.4612, 1.5898)) == "1.52 (1.46 to 1.59)"
    assert str(Figure(7093915.7, 7085667.9, 7101552.4)) == "7093916 (7085668 to 7101552)"
    assert str(Figure(3.0)) == "3"
    assert str(Figure.none("no dip")) == "no answer: no dip"


class _Tags(HTMLParser):
    def __init__(self):
        super().__init__()
        self.tags, self.text, self.attributes = [], "", []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += [name for name, _ in attrs]

    def handle_data(self, data):
        self.text += data


def test_a_file_name_runs_nothing_in_a_notebook(tmp_path):
    path = tmp_path / "a```<img src=x onerror=alert(1)>.s1p"
    try:
        path.write_bytes(DIPOLE.read_bytes())
    except OSError:
        pytest.skip("this system has no such file names")
    answer = sweepkit.review(path, draws=0)
    tags = _Tags()
    tags.feed(answer._repr_html_())
    assert tags.tags.count("img") == 1  # the picture
    assert "onerror" not in tags.attributes
    assert "<img src=x" in tags.text
    markdown = answer._repr_markdown_()
    assert "<img" not in markdown
    assert "`" not in markdown.replace("\\`", "")


def test_a_plot_takes_an_answer(answers):
    figure = sweepkit.plots.plot_swr(answers["review"])
    assert figure.axes
    assert sweepkit.plots.plot_line(answers["feedline"], answers["feedline"].sweeps[0]).axes


def test_the_example_of_the_documents_runs(monkeypatch):
    monkeypatch.chdir(ROOT)
    page = (ROOT / "docs" / "python.md").read_text(encoding="utf-8")
    code = page.split("<!-- tested -->\n```python\n")[1].split("```")[0]
    names: dict[str, object] = {}
    exec(compile(code, "docs/python.md", "exec"), names)
    assert names["answer"].bands[0].verdict == "direct"
    assert names["plan"].plan.first_move.m < 0
    assert names["pictured"].axes


def test_every_public_name_stands_on_the_page():
    page = (ROOT / "docs" / "python.md").read_text(encoding="utf-8")
    shown = {"Sweep", "__version__"}
    assert not [name for name in sweepkit.__all__ if f"`{name}" not in page and name not in shown]


@pytest.mark.parametrize("told", [{"draws": 10**9}, {"draws": -1}, {"seed": -1}, {"seed": 2**64}], ids=str)
@pytest.mark.parametrize(
    "ask",
    [
        sweepkit.review,
        sweepkit.diagnose,
        sweepkit.measure_line,
        sweepkit.plan_bands,
        lambda sweep, **told: sweepkit.compare([sweep, sweep], **told),
        lambda sweep, **told: sweepkit.plan_trim(
            sweep, kind="dipole", length="10.58 m", target="7.1 MHz", **told
        ),
    ],
    ids=["review", "diagnose", "measure_line", "plan_bands", "compare", "plan_trim"],
)
def test_numbers_without_end_are_refused_at_once(ask, told):
    with pytest.raises(sweepkit.BadInput, match="must be a whole number from 0 to"):
        ask(DIPOLE, **told)


def test_a_limit_no_station_has_is_refused():
    with pytest.raises(sweepkit.BadInput, match=r"swr is 1e\+300; it must be 1 to 1000"):
        sweepkit.review(DIPOLE, swr_limit=1e300)
    with pytest.raises(sweepkit.BadInput, match=r"--reference-ohm is 1e\+300; it must be 0\.1 to"):
        sweepkit.review(DIPOLE, reference_ohm=1e300)
