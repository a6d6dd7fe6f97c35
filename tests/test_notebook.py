"""The notebook of the documents runs from its first cell to its last, and every answer shows itself."""

from __future__ import annotations

from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]


def test_the_notebook_runs_and_its_answers_show_themselves():
    nbformat = pytest.importorskip("nbformat", reason="nbclient is not installed (extra: test)")
    client = pytest.importorskip("nbclient", reason="nbclient is not installed (extra: test)")
    book = nbformat.read(ROOT / "docs" / "outing.ipynb", as_version=4)
    assert not [cell for cell in book.cells if cell.get("outputs")], (
        "outputs are not kept: they would grow old"
    )
    client.NotebookClient(book, timeout=120, resources={"metadata": {"path": str(ROOT / "docs")}}).execute()
    shown = [output.get("data", {}) for cell in book.cells for output in cell.get("outputs", [])]
    pages = [data["text/html"] for data in shown if "text/html" in data]
    assert sum("40 m TUNER" in page for page in pages) >= 1
    assert sum("FOLD" in page for page in pages) == 1
    assert sum("<img " in page for page in pages) == 2
    assert max(map(len, pages)) < 60_000
    printed = [output.text for cell in book.cells for output in cell.get("outputs", []) if "text" in output]
    assert printed[0].startswith("40 m DIRECT")
    assert printed[0].count("\n") == 1
