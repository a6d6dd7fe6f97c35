"""Large files stay small in memory, and mutated ones never do anything but be read or refused."""

from __future__ import annotations

import os
import tracemalloc
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sweepkit.errors import BadInput, SweepkitError
from sweepkit.readers import read_sweep
from tests.readers.table_cases import CASES

MOST_MEMORY = 20  # times the size of the file
CORPUS = Path(
    os.environ.get("SWEEPKIT_CORPUS", Path(__file__).resolve().parents[3] / "shared" / "corpus"), "files"
)


def large(name: str, rows: int) -> str:
    """A file of many short rows: the shorter the row, the more its text weighs in memory."""
    f_hz = np.linspace(1e6, 60e6, rows).tolist()
    form, head = {
        "plain.s1p": ("{0:.0f} 0.3 {1:.3f}", "# Hz S RI R 50"),
        "remarks.s1p": ("{0:.0f} 0.3 {1:.3f} ! x", "# Hz S RI R 50"),
        "two.s2p": ("{0:.0f} 0.3 {1:.3f} 0 0 0 0 0 0", "# Hz S RI R 50"),
        "swr.csv": ("{0:.0f},{2:.2f}", "Frequency (Hz),SWR"),
        "commas.csv": ("{0:.0f};40,5;{2:.1f}", "Frequency (Hz);R;X"),
        "cells.csv": ("{0:.0f} Hz,{2:.2f}", "Frequency,SWR"),
    }[name]
    lines = [form.format(f, np.sin(k), 2.5 + np.sin(k / 99)) for k, f in enumerate(f_hz)]
    text = "\n".join([head, *lines]) + "\n"
    return text.replace(".", ",") if name == "commas.csv" else text


ROWS = 50_000  # several of the pieces that are read at a time: what one takes counts little beside the file
NAMES = ("plain.s1p", "remarks.s1p", "two.s2p", "swr.csv", "commas.csv", "cells.csv")


@pytest.mark.parametrize("name", NAMES)
def test_memory_stays_below_twenty_times_the_file(tmp_path, name):
    path = tmp_path / name
    path.write_text(large(name, ROWS))
    read_sweep(path)  # what is imported at first use is no memory of this file
    tracemalloc.start()
    try:
        sweep = read_sweep(path)
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert sweep.f_hz.size == ROWS
    assert peak < MOST_MEMORY * path.stat().st_size


@pytest.mark.slow
@pytest.mark.parametrize("name", NAMES)
def test_a_million_points_are_read(tmp_path, name):
    path = tmp_path / name
    path.write_text(large(name, 1_000_000))
    assert read_sweep(path).f_hz.size == 1_000_000


PUBLISHED = sorted(CORPUS.glob("*")) if CORPUS.is_dir() else []
INSERTED = st.one_of(
    st.binary(max_size=3),
    st.sampled_from(
        [b"nan", b"1e999", b"\nBEGIN\n", b"\n# MHz S RI R 50\n", b"\n[Version] 2.0\n", b'"', b",", b"\t"]
    ),
)
HINTS = st.sampled_from(
    [
        {},
        {"columns": "f,re,im", "unit": "MHz"},
        {"columns": "f,s11_db", "unit": "Hz"},
        {"decimal": "comma"},
        {"trace": "s22"},
        {"reference_ohm": 75.0},
        {"recover_sign": True},
    ]
)


@settings(max_examples=250, deadline=None)
@given(
    seed=st.one_of(st.sampled_from(sorted(CASES)), *([st.sampled_from(PUBLISHED)] if PUBLISHED else [])),
    edits=st.lists(st.tuples(st.floats(0, 1), INSERTED, st.integers(0, 60)), min_size=1, max_size=4),
    hints=HINTS,
)
def test_a_mutated_file_is_read_or_refused_by_name(tmp_path_factory, seed, edits, hints):
    content = bytearray(CASES[seed].content if isinstance(seed, str) else seed.read_bytes()[:8000])
    for place, inserted, removed in edits:
        at = int(place * len(content))
        content[at : at + removed] = inserted
    path = tmp_path_factory.mktemp("mutated") / ("sweep.csv" if isinstance(seed, str) else seed.name)
    path.write_bytes(bytes(content))
    try:
        sweep = read_sweep(path, **hints)
    except SweepkitError as error:
        assert str(error).startswith(str(path))
        assert "\n" not in str(error)
        assert ";" in error.text
        assert error.line is not None or hints or isinstance(error, BadInput)
    else:
        assert np.isfinite(sweep.gamma_abs).all()
        assert (np.diff(sweep.f_hz) > 0).all()
