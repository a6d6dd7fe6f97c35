"""What a file prints, in which steps, and how much of the reflection that leaves open."""

import re

import numpy as np
import pytest

from sweepkit.printed_quantities import blur
from sweepkit.readers import read_sweep
from sweepkit.readers.numbers import Style
from sweepkit.readers.printing import Printed
from sweepkit.sweep import Sweep

F_HZ = np.linspace(7e6, 7.4e6, 401)
Z_OHM = 62 * (1 + 8 * (F_HZ / 7.15e6 - 1) + 1j * 28 * (F_HZ / 7.15e6 - 7.15e6 / F_HZ)) + 0.37j
GAMMA = (Z_OHM - 50) / (Z_OHM + 50)
SIZE, DEG = np.abs(GAMMA), np.degrees(np.angle(GAMMA))
Y = 1 / Z_OHM
SWR = (1 + SIZE) / (1 - SIZE)
FORMS = {  # heading or option line, columns, how they print, quantities
    "R and X to 1 ohm": ("MHz,R (ohm),X (ohm)", (Z_OHM.real, Z_OHM.imag), "%.0f", ("r", "x")),
    "R and X to 0.1 ohm": ("MHz,R (ohm),X (ohm)", (Z_OHM.real, Z_OHM.imag), "%.1f", ("r", "x")),
    "R and X to 3 digits": ("MHz,R (ohm),X (ohm)", (Z_OHM.real, Z_OHM.imag), "%.2e", ("r", "x")),
    "R and X to 1 ohm with idle zeros": (
        "MHz,R (ohm),X (ohm)",
        (np.round(Z_OHM.real), np.round(Z_OHM.imag)),
        "%.2f",
        ("r", "x"),
    ),
    "|Z| and degrees": (
        "MHz,|Z| (ohm),Phase(Z) (deg)",
        (np.abs(Z_OHM), np.degrees(np.angle(Z_OHM))),
        "%.0f",
        ("z_abs", "z_phase"),
    ),
    "dB and degrees": ("MHz,S11 (dB),S11 (deg)", (20 * np.log10(SIZE), DEG), "%.1f", ("db", "s_phase")),
    "parallel": ("MHz,Rp (ohm),Xp (ohm)", (1 / Y.real, -1 / Y.imag), "%.0f", ("rp", "xp")),
    "millisiemens": ("MHz,G (mS),B (mS)", (1e3 * Y.real, 1e3 * Y.imag), "%.1f", ("g", "b")),
    "RI": ("# MHz S RI R 50", (GAMMA.real, GAMMA.imag), "%.2f", ("re", "im")),
    "MA": ("# MHz S MA R 50", (SIZE, DEG), "%.2f", ("mag", "s_phase")),
    "Z divided by 50": ("# MHz Z RI R 50", (Z_OHM.real / 50, Z_OHM.imag / 50), "%.2f", ("r", "x")),
}


def read(folder, head, columns, form) -> Sweep:
    separator = " " if head.startswith("#") else ","
    rows = [
        separator.join([f"{f / 1e6:.4f}", *(form % value for value in row)])
        for f, *row in zip(F_HZ, *columns, strict=True)
    ]
    path = folder / ("sweep.s1p" if head.startswith("#") else "sweep.csv")
    path.write_text("\n".join([head, *rows]) + "\n")
    return read_sweep(path)


@pytest.mark.parametrize("name", FORMS)
def test_the_rounding_said_is_the_rounding_met(tmp_path, name):
    # The reflection before printing is known here, so the rms of what printing did to it can be taken.
    head, columns, form, quantities = FORMS[name]
    sweep = read(tmp_path, head, columns, form)
    assert sweep.printed_step is not None
    assert sweep.printed_step.quantities == quantities
    met = np.sqrt(np.mean(np.abs(sweep.gamma - GAMMA) ** 2))
    said = np.sqrt(np.mean(sweep.rounding**2))
    assert said == pytest.approx(met, rel=0.15)


def test_the_rounding_of_an_swr(tmp_path):
    sweep = read(tmp_path, "MHz,SWR", (SWR,), "%.1f")
    met = np.sqrt(np.mean((sweep.gamma_abs - SIZE) ** 2))
    assert np.sqrt(np.mean(sweep.rounding**2)) == pytest.approx(met, rel=0.15)


def test_another_reference_carries_the_rounding_along(tmp_path):
    sweep = read(tmp_path, *FORMS["RI"][:3]).renormalised(200.0)
    met = np.sqrt(np.mean(np.abs(sweep.gamma - (Z_OHM - 200) / (Z_OHM + 200)) ** 2))
    assert np.sqrt(np.mean(sweep.rounding**2)) == pytest.approx(met, rel=0.15)


def test_a_sweep_made_in_python_has_none():
    assert not Sweep.from_gamma(F_HZ, GAMMA).rounding.any()


@pytest.mark.parametrize(
    ("texts", "absolute", "relative"),
    [
        (["48.2", "47.9", "101.3"], 0.1, 0.0),
        (["48.2", "48", "101.3", "47.9"], 0.1, 0.0),  # a spreadsheet drops the last zero
        (["12.34", "123.4", "1.234", "0.1234"], 0.0, 1e-3),
        (["+4.8200E+01", "-1.2100E+00"], 0.0, 1e-4),
        (["48,25", "1.047,31"], 0.01, 0.0),
        (["48.2-12.1j", "48.9+3.5j"], 0.1, 0.0),
        (["48.00", "51.00", "60.00", "49.00", "52.00", "53.00", "55.00", "47.00"], 1.0, 0.0),
    ],
)
def test_how_a_column_prints(texts, absolute, relative):
    decimal = "," if "," in texts[0] else "."
    values = [
        float(
            re.split(r"(?<=\d)(?=[+-])", text)[-1]
            .strip("j")
            .replace(".", "" if decimal == "," else ".")
            .replace(",", ".")
        )
        if "e" not in text.lower()
        else float(text)
        for text in texts
    ]
    step = Printed.of_texts(texts, np.array(values), Style(decimal)).step
    assert (step.absolute, step.relative) == pytest.approx((absolute, relative))


@pytest.mark.identity
@pytest.mark.parametrize("reference_ohm", [50.0, 75.0])
def test_a_step_moves_the_reflection_as_the_derivative_says(reference_ohm):
    gamma = np.array([0.01, 0.3 - 0.4j, -0.7j, 0.95, -0.2 + 0.1j])
    size = np.abs(gamma)
    for name, derivative in {
        "r": np.abs(1 - gamma) ** 2 / (2 * reference_ohm),
        "x_abs": np.abs(1 - gamma) ** 2 / (2 * reference_ohm),
        "g": np.abs(1 + gamma) ** 2 * reference_ohm / 2,
        "z_phase": np.abs(1 - gamma**2) / 2,
        "swr": (1 - size) ** 2 / 2,
        "db": size * np.log(10) / 20,
        "s_phase": size,
        "im": np.ones(5),
    }.items():
        found = blur(name, gamma, reference_ohm, lambda values: np.full(values.shape, 0.1))
        np.testing.assert_allclose(found, 0.1 * derivative, rtol=1e-5, atol=1e-8)
