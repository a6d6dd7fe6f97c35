"""Many columns at once: none is called sound in which one by itself has something odd, and each has its own step."""

from __future__ import annotations

import numpy as np
import pytest

from sweepkit.readers.odd_rows import odd_row
from sweepkit.readers.printing import Printed
from sweepkit.readers.uneven_columns import Columns, nothing_is_odd, steps

pytestmark = pytest.mark.identity

FORMS = ("{:.6g}", "{:.3g}", "{:.9g}", "{!r}", "{:.17g}", "{:.4f}", "{:.5e}", "{:.1f}", "{:.2g}")
ROWS = 48


def texts_of(form: str, dice: np.random.Generator) -> list[str]:
    """A smooth column, which may cross 0, with noise or none; part of it in steps or at 0."""
    place = np.linspace(-1, 1, ROWS)
    level, slope, noise = dice.normal(), dice.normal(), dice.choice([0, 1e-5, 1e-3, 0.1])
    values = level + slope * place + dice.normal() * place**2 + noise * dice.standard_normal(ROWS)
    values *= 10.0 ** dice.integers(-4, 4)
    values = np.round(values, 3) if dice.random() < 0.2 else values
    values[dice.random(ROWS) < dice.choice([0, 0, 0.02])] = 0.0
    return [form.format(value) for value in values.tolist()]


def damaged(texts: list[str], dice: np.random.Generator) -> list[str]:
    """One number without its mark, its end, its exponent or a digit, or with its mark elsewhere; or none."""
    at, kind = int(dice.integers(ROWS)), int(dice.integers(7))
    text = texts[at]
    cut = int(dice.integers(1, len(text) + 1))
    ways = [text, text.replace(".", ""), text[:cut], text.partition("e")[0], text[: cut - 1] + text[cut:]]
    bare = text.replace(".", "")
    ways += [bare[:cut] + "." + bare[cut:], f"{text}0"]
    try:
        float(ways[kind])
    except ValueError:
        return texts
    return [*texts[:at], ways[kind], *texts[at + 1 :]]


def columns_of(form: str, count: int) -> list[Printed]:
    dice = np.random.default_rng(len(form) + ord(form[-2]))
    made = [damaged(texts_of(form, dice), dice) for _ in range(count)]
    return [Printed.of_texts(texts, np.array(list(map(float, texts)))) for texts in made]


def together(columns: list[Printed]) -> Columns:
    parts = ([getattr(one, name) for one in columns] for name in ("values", "decimals", "leads"))
    return Columns(*map(np.array, parts))


@pytest.mark.parametrize("form", FORMS)
def test_what_is_called_sound_is_sound(form):
    columns = columns_of(form, 200)
    sound = nothing_is_odd(together(columns))
    assert sound.any()
    for one, is_sound in zip(columns, sound.tolist(), strict=True):
        assert not is_sound or odd_row(one) is None
        assert not is_sound or odd_row(one, never_alone=True) is None


def test_of_mixed_columns_too():
    columns = [one for form in FORMS for one in columns_of(form, 40)]
    sound = nothing_is_odd(together(columns))
    assert all(
        odd_row(one) is None for one, is_sound in zip(columns, sound.tolist(), strict=True) if is_sound
    )


def test_each_has_the_step_that_it_has_by_itself():
    columns = [one for form in FORMS for one in columns_of(form, 60)]
    assert steps(together(columns)) == [one.step for one in columns]
    assert steps(together(columns)[:0]) == []
