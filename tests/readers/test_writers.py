"""Sound numbers of many kinds of writers are never taken for damage; damage in a fixed writer is."""

import itertools

import numpy as np
import pytest

from sweepkit.readers import odd_rows
from sweepkit.readers.printing import Printed

F_HZ = np.linspace(13.9e6, 14.45e6, 101)
DETUNING = F_HZ / 14.2e6 - 14.2e6 / F_HZ


def stripped(text: str) -> str:
    return text.rstrip("0").rstrip(".") if "." in text else text


def ranged(value: float) -> str:
    """As a meter with three ranges and hysteresis of one reading prints."""
    size = abs(value)
    return f"{value:.2f}" if size < 10 else f"{value:.1f}" if size < 100 else f"{value:.0f}"


WRITERS = {
    **{f"{d} decimals": (f"%.{d}f").__mod__ for d in (1, 2, 3, 6)},
    **{f"{d} decimals, last zeros dropped": lambda v, d=d: stripped(f"{v:.{d}f}") for d in (1, 2, 3, 6, 9)},
    **{f"rounded to {d}, shortest": lambda v, d=d: repr(round(float(v), d)) for d in (1, 2, 3, 6)},
    **{f"{k} digits, last zeros dropped": (f"%.{k}g").__mod__ for k in (3, 4, 6, 9, 17)},
    **{f"{k} digits": (f"%#.{k}g").__mod__ for k in (3, 4, 6)},
    "shortest": lambda v: repr(float(v)),
    "shortest of single precision": lambda v: str(np.float32(v)),
    "0 alone without a mark": lambda v: "0" if round(v, 2) == 0 else f"{v:.2f}",
    "exponents": "%.4e".__mod__,
    "steps of 0.25": lambda v: stripped(f"{round(v * 4) / 4:.2f}"),
    "steps of 8e-9": lambda v: stripped(f"{round(v / 8e-9) * 8e-9:.9f}"),
    "three ranges": ranged,
}


def columns(seed: int, rows: int):
    dice = np.random.default_rng(seed)
    at = np.linspace(0, F_HZ.size - 1, rows).astype(int)
    resistance, slope = dice.uniform(5, 150), dice.uniform(5, 80)
    z_ohm = resistance * (1 + 1j * slope * DETUNING[at]) + dice.choice([0, 0.02, 0.3]) * dice.normal(
        size=rows
    )
    gamma = (z_ohm - 50) / (z_ohm + 50)
    size = np.abs(gamma)
    yield from (F_HZ[at] / 1e6, F_HZ[at], gamma.real, gamma.imag, size, 20 * np.log10(size))
    yield from (np.degrees(np.angle(gamma)), z_ohm.real, z_ohm.imag, (1 + size) / (1 - size))


def odd_row(texts):
    odd = odd_rows.odd_row(Printed.of_texts(texts, np.array([float(text) for text in texts])))
    return odd and odd.row


@pytest.mark.parametrize("name", WRITERS)
def test_what_a_writer_prints_is_sound(name):
    for seed, rows in itertools.product(range(2), (5, 12, 23, 101)):
        for values in columns(seed, rows):
            texts = [WRITERS[name](value) for value in values]
            assert odd_row(texts) is None, texts


@pytest.mark.parametrize("name", ["2 decimals", "3 decimals", "6 decimals"])
def test_a_digit_or_the_mark_lost_from_a_fixed_writer_is_found(name):
    for seed in range(4):
        values = list(columns(seed, 101))[-2]
        texts = [WRITERS[name](value) for value in values]
        for at in (0, 40, 100):
            for damaged in (texts[at][:-1], texts[at].replace(".", "")):
                assert odd_row([*texts[:at], damaged, *texts[at + 1 :]]) == at


@pytest.mark.parametrize("left", ["0", "0.", "-0"])
def test_a_zero_that_is_left_of_a_number_is_found(left):
    texts = [f"{value:.6f}" for value in np.linspace(0.30, 0.42, 101)]
    assert odd_row([*texts[:60], left, *texts[61:]]) == 60
    crossing = [f"{value:.6f}" for value in np.linspace(-0.12, 0.12, 101)]
    assert odd_row([*crossing[:50], left, *crossing[51:]]) is None
