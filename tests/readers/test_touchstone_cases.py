"""Every way of writing a Touchstone 1 file that was met: read right, or refused with the line."""

import numpy as np
import pytest

from sweepkit.errors import NeedsHint, UnreadableFile
from sweepkit.readers import read_sweep

F_HZ = np.array([7.0e6, 7.05e6, 7.1e6, 7.15e6, 7.2e6])
GAMMA = np.array([0.5 + 0.1j, 0.4 + 0.0j, 0.3 - 0.1j, 0.3 - 0.2j, 0.4 - 0.3j])
RI = "".join(f"{f:.0f} {g.real:.6f} {g.imag:.6f}\n" for f, g in zip(F_HZ, GAMMA, strict=True))
PLAIN = "# Hz S RI R 50\n" + RI


def _ma(unit_hz: float) -> str:
    return "".join(
        f"{f / unit_hz!r} {abs(g)!r} {float(np.degrees(np.angle(g)))!r}\n"
        for f, g in zip(F_HZ.tolist(), GAMMA.tolist(), strict=True)
    )


def _pairs(values, form="{0.real!r} {0.imag!r}") -> str:
    return "".join(f"{f:.0f} {form.format(complex(v))}\n" for f, v in zip(F_HZ, values, strict=True))


def _write(folder, content, name="antenna.s1p"):
    path = folder / name
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return path


Z = (1 + GAMMA) / (1 - GAMMA)
READ = {
    "plain": PLAIN,
    "byte-order mark": "\ufeff" + PLAIN,
    "UTF-16 with mark": PLAIN.encode("utf-16"),
    "UTF-16 without mark": PLAIN.encode("utf-16-le"),
    "latin-1 in a remark": b"! 20 m \xb0 \xd8\n" + PLAIN.encode(),
    "CRLF": PLAIN.replace("\n", "\r\n"),
    "CR only": PLAIN.replace("\n", "\r"),
    "mixed line ends": PLAIN.replace("\n", "\r\n", 3),
    "no newline at the end": PLAIN.rstrip("\n"),
    "lower case": PLAIN.lower(),
    "words in another order": "# RI R 50 S Hz\n" + RI,
    "reference first": "# R 50 Hz RI S\n" + RI,
    "defaults GHz S MA R 50": "#\n" + _ma(1e9),
    "no S and format": "# MHz R 50\n" + _ma(1e6),
    "no unit": "# S RI R 50\n"
    + "".join(f"{f / 1e9!r} {g.real} {g.imag}\n" for f, g in zip(F_HZ.tolist(), GAMMA.tolist(), strict=True)),
    "format only": "# MA\n" + _ma(1e9),
    "no R": "# Hz S RI\n" + RI,
    "R glued": "# Hz S RI R50\n" + RI,
    "R with equals sign": "# Hz S RI R=50\n" + RI,
    "R with ohm": "# Hz S RI R 50 ohm\n" + RI,
    "no blank after #": "#HZ S RI R 50\n" + RI,
    "indented": PLAIN.replace("\n", "\n  ").replace("#", "  #"),
    "two equal option lines": "# Hz S RI R 50\n" + PLAIN,
    "remark behind the option line": "# Hz S RI R 50 ! as exported\n" + RI,
    "remark in mid line": PLAIN.replace("0.100000\n", "0.100000 ! first\n"),
    "remark between rows": PLAIN.replace("\n705", "\n! pause\n705"),
    "port impedance in a remark": "! Port Impedance 50 ohm\n" + PLAIN,
    "port impedance after each row": PLAIN.replace("\n7", "\n! Port Impedance = 50\n7"),
    "gamma in a remark": "! Gamma match antenna\n" + PLAIN,
    "gamma and a numeric remark": PLAIN.replace("RI R 50\n", "RI R 50\n! Gamma match antenna\n! 1 2 3\n"),
    "third port in a remark": "! Port[3] = x\n" + PLAIN,
    "variable in a remark": "! a = 1.5 mm\n" + PLAIN,
    "unit in a remark contradicts": "! MHz\n" + PLAIN,
    "blank lines everywhere": PLAIN.replace("\n", "\n\n"),
    "tabs": PLAIN.replace(" ", "\t"),
    "decimal commas": "# Hz S RI R 50\n" + RI.replace(".", ","),
    "D exponents": "# Hz S RI R 50\n" + RI.replace(" ", "D0 ", 1).replace("\n", "D+00\n"),
    "Z divided by R": "# Hz Z RI R 50\n" + _pairs(Z),
    "Y times R": "# Hz Y RI R 50\n" + _pairs(1 / Z),
    "begin and end marks": "BEGIN\n" + PLAIN + "END\n",
    "block count of an instrument": "#42180! swept\n" + PLAIN,
    "block count before the option line": "#42180" + PLAIN,
    "end-of-file mark": PLAIN + "\x1a",
}


@pytest.mark.parametrize("case", READ)
def test_reads_the_same_sweep(tmp_path, case):
    sweep = read_sweep(_write(tmp_path, READ[case]))
    np.testing.assert_allclose(sweep.f_hz, F_HZ, rtol=1e-12)
    np.testing.assert_allclose(sweep.gamma, GAMMA, atol=2e-7)
    assert sweep.reference_ohm == 50


REFUSED = {
    "no option line": (RI, r":1: .*--columns"),
    "no option line, legal default": (_ma(1e9), r":1: .*--columns"),
    "R without a value": ("# Hz S RI R\n" + RI, r":1: the option line has R without a number"),
    "R missing": ("# Hz S RI 75\n" + RI, r":1: option line has '75' without R .* write R 75"),
    "R zero": ("# Hz S RI R 0\n" + RI, r":1: option line has the reference R 0; expected ohms above 0"),
    "R negative": ("# Hz S RI R -50\n" + RI, r":1: option line has the reference R -50"),
    "R twice": ("# Hz S RI R 50 R 75\n" + RI, r":1: option line says both 'R' and 'R'"),
    "unknown unit": ("# THz S RI R 50\n" + RI, r":1: option line has the word 'THz'"),
    "second option line": ("# Hz S RI R 50\n# Hz S MA R 50\n" + RI, r":2: a second option line"),
    "option line after the numbers": (PLAIN + "# Hz S MA R 50\n", r":7: option line after the first numbers"),
    "semicolon remarks": ("; remark\n" + PLAIN, r":1: '; remark' before the option line"),
    "percent remarks": ("% remark\n" + PLAIN, r":1: '% remark' before the option line"),
    "text before the option line": ("My antenna\n" + PLAIN, r":1: 'My antenna' before the option line"),
    "comma separated": (
        "# Hz S RI R 50\n" + RI.replace(" ", ","),
        r":2: '7000000,0.500000,0.100000' is no number",
    ),
    "thousands marks": (PLAIN.replace("7000000", "7,000,000"), r":2: '7,000,000' is no number"),
    "exponent in one number": (PLAIN.replace("0.300000", "0.3e0000", 1), r":4: a number has an exponent"),
    "remark inside a number": (PLAIN.replace("0.300000", "0.3!0000", 1), r":4: a remark begins inside"),
    "underscores": (PLAIN.replace("7000000", "7_000_000"), r":2: '7_000_000' is no number"),
    "negative frequency": (PLAIN.replace("7000000", "-7000000"), r":2: frequency -7e\+06 Hz"),
    "nan": (PLAIN.replace("0.500000", "nan"), r":2: 'nan' is no number"),
    "inf": (PLAIN.replace("0.500000", "inf"), r":2: 'inf' is no number"),
    "-inf outside DB": (PLAIN.replace("0.500000", "-inf"), r":2: '-inf' is no number"),
    "-nan(ind)": (PLAIN.replace("0.500000", "-nan(ind)"), r":2: '-nan\(ind\)' is no number"),
    "1.#IND": (PLAIN.replace("0.500000", "1.#IND"), r":2: '1.#IND' is no number"),
    "infinite frequency": (PLAIN.replace("7000000", "inf"), r":2: 'inf' is no number"),
    "too large a number": (PLAIN.replace("0.500000", "1e+999"), r":2: reflection of size inf"),
    "last line with one number": (PLAIN + "7250000\n", r":7: line has 1 number, 3 expected; .*cut short"),
    "last line with two": (PLAIN + "7250000 0.1\n", r":7: line has 2 numbers, 3 expected; .*cut short"),
    "missing number in the middle": (PLAIN.replace(" 0.000000", ""), r":3: line has 2 numbers, 3 expected"),
    "missing column everywhere": (
        "# Hz S DB R 50\n7000000 -6\n7050000 -8\n7100000 -9\n",
        r":2: line has 2 numbers",
    ),
    "missing column, even rows": ("# Hz S DB R 50\n7000000 -6\n7050000 -8\n", r":2: line has 2 numbers"),
    "extra column": ("# Hz S RI R 50\n" + RI.replace("\n", " 1.5\n"), r":2: line has 4 numbers, 3 expected"),
    "names of columns": ("# Hz S RI R 50\nfreq re im\n" + RI, r":2: 'freq' is no number"),
    "nothing but head": ("! a\n# Hz S RI R 50\n", r":3: no measured points"),
    "two ports in the file": (
        "# Hz S RI R 50\n" + RI.replace("\n", " 0 0 0 0 0 0\n"),
        r":2: line has 9 numbers, 3 expected",
    ),
    "percent": (
        "# Hz S MA R 50\n7000000 50.9 11\n7050000 40 0\n7100000 31.6 -18\n",
        r":2: reflection of size 50.9",
    ),
    "decibels called magnitude": (
        "# Hz S MA R 50\n7000000 -5.9 11\n7050000 -8 0\n",
        r":2: negative magnitude.*DB",
    ),
    "Hz that are MHz": ("# Hz S RI R 50\n7.0 0.5 0.1\n7.1 0.4 0.1\n", r":3: highest frequency is 7.1 Hz"),
    "keyword without version": (
        "# Hz S RI R 50\n[Number of Ports] 1\n" + RI,
        r":2: keyword \[Number of Ports\]",
    ),
    "duplicate with other values": (
        PLAIN + "7000000 -0.5 0.1\n",
        r":7: 7000000 Hz stands here and in line 2",
    ),
    "two sweeps": (PLAIN + _pairs(-GAMMA + 0.01), r":7: "),
    "G of one port": ("# Hz G RI R 50\n" + RI, r":1: G parameters of 1 ports"),
    "unit twice": ("# Hz MHz S RI R 50\n" + RI, r":1: option line says both 'Hz' and 'MHz'"),
    "Z in ohm": ("# Hz Z RI R 50\n" + _pairs(50 * Z), r":1: the smallest \|Z\|.*--reference-ohm 50"),
    "numbers after END": ("BEGIN\n" + PLAIN + "END\n7250000 0.1 0.1\n", r":9: numbers after END"),
    "second block": ("BEGIN\n" + PLAIN + "BEGIN\n7250000 0.1 0.1\nEND\n", r":8: a second block begins"),
    "decimal commas that may be thousands": (
        "# Hz S RI R 50\n7000000 1,234 5,678\n",
        r":2: .*--decimal comma",
    ),
    "both decimal marks": (PLAIN.replace("0.500000", "0,500000"), r":\d: both comma and point"),
}


@pytest.mark.parametrize("case", REFUSED)
def test_refuses_with_the_line(tmp_path, case):
    content, words = REFUSED[case]
    with pytest.raises(UnreadableFile, match=r"antenna\.s1p" + words):
        read_sweep(_write(tmp_path, content))


def test_minus_infinity_decibel_is_a_perfect_match(tmp_path):
    sweep = read_sweep(_write(tmp_path, "# Hz S DB R 50\n7000000 -inf 0\n7100000 -20 0\n"))
    np.testing.assert_allclose(sweep.gamma, [0, 0.1], atol=1e-15)


def test_keeps_another_reference(tmp_path):
    sweep = read_sweep(_write(tmp_path, "# Hz S RI R 75\n" + RI))
    assert sweep.reference_ohm == 75
    np.testing.assert_allclose(sweep.gamma, GAMMA)


def test_a_reference_as_hint_fills_a_gap_and_a_clash_is_refused(tmp_path):
    gap = _write(tmp_path, "# Hz S RI\n" + RI, "gap.s1p")
    assert read_sweep(gap).reference_ohm == 50
    assert read_sweep(gap, reference_ohm=75).reference_ohm == 75
    clash = _write(tmp_path, PLAIN)
    assert read_sweep(clash, reference_ohm=50).reference_ohm == 50
    with pytest.raises(UnreadableFile, match=r"antenna\.s1p:1: the file states 50 ohm as reference"):
        read_sweep(clash, reference_ohm=75)


def test_a_doubted_impedance_file_is_read_when_the_reference_is_confirmed(tmp_path):
    path = _write(tmp_path, "# Hz Z RI R 50\n" + _pairs(50 * Z))
    with pytest.raises(NeedsHint):
        read_sweep(path)
    np.testing.assert_allclose(read_sweep(path, reference_ohm=50).gamma, (50 * Z - 1) / (50 * Z + 1))


def test_a_port_impedance_in_the_remarks_that_differs_is_said(tmp_path):
    sweep = read_sweep(_write(tmp_path, "! Port Impedance 376.7 0.1\n" + PLAIN))
    assert sweep.reference_ohm == 50
    (finding,) = sweep.findings
    assert finding.code == "reference-in-remarks"
    assert "376.7" in finding.text


@pytest.mark.parametrize("order", [[4, 3, 2, 1, 0], [0, 1, 3, 2, 4], [3, 0, 4, 1, 2]])
def test_rows_in_another_order_are_sorted_and_reported(tmp_path, order):
    rows = RI.splitlines(keepends=True)
    sweep = read_sweep(_write(tmp_path, "# Hz S RI R 50\n" + "".join(rows[i] for i in order)))
    np.testing.assert_allclose(sweep.gamma, GAMMA)
    assert [finding.code for finding in sweep.findings] == ["reordered"]


def test_equal_duplicates_are_merged_and_reported(tmp_path):
    rows = RI.splitlines(keepends=True)
    sweep = read_sweep(_write(tmp_path, "# Hz S RI R 50\n" + "".join([*rows[:3], rows[2], *rows[3:]])))
    np.testing.assert_allclose(sweep.gamma, GAMMA)
    assert [finding.code for finding in sweep.findings] == ["duplicates-merged"]


def test_reflection_slightly_above_one_is_read_with_a_finding(tmp_path):
    sweep = read_sweep(_write(tmp_path, PLAIN.replace("0.500000", "1.050000")))
    assert [(f.code, f.level) for f in sweep.findings] == [("reflection-above-one", "warning")]


def test_zero_frequency_first_is_read(tmp_path):
    assert read_sweep(_write(tmp_path, PLAIN.replace("7000000", "0"))).f_hz[0] == 0


def test_a_decimal_hint_against_the_file_is_refused(tmp_path):
    with pytest.raises(UnreadableFile, match=r"antenna\.s1p:2: '0\.500000' is no number"):
        read_sweep(_write(tmp_path, PLAIN), decimal="comma")
    assert read_sweep(_write(tmp_path, PLAIN), decimal="point").f_hz.size == 5
