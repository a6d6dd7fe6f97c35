"""The inks: apart in lightness for every eye, and names that find room."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from matplotlib.colors import to_rgb

from sweepkit.plots.labels import spread_out
from sweepkit.plots.look import NAVY, PENS, SKY, VERMILION, plain, shortened, text_width_pt


def lightness(colour: tuple[float, float, float] | np.ndarray) -> float:
    """CIE L* (CIE 15:2004), from sRGB (IEC 61966-2-1)."""
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in colour]
    y = float(np.dot([0.2126, 0.7152, 0.0722], linear))
    return 116 * y ** (1 / 3) - 16 if y > 0.008856 else 903.3 * y


@pytest.mark.parametrize(("one", "other"), list(combinations((NAVY, VERMILION, SKY), 2)))
def test_the_inks_differ_in_lightness_alone(one, other):
    # 20 of the 100 of L*: seen at once side by side; common practice, no source
    assert abs(lightness(to_rgb(one)) - lightness(to_rgb(other))) > 20


def test_twelve_pens_differ():
    assert len({(pen.colour, str(pen.dash)) for pen in PENS}) == 12


@given(st.lists(st.floats(0, 1), min_size=1, max_size=12))
def test_spread_out_names_keep_apart_and_in_order(wanted):
    placed = spread_out(wanted, apart=0.05, low=0.0, high=1.0)
    order = sorted(range(len(wanted)), key=lambda k: wanted[k])
    gaps = np.diff([placed[k] for k in order])
    assert (gaps > 0.05 - 1e-9).all()
    assert min(placed) >= -1e-9
    assert max(placed) <= 1 + 1e-9


def test_a_name_with_room_stays_where_it_is_wanted():
    assert spread_out([0.2, 0.8], apart=0.05, low=0, high=1) == pytest.approx([0.2, 0.8])


def test_a_long_name_keeps_its_end():
    short = shortened("ridge_dipole_40m_after_the_storm_and_a_new_leg.s1p", 100, 8.5)
    assert short.startswith("…")
    assert short.endswith("new_leg.s1p")
    assert text_width_pt(short, 8.5) <= 100


def test_what_the_font_lacks_is_marked():
    assert plain("a\u202eb漢\udc80") == "a\\u202eb?\\x80"
