"""Figures to files."""

from __future__ import annotations

import pytest

from sweepkit.errors import BadInput
from sweepkit.plots.one_sweep import plot_swr
from sweepkit.plots.saving import save_figure
from sweepkit.report.picture import as_picture

STARTS = {"png": b"\x89PNG", "svg": b"<?xml", "pdf": b"%PDF"}


@pytest.mark.parametrize("kind", list(STARTS))
def test_the_ending_decides_and_the_same_figure_gives_the_same_bytes(dipole, tmp_path, kind):
    one, two = tmp_path / f"a.{kind}", tmp_path / f"b.{kind}"
    save_figure(plot_swr(dipole), one)
    save_figure(plot_swr(dipole), two)
    assert one.read_bytes().startswith(STARTS[kind])
    assert one.read_bytes() == two.read_bytes()
    save_figure(plot_swr(dipole), str(tmp_path / f"c.{kind}"))
    assert (tmp_path / f"c.{kind}").read_bytes() == one.read_bytes()


def test_nothing_is_overwritten_unasked(dipole, tmp_path):
    path = tmp_path / "a.png"
    save_figure(plot_swr(dipole), path)
    with pytest.raises(BadInput, match="exists already"):
        save_figure(plot_swr(dipole), path)


def test_names_inside_an_svg_of_a_page_are_its_own(dipole):
    svg = as_picture(plot_swr(dipole), "p1-swr", "SWR", "").svg
    assert svg.startswith("<svg ")
    assert "<metadata" not in svg
    assert ' id="p1-swr-' in svg
    assert "url(#p1-swr-" in svg
    assert 'id="axes_1"' not in svg
