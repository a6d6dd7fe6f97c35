"""Files read side by side: what comes out is what each gives by itself, and whatever is not sound is left alone."""

from __future__ import annotations

import re

import numpy as np
import pytest

from sweepkit.cli.files import load_sweeps
from sweepkit.errors import SweepkitError
from sweepkit.readers import read_sweep
from sweepkit.readers.side_by_side import read_side_by_side
from sweepkit.sweep import Source, sweeps_on_one_grid
from tests.coverage.antennas import series

pytestmark = pytest.mark.identity

F_HZ = np.linspace(6.8e6, 7.4e6, 61)
MUTATIONS = 600


def lines_of(number: int, *, option: str = "# Hz S RI R 50", form: str = "{:.6f}", noise: float = 0.001):
    dice = np.random.default_rng(number)
    z_ohm = series(dice.uniform(35, 75), dice.uniform(8, 16), 7.1e6 * dice.uniform(0.99, 1.01))(F_HZ)
    gamma = (z_ohm - 50) / (z_ohm + 50) + noise * dice.standard_normal(F_HZ.size)
    unit, how = option.split()[1], option.split()[3]
    f = F_HZ / {"Hz": 1, "kHz": 1e3, "MHz": 1e6, "GHz": 1e9}[unit]
    size = 20 * np.log10(np.abs(gamma)) if how == "DB" else np.abs(gamma)
    pair = (gamma.real, gamma.imag) if how == "RI" else (size, np.degrees(np.angle(gamma)))
    rows = (" ".join(form.format(float(value)) for value in row) for row in zip(f, *pair, strict=True))
    return [option, *rows]


PLAIN = {
    "real and imaginary": "\n".join(lines_of(1)) + "\n",
    "magnitude and angle": "\n".join(lines_of(2, option="# MHz S MA R 50")),
    "decibels": "\n".join(lines_of(3, option="# kHz S DB R 50", form="{:.4f}")) + "\n\n",
    "exponents": "\n".join(lines_of(4, option="# GHz S RI R 75", form="{:.8E}")),
    "other line ends": "\r\n".join(lines_of(5)) + "\r\n",
    "tabs": "\n".join(lines_of(6)).replace(" ", "\t").replace("#\t", "# "),
    "remarks": "! a remark\n!\n\n" + "\n".join(lines_of(7)),
    "few decimals": "\n".join(lines_of(8, form="{:.2f}", noise=0.0)),
}
HEAD = "! a remark\n# Hz S RI R 50.0 \n!freq ReS11 ImS11\n!\n"
UNEVEN = {
    "six digits": "\n".join(lines_of(21, form="{:.6g}")) + "\n",
    "nine digits": "\n".join(lines_of(22, option="# MHz S MA R 50", form="{:.9g}")) + "\n",
    "five digits of decibels": "\n".join(lines_of(23, option="# MHz S DB R 50", form="{:.5g}")) + "\n",
    "all digits": HEAD + "\n".join(lines_of(24, form="{!r}")[1:]) + "\n",
    "all digits, small ones with exponents": re.sub(
        r"-?0\.0\d+", lambda small: f"{float(small[0]):.15e}", "\n".join(lines_of(25, form="{!r}")) + "\n"
    ),
    "more digits": "\n".join(lines_of(26, option="# kHz S RI R 50", form="{:.17g}")) + "\n",
    "six digits and exponents": "\n".join(lines_of(27, form="{:.6e}")).replace("e-01", "e-1") + "\n",
}
LEFT_ALONE = {
    "ohm": "\n".join(lines_of(9)).replace(" S ", " Z "),
    "no reference": "\n".join(lines_of(10)).replace(" R 50", ""),
    "a remark behind": "\n".join([*lines_of(11)[:-1], lines_of(11)[-1] + " ! end"]),
    "falling": "\n".join([lines_of(12)[0], *lines_of(12)[:0:-1]]),
    "a hole": "\n".join(lines_of(13)[:20] + lines_of(13)[23:]),
    "cut short": "\n".join(lines_of(14))[:-7],
    "a word": "\n".join(lines_of(15)).replace("7000000", "70o0000"),
    "another impedance in a remark": "! PORT IMPEDANCE 75\n" + "\n".join(lines_of(16)),
    "a byte of no text": "!\x01\n" + "\n".join(lines_of(17)),
    "short": "\n".join(lines_of(18)[:9]),
    "two ports by its name": "\n".join(lines_of(19)),
    "nothing": "",
    "uneven without an end": UNEVEN["six digits"][:-1],
    "uneven with a digit lost": UNEVEN["more digits"].replace(" 0.1", " 0.", 1),
    "a row as a remark": UNEVEN["all digits"].replace("\n!\n", "\n! 6790000.0 0.25 -0.5\n"),
}


def is_same(one, other) -> bool:
    arrays = all(
        np.array_equal(getattr(one, name), getattr(other, name)) for name in ("f_hz", "gamma", "gamma_abs")
    )
    fields = ("reference_ohm", "phase", "gamma_folded", "measured_at", "source", "findings", "printed_step")
    return arrays and all(getattr(one, name) == getattr(other, name) for name in fields)


def written(folder, texts: dict[str, str]) -> list[str]:
    names = []
    for name, text in texts.items():
        path = folder / f"{name}.{'s2p' if 'by its name' in name else 's1p'}"
        path.write_bytes(text.encode())
        names.append(str(path))
    return names


def test_what_is_plain_is_read_as_by_itself(tmp_path):
    names = written(tmp_path, PLAIN | UNEVEN | {f"more {k}": "\n".join(lines_of(100 + k)) for k in range(5)})
    found = read_side_by_side(names, measured_at="radio")
    for name, sweep in zip(names, found, strict=True):
        assert sweep is not None, name
        assert is_same(sweep, read_sweep(name, measured_at="radio")), name


def test_what_is_not_plain_is_left_alone(tmp_path):
    names = written(tmp_path, LEFT_ALONE | {"good": PLAIN["real and imaginary"]})
    *odd, good = read_side_by_side([*names[:-1], str(tmp_path), str(tmp_path / "not there"), names[-1]])
    assert odd == [None] * len(odd)
    assert good is not None


def mutated(text: str, dice: np.random.Generator) -> str:
    """With one or two slips: another digit, a character changed, lost or added, or a line lost or doubled."""
    for _ in range(int(dice.integers(1, 3))):
        lines, at = text.split("\n"), int(dice.integers(len(text)))
        line, kind = int(dice.integers(len(lines))), int(dice.integers(10))
        if kind < 6 and text[at].isdigit():
            text = text[:at] + str(dice.integers(10)) + text[at + 1 :]
        elif kind < 8:
            new = str(dice.choice(list("0123456789-+. eE\n!#x")))
            text = text[:at] + ("", new, new + text[at])[kind % 3] + text[at + 1 :]
        else:
            lines[line : line + 1] = [lines[line]] * 2 if kind == 8 else []
            text = "\n".join(lines)
    return text


@pytest.mark.parametrize("files", [PLAIN, UNEVEN], ids=["even", "uneven"])
def test_of_damaged_files_only_such_come_out_as_are_read_alike_without_a_word(tmp_path, files):
    dice, plain = np.random.default_rng(0), list(files.values())
    texts = {str(k): mutated(plain[k % len(plain)], dice) for k in range(MUTATIONS)}
    names = written(tmp_path, texts)
    found = [read_side_by_side([name])[0] for name in names]
    taken = sum(sweep is not None for sweep in found)
    assert MUTATIONS / 20 < taken < MUTATIONS / 2
    for name, *sweeps in zip(names, found, read_side_by_side(names), strict=True):
        came_out = [sweep for sweep in sweeps if sweep is not None]
        try:
            alone = read_sweep(name)
        except SweepkitError:
            assert not came_out, name
            continue
        assert all(is_same(sweep, alone) for sweep in came_out), name


def test_a_folder_comes_in_order_with_the_bad_one_named(tmp_path, capsys):
    texts = {f"{k:02d}": "\n".join(lines_of(k)) for k in range(20)}
    texts |= {"07": LEFT_ALONE["a word"], "11": PLAIN["magnitude and angle"], "13": LEFT_ALONE["falling"]}
    names = sorted(written(tmp_path, texts))
    loaded = list(load_sweeps([tmp_path, tmp_path / "03.s1p"]))
    assert [one.path for one in loaded] == [*names, names[3]]
    assert [one.path for one in loaded if one.sweep is None] == [names[7]]
    assert names[7] in capsys.readouterr().err
    for one in loaded:
        assert one.sweep is None or is_same(one.sweep, read_sweep(one.path))


def test_sweeps_on_one_grid_are_checked_and_cannot_be_changed():
    gamma = np.full((2, F_HZ.size), 0.5 + 0.1j)
    one, other = sweeps_on_one_grid(F_HZ, gamma, [Source("a"), Source("b")], reference_ohm=75.0)
    gamma[:] = 0
    assert (one.source.name, other.source.name, other.reference_ohm) == ("a", "b", 75.0)
    for sweep in (one, other):
        assert sweep.gamma[0] == 0.5 + 0.1j
        for array in (sweep.f_hz, sweep.gamma, sweep.gamma_abs):
            with pytest.raises(ValueError, match="read-only"):
                array[0] = 0
    gamma[1, 3] = np.nan
    with pytest.raises(ValueError, match="finite"):
        sweeps_on_one_grid(F_HZ, gamma, [Source("a"), Source("b")])
