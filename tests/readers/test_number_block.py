"""Numbers that are read all at once are those of ``float`` to the last bit, and nothing but numbers is read so."""

import re
from decimal import Decimal

import numpy as np
import pytest

from sweepkit.readers import opening
from sweepkit.readers.number_block import NO_EXPONENT, NO_MARK, PIECE_CHARACTERS, read_block

FORMS = ("%.6e", "%.12E", "%g", "%.3f", "%.17g", "%d", "%+.4f", "%.1e")


def numbers(rows: int, columns: int = 3) -> np.ndarray:
    dice = np.random.default_rng(5)
    values = dice.normal(size=(rows, columns)) * 10.0 ** dice.integers(-30, 30, (rows, 1))
    values[dice.random(values.shape) < 0.05] = 0.0
    values[7, 1] = -0.0
    return values


@pytest.mark.identity
@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize(
    ("separator", "decimal"), [(" ", "."), ("\t", "."), (",", "."), (";", ","), ("|", ".")]
)
def test_every_number_is_that_of_float(form, separator, decimal):
    lines = [[form % value for value in row] for row in numbers(60)]
    text = "\n".join(separator.join(cells) for cells in lines)
    block = read_block(text.replace(".", decimal), 5, separator=separator, decimal=decimal)
    expected = np.array([float(cell) for cells in lines for cell in cells])
    np.testing.assert_array_equal(block.values, expected)
    np.testing.assert_array_equal(np.signbit(block.values), np.signbit(expected))
    np.testing.assert_array_equal(block.lines, np.arange(5, 65))


def as_many_digits_as_it_takes(dice):
    """As Python and many loggers print: 16 to 18 digits, each line of another length."""
    return [repr(value) for value in (dice.normal(size=900) * 10.0 ** dice.integers(-3, 6, 900)).tolist()]


def halfway_between_two_doubles(dice):
    """What is hardest to round: cut where a double and the next one are about as near."""
    below = dice.uniform(1, 8, 900).tolist()
    halves = [(Decimal(value) + Decimal(float(np.nextafter(value, 9.0)))) / 2 for value in below]
    return [str(half)[: 12 + k % 8] for k, half in enumerate(halves)]


def beside_powers_of_two(dice):
    powers = 2.0 ** dice.integers(-9, 9, 900)
    return [
        f"{value:.{10 + k % 9}f}"
        for k, value in enumerate(powers * (1 + dice.integers(-2, 3, 900) * 2.0**-52))
    ]


@pytest.mark.identity
@pytest.mark.parametrize(
    "words", [as_many_digits_as_it_takes, halfway_between_two_doubles, beside_powers_of_two]
)
def test_numbers_of_more_digits_than_are_exact_are_rounded_once(words):
    cells = words(np.random.default_rng(11))
    text = "".join(" ".join(cells[at : at + 3]) + "\n" for at in range(0, len(cells), 3))
    block = read_block(text, 1)
    np.testing.assert_array_equal(block.values, [float(cell) for cell in cells])
    behind = [len(cell.partition(".")[2]) if "." in cell else NO_MARK for cell in cells]
    without = np.array(["e" not in cell for cell in cells])
    np.testing.assert_array_equal(block.decimals[without], np.array(behind)[without])


@pytest.mark.identity
@pytest.mark.parametrize("exponent", ["e-05", "E+3", "e-7", "e-105"])
@pytest.mark.parametrize("form", ["{:.6f}", "{!r}", "{:.9g}"])
def test_few_numbers_with_exponents_are_those_of_float_too(form, exponent):
    dice = np.random.default_rng(12)
    cells = [form.format(value) for value in dice.normal(size=900).tolist()]
    for at in (0, 4, 500, 899):
        cells[at] += exponent
    text = "".join(" \t ".join(cells[at : at + 3]) + "\n" for at in range(0, len(cells), 3))
    block = read_block(text, 1)
    np.testing.assert_array_equal(block.values, [float(cell) for cell in cells])
    mantissas = [re.split("[eE]", cell)[0] for cell in cells]
    assert block.decimals.tolist() == [len(cell.partition(".")[2]) for cell in mantissas]
    leads = [len(cell.lstrip("-").partition(".")[0]) for cell in mantissas]
    with_one = [
        lead if mantissa != cell else NO_EXPONENT
        for lead, mantissa, cell in zip(leads, mantissas, cells, strict=True)
    ]
    assert block.leads.tolist() == with_one
    assert (block.counts == 3).all()
    for bad in (" e-05", " +e-05", " .e-05", " 1e-0x", " 1e-05e-05", " 1e-1234"):
        assert read_block(text[:-1] + bad + "\n", 1) is None


@pytest.mark.identity
def test_pieces_of_a_long_text_fit_together():
    lines = [f"{k} {k / 8:.3f} {-k / 64:.6f}" for k in range(PIECE_CHARACTERS // 10)]
    lines[-1] = "7 1.5 2.25"  # prints otherwise than all before
    block = read_block("\n".join(lines) + "\n", 1)
    np.testing.assert_array_equal(block.values, [float(word) for line in lines for word in line.split()])
    np.testing.assert_array_equal(block.lines, np.arange(len(lines)) + 1)
    assert not block.is_even
    assert (block.counts == 3).all()
    assert block.decimals[:3].tolist() == [NO_MARK, 3, 6]
    assert block.decimals[-3:].tolist() == [NO_MARK, 1, 2]


def test_lines_that_print_alike_are_said_once():
    block = read_block("".join(f"{k} {k / 7:.4f} {k / 9:.2e}\n" for k in range(5000)), 1)
    assert block.is_even
    assert block.decimals.tolist() == [NO_MARK, 4, 2]
    assert block.leads.tolist() == [NO_EXPONENT, NO_EXPONENT, 1]


def test_blank_lines_count_as_lines_and_hold_nothing():
    block = read_block("1 2\n\n3 4\n  \n5\n", 10)
    assert block.lines.tolist() == [10, 12, 14]
    assert block.counts.tolist() == [2, 2, 1]
    assert block.values.tolist() == [1, 2, 3, 4, 5]


def test_remarks_are_cut_off_and_kept():
    remarks = []
    block = read_block("1 2 ! first\n! alone\n3 4\n", 4, remarks=remarks)
    assert block.values.tolist() == [1, 2, 3, 4]
    assert remarks == [(4, "first"), (5, "alone")]


@pytest.mark.parametrize(
    "line",
    [
        "1 x",
        "1 2e5",
        "1 --2",
        "1 2-3",
        "1 1.2.3",
        "1 .",
        "1 +",
        "1 -",
        "1 2e+",
        "1 2e+1234",
        "1 1_0",
        "1 nan",
        "1 2,5",
    ],
)
def test_anything_else_is_left_to_the_way_line_by_line(line):
    assert read_block("1 2\n" * 3 + line + "\n", 1) is None
    assert read_block(line + "\n" + "".join(f"{k} {k:.{k % 9}f}\n" for k in range(200)), 1) is None


@pytest.mark.parametrize("row", ["1,,3", "1, ,3", ",2,3", "1,2,", "1;2;3", "1,2 3"])
def test_a_cell_without_a_number_is_none(row):
    assert read_block(f"1,2,3\n{row}\n", 1, separator=",") is None


def test_a_separator_may_end_each_line_where_all_do():
    assert read_block("1,2,\n3,4,\n5,6", 1, separator=",", open_end=True).values.tolist() == [
        1,
        2,
        3,
        4,
        5,
        6,
    ]


def test_a_point_among_decimal_commas_is_none():
    assert read_block("1,5;2,5\n1.5;2,5\n", 1, separator=";", decimal=",") is None


def test_a_remark_inside_a_number_is_none():
    assert read_block("1 2.5\n1 2!5\n", 1, remarks=[]) is None


@pytest.mark.identity
@pytest.mark.parametrize("counted", [1, 16, 1000])
def test_a_line_of_a_long_text_is_found_by_its_number(monkeypatch, counted):
    monkeypatch.setattr(opening, "COUNTED", counted)
    lines = ["x" * (7 * k % 23) for k in range(200)]
    text = opening.Text("\n".join(lines), "a.csv", "", "utf-8")
    assert [text.line(number) for number in range(1, 201)] == lines
    with pytest.raises(ValueError, match="substring"):
        text.line(201)


@pytest.mark.identity
@pytest.mark.parametrize("separator", [",", ";", "\t", " "])
def test_a_digit_count_of_each_cell_with_gaps_between_the_lines(separator):
    dice = np.random.default_rng(3)
    rows = [[f"{value:.6g}" for value in row] for row in dice.normal(size=(6000, 3)) * 90]
    rows[50][1], rows[51][2] = "0." + 120 * "0" + "1", "-7"  # counts of digits beyond one byte, and none
    lines = [separator.join(row) for row in rows]
    lines.insert(40, "")
    block = read_block("\n".join(lines), 1, separator=separator)
    cells = [cell for row in rows for cell in row]
    np.testing.assert_array_equal(block.values, [float(cell) for cell in cells])
    behind = [len(cell.partition(".")[2]) if "." in cell else NO_MARK for cell in cells]
    plain = np.array(["e" not in cell for cell in cells])
    np.testing.assert_array_equal(block.decimals[plain], np.array(behind)[plain])
    np.testing.assert_array_equal(block.lines, [n for n in range(1, 6002) if n != 41])


@pytest.mark.parametrize("line", ["1,,2", ",1,2", "1,2,", "1, ,2", "1,\t,2", "1 2,3", "1,\f,2"])
def test_a_cell_that_is_empty_or_holds_two_numbers_is_none(line):
    assert read_block(f"1,20,3\n4,5.5,6\n{line}\n7,8.25,9\n", 1, separator=",") is None


@pytest.mark.parametrize("filling", ["\n", "! nothing measured here\n"])
def test_a_piece_of_the_text_may_hold_no_number(filling):
    empty = 2 * PIECE_CHARACTERS // len(filling)
    block = read_block("1 2.5 3\n" + empty * filling + "4 5.25 6\n", 1, remarks=[])
    assert block.values.tolist() == [1, 2.5, 3, 4, 5.25, 6]
    assert block.lines.tolist() == [1, empty + 2]
