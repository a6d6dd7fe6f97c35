"""A folder's answers come one by one: same bytes as all at once, bad files named, memory flat."""

from __future__ import annotations

import csv
import json
import tracemalloc

import numpy as np
import pytest

from sweepkit.cli.review_output import Stream
from sweepkit.sweep import Sweep
from sweepkit.writers import sweep_text
from tests.coverage.antennas import series


def sweep_file(path, *, f0_hz=7.1e6, points=51):
    f_hz = np.linspace(6.9e6, 7.3e6, points)
    z_ohm = series(45.0, 12.0, f0_hz)(f_hz)
    path.write_text(sweep_text(Sweep.from_gamma(f_hz, (z_ohm - 50) / (z_ohm + 50)), "touchstone"))
    return path


@pytest.fixture
def folder(tmp_path):
    """Mixed grids, a bad file in the middle, one file twice over."""
    inside = tmp_path / "sweeps"
    inside.mkdir()
    sweep_file(inside / "a.s1p")
    sweep_file(inside / "b.s1p", f0_hz=7.05e6, points=4001)
    (inside / "c.s1p").write_text("# MHz S RI R 50\n7.0 0.1 oops\n7.1 0.1 0.1\n")
    sweep_file(inside / "d.s1p", f0_hz=7.15e6)
    (inside / "e.s1p").write_text((inside / "a.s1p").read_text())
    return inside


def test_json_of_a_folder_is_one_array_in_order_with_the_bad_file_in_its_place(folder, run):
    found = run("review", str(folder), "--json", "--draws", "0")
    documents = json.loads(found.stdout)
    assert [document["schema"] for document in documents] == [
        f"sweepkit/{what}/1" for what in ("review", "review", "error", "review", "review")
    ]
    assert found.stdout == json.dumps(documents, indent=1) + "\n"
    assert found.returncode == 2
    assert "c.s1p:2" in found.stderr


def test_a_table_has_every_good_file_and_no_text_is_made_beside_it(folder, run, tmp_path):
    table = tmp_path / "all.csv"
    found = run("review", str(folder), "--csv", str(table), "--draws", "0")
    assert found.stdout == ""
    names = [
        line.split(",")[0].rsplit("/", 1)[-1].rsplit("\\", 1)[-1] for line in table.read_text().splitlines()
    ]
    assert names == ["path", "a.s1p", "b.s1p", "d.s1p", "e.s1p"]


def test_a_table_has_the_zero_of_x_and_q_of_the_document(folder, run, tmp_path):
    table = tmp_path / "all.csv"
    found = run(
        "review", folder, "--csv", table, "--draws", "0", "--json", "--measured-at", "feedpoint", "--force"
    )
    planes = [
        document["planes"]["feedpoint"] for document in json.loads(found.stdout) if "planes" in document
    ]
    nearest = [
        min(
            (one for one in plane["resonances"] if one["kind"] == "series"),
            key=lambda one: abs(one["f_hz"]["value"] - plane["dips"][0]["f_hz"]["value"]),
        )
        for plane in planes
    ]
    rows = list(csv.DictReader(table.read_text().splitlines()))
    assert [(float(row["resonance_hz"]), float(row["q"])) for row in rows] == [
        (one["f_hz"]["value"], one["q"]["value"]) for one in nearest
    ]


def test_a_setup_without_a_sweep_is_an_error_in_json_too(run, tmp_path):
    (tmp_path / "notes.txt").write_text("no table\n")
    found = run("review", "--setup", tmp_path, "--json")
    assert found.returncode == 2
    assert json.loads(found.stdout)["schema"] == "sweepkit/error/1"


def test_texts_of_a_folder_stand_apart_and_in_order(folder, run):
    (folder / "c.s1p").unlink()
    found = run("review", str(folder), "--draws", "0")
    parts = found.stdout.split("\n\n\n")
    assert [name in part for name, part in zip("abde", parts, strict=True)] == [True] * 4
    assert found.returncode == 0


def test_a_note_between_two_answers_begins_a_line_of_its_own(capsys):
    class Answer:
        def to_json(self):
            return {}

    def answers():
        for _ in range(3):
            yield None, Answer()

    shown = []
    as_text = lambda _, is_last: shown.append(capsys.readouterr().out) or "card"  # noqa: E731
    Stream("card", as_text, (), lambda _: True, as_object=False).print_all(answers())
    assert shown == ["", "card\n", "\ncard\n"]


def test_an_answer_is_forgotten_before_the_next_but_one_is_made():
    class Big:
        def __init__(self):
            self.held = bytearray(1_000_000)

        def to_json(self):
            return {}

    tracemalloc.start()
    answers = ((None, Big()) for _ in range(50))
    stream = Stream("text", lambda review, is_last: "", (), lambda review: True, as_object=False)
    stream.print_all(answers)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert (stream.done, stream.failed, stream.usable) == (50, 0, True)
    assert peak < 5_000_000
