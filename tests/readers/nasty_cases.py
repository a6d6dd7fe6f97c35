"""Files made to be read wrongly: what must become of each. Same resonator as ``table_cases``; kinds as there.

``read`` stands for a sweep that must have the right reflection; a word behind ``refuse`` or a hint must stand in
the message; ``+code`` names a finding that must be there.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from tests.readers.table_cases import F_HZ, GAMMA, Z_OHM

MHZ = F_HZ / 1e6
SWR = (1 + np.abs(GAMMA)) / (1 - np.abs(GAMMA))
DB = 20 * np.log10(np.abs(GAMMA))
DEG = np.degrees(np.angle(GAMMA))


@dataclass(frozen=True)
class Nasty:
    """A file and what must become of it."""

    text: str
    expected: str
    hints: dict[str, Any] = field(default_factory=dict)


NASTY: dict[str, Nasty] = {}


def add(name: str, text: str, expected: str, **hints: Any) -> None:
    assert name not in NASTY, name
    NASTY[name] = Nasty(text, expected, hints)


def rows(*columns, forms, sep=",", dec=".", trail="") -> list[str]:
    """Printed rows."""
    lines = []
    for row in zip(*columns, strict=True):
        cells = [
            form % value if isinstance(form, str) else form(value)
            for form, value in zip(forms, row, strict=True)
        ]
        lines.append(sep.join(cell.replace(".", dec) for cell in cells) + trail)
    return lines


def text(head, lines, tail="") -> str:
    return "\n".join([*([head] if head else []), *lines]) + "\n" + tail


def cell(lines, row, column, new, sep=",") -> list[str]:
    """The rows with one cell replaced; ``new`` may be a function of the old text."""
    changed = list(lines)
    cells = changed[row].split(sep)
    cells[column] = new(cells[column]) if callable(new) else new
    changed[row] = sep.join(cells)
    return changed


RX = rows(MHZ, Z_OHM.real, Z_OHM.imag, forms=("%.4f", "%.1f", "%.1f"))
RX3 = rows(MHZ, Z_OHM.real, Z_OHM.imag, forms=("%.4f", "%.3f", "%.3f"))
RXS = rows(MHZ, Z_OHM.real, Z_OHM.imag, SWR, forms=("%.4f", "%.1f", "%.1f", "%.2f"))
HEAD = "Frequency (MHz),R (ohm),X (ohm)"
HEADS = HEAD + ",SWR"

# Numbers that lost their mark or a digit, and marks of overflow
for row in (0, 7, 22):
    for column in (0, 1, 2):
        add(
            f"mark lost, row {row}, column {column}",
            text(HEAD, cell(RX3, row, column, lambda c: c.replace(".", ""))),
            "refuse",
        )
        add(
            f"digit lost behind the mark, row {row}, column {column}",
            text(HEAD, cell(RX3, row, column, lambda c: c[:-1])),
            "refuse",
        )
    add(
        f"mark moved, row {row}", text(HEAD, cell(RX3, row, 1, lambda c: c[0] + "." + c[1] + c[3:])), "refuse"
    )
for word in (
    "9.9e37",
    "3.4E+38",
    "1000000",
    "-1e9",
    "99999",
    "99999.9",
    "9999.9",
    "65535",
    "OL",
    "---",
    ">9999",
    "inf",
    "1.#INF",
):
    add(f"overflow {word} as R", text(HEAD, cell(RX, 9, 1, word)), "refuse")
    add(f"overflow {word} as X", text(HEAD, cell(RX, 9, 2, word)), "refuse")
opens = rows(MHZ, np.full(23, 9.9e6), np.full(23, -3e6), forms=("%.4f", "%.0f", "%.0f"))
add("an open all the way", text(HEAD, opens), "open")
add("last number cut, no line end", text(HEAD, RX3)[:-3], "refuse")
add("last number cut before its mark", text(HEAD, RX)[:-3], "refuse")
add("last row cut", text(HEAD, RX)[:-6], "refuse")
add(
    "spreadsheet drops the last zero",
    text(
        HEAD,
        [line.replace(".0,", ",").rstrip("0").rstrip(".") if line.endswith(".0") else line for line in RX],
    ),
    "read",
)
add("general numbers", text(HEAD, rows(MHZ, Z_OHM.real, Z_OHM.imag, forms=("%.6g", "%.4g", "%.4g"))), "read")
add(
    "repr numbers",
    text(HEAD, rows(MHZ, Z_OHM.real, Z_OHM.imag, forms=(repr, repr, repr)))
    .replace("np.float64(", "")
    .replace(")\n", "\n")
    .replace("),", ",")
    .replace("MHz,R", "MHz),R")
    .replace("ohm,X", "ohm),X")
    .replace("X (ohm\n", "X (ohm)\n"),
    "read",
)

EXP = rows(MHZ, Z_OHM.real, Z_OHM.imag, forms=("%.5E", "%.5E", "%.5E"))
add(
    "mark lost from a number with an exponent",
    text(HEAD, cell(EXP, 7, 1, lambda c: c.replace(".", ""))),
    "refuse",
)
add("few rows, mark lost", text(HEAD, cell(RX3[:5], 2, 1, lambda c: c.replace(".", ""))), "refuse")
RATIO = rows(MHZ, SWR, forms=("%.4f", "%.2f:1"))
add("SWR as a ratio", text("MHz,SWR", RATIO), "swr")
add("SWR as a ratio, mark lost", text("MHz,SWR", cell(RATIO, 7, 1, lambda c: c.replace(".", ""))), "refuse")
CELLS = [f"{f:.4f},{z.real:.2f}{z.imag:+.2f}j" for f, z in zip(MHZ, Z_OHM, strict=True)]
add(
    "complex cells, mark lost",
    text("MHz,Z (ohm)", cell(CELLS, 7, 1, lambda c: c.replace(".", "", 1))),
    "refuse",
)
TWO = [
    " ".join([line, *["0.500000 0.100000"] * 3])
    for line in rows(MHZ, GAMMA.real, GAMMA.imag, forms=("%.4f", "%.6f", "%.6f"), sep=" ")
]
add(
    "two ports, mark lost",
    text("# MHz S RI R 50", cell(TWO, 7, 4, lambda c: c.replace(".", ""), sep=" ")),
    "refuse",
)

# Columns that contradict each other
add(
    "impossible R beside a good SWR",
    text("MHz,SWR,R", rows(MHZ, SWR, np.full(23, 400.0), forms=("%.4f", "%.2f", "%.1f"))),
    "refuse disagree",
)
add(
    "one impossible R beside SWR",
    text("MHz,SWR,R", cell(rows(MHZ, SWR, Z_OHM.real, forms=("%.4f", "%.2f", "%.1f")), 12, 2, "400.0")),
    "refuse disagree",
)
add(
    "R ten times, SWR good",
    text(HEADS, cell(RXS, 12, 1, lambda c: f"{10 * float(c):.1f}")),
    "refuse disagree",
)
add(
    "X sign, SWR and phase good",
    text(
        "MHz,R,X,S11 (deg)",
        cell(
            rows(MHZ, Z_OHM.real, Z_OHM.imag, DEG, forms=("%.4f", "%.1f", "%.1f", "%.2f")),
            20,
            2,
            lambda c: "-" + c,
        ),
    ),
    "refuse disagree",
)
add(
    "SWR of another sweep",
    text(HEADS, rows(MHZ, Z_OHM.real, Z_OHM.imag, SWR[::-1], forms=("%.4f", "%.1f", "%.1f", "%.2f"))),
    "refuse disagree",
)
add(
    "return loss for SWR",
    text(HEADS, rows(MHZ, Z_OHM.real, Z_OHM.imag, -DB, forms=("%.4f", "%.1f", "%.1f", "%.2f"))),
    "refuse",
)
add(
    "|Z| below R",
    text("MHz,R,|Z|,SWR", rows(MHZ, Z_OHM.real, Z_OHM.real / 2, SWR, forms=("%.4f", "%.1f", "%.1f", "%.2f"))),
    "refuse disagree",
)
add("redundant and right", text(HEADS, RXS), "read")
add(
    "SWR that ends at 10",
    text(
        HEADS, rows(MHZ, Z_OHM.real, Z_OHM.imag, np.minimum(SWR, 10), forms=("%.4f", "%.1f", "%.1f", "%.2f"))
    ),
    "read",
)

# Several traces
RX2 = rows(MHZ, SWR, SWR + 0.7, forms=("%.4f", "%.2f", "%.2f"))
for head in (
    "MHz,SWR A,SWR B",
    "MHz,SWR_A,SWR_B",
    "MHz,SWR (A),SWR (B)",
    "MHz,SWR 1,SWR 2",
    "MHz,SWR F,SWR G",
    "MHz,SWR L,SWR C",
    "MHz,VSWR a,VSWR b",
    "MHz,SWR,SWR mem",
):
    add(f"two traces: {head}", text(head, RX2), "hint:trace")
add(
    "the second by its letter",
    text("MHz,SWR A,SWR B", rows(MHZ, SWR + 0.7, SWR, forms=("%.4f", "%.2f", "%.2f"))),
    "swr",
    trace="B",
)
add(
    "S11 of A and B",
    text("MHz,S11 A (dB),S11 B (dB)", rows(MHZ, DB, DB - 1, forms=("%.4f", "%.2f", "%.2f"))),
    "hint:trace",
)
add(
    "a column in too many words",
    text(
        "MHz,R (ohm),X (ohm),SWR and return loss of the balun",
        rows(MHZ, Z_OHM.real, Z_OHM.imag, SWR, forms=("%.4f", "%.1f", "%.1f", "%.2f")),
    ),
    "read +column-left-out",
)
add(
    "R and X beside words of another tongue",
    text(
        "kHz;Odporovost R (Ohm);Jalova cast X (Ohm);SWR",
        rows(
            MHZ * 1e3, Z_OHM.real, Z_OHM.imag, SWR, forms=("%.1f", "%.1f", "%.1f", "%.2f"), sep=";", dec=","
        ),
    ),
    "read",
)
add(
    "R by its word, X by its letter",
    text(
        "kHz;Widerstand R (Ohm);Blindanteil X (Ohm)",
        rows(MHZ * 1e3, Z_OHM.real, Z_OHM.imag, forms=("%.1f", "%.1f", "%.1f"), sep=";", dec=","),
    ),
    "read",
)
add(
    "a column of ohms in words that are not known",
    text(
        "MHz,SWR,Dachantenne (ohm)",
        rows(MHZ, SWR, Z_OHM.real, forms=("%.4f", "%.4f", "%.1f")),
    ),
    "swr +column-left-out",
)

# A lost cell where every line ends with a separator
for name, sep in (("tab", "\t"), ("semicolon", ";"), ("comma", ",")):
    open_rows = rows(
        MHZ, Z_OHM.real, Z_OHM.imag, SWR, forms=("%.4f", "%.1f", "%.1f", "%.2f"), sep=sep, trail=sep
    )
    head = HEADS.replace(",", sep) + sep
    add(f"open end, {name}", text(head, open_rows), "read")
    lost = list(open_rows)
    lost[8] = sep.join(lost[8].split(sep)[:1] + lost[8].split(sep)[2:])
    add(f"open end, {name}, a cell lost", text(head, lost), "refuse 3 cells")
    add(f"open end, {name}, last one trimmed", text(head, open_rows).rstrip(sep + "\n"), "read")

# Linear magnitudes under dB, percent, reference in other words
MAG = rows(MHZ, np.abs(GAMMA), forms=("%.4f", "%.4f"))
add("linear under dB", text("MHz,S11 (dB)", MAG), "hint:columns linear")
add("linear under dB, told", text("MHz,S11 (dB)", MAG), "mag", columns="f,mag")
add(
    "linear under dB in Touchstone",
    text("# MHz S DB R 50", rows(MHZ, np.abs(GAMMA), DEG, forms=("%.4f", "%.4f", "%.2f"), sep=" ")),
    "refuse MA",
)
PERCENT = rows(MHZ, 100 * np.abs(GAMMA), forms=("%.4f", "%.2f"))
add("percent said", text("MHz,|S11| (%)", PERCENT), "mag")
add("percent in words", text("MHz,Reflection percent", PERCENT), "mag")
add("percent behind", text("MHz,Reflection %", PERCENT), "mag")
add("percent in the cells", text("MHz,Reflection", [line + " %" for line in PERCENT]), "mag")
add("percent not said", text("MHz,Reflection", PERCENT), "hint:columns percent")
add(
    "reflected power in percent",
    text("MHz,Reflected power (%)", rows(MHZ, 100 * np.abs(GAMMA) ** 2, forms=("%.4f", "%.2f"))),
    "none",
)
for words in (
    "normalised to 75 ohm",
    "Normalized to 75 Ohms",
    "75 ohm",
    "75 Ω",
    "reference 75 ohm",
    "75 ohm system",
    "Z0 = 75",
    "relative to 75 ohms",
    "System impedance: 75 Ω",
    "normiert auf 75 Ohm",
    "Ref. 75 ohm",
    "R = 75 ohm",
):
    add(f"above: {words}", text(f"# {words}\nMHz,SWR", rows(MHZ, SWR, forms=("%.4f", "%.3f"))), "75")
    add(f"below: {words}", text("MHz,SWR", rows(MHZ, SWR, forms=("%.4f", "%.3f")), f"\n{words}\n"), "75")
RATIOS = rows(MHZ, SWR, forms=("%.4f", "%.3f"))
for words in (
    "Reference impedance: 75 ohm",
    "normalised to 75 ohm",
    "Z0 = 75",
    "Bezugsimpedanz 75 Ohm",
    "System impedance: 75 Ω",
    "Z0,75",
):
    add(f"right below: {words}", text("MHz,SWR", RATIOS, f"{words}\n"), "75")
    add(f"right below, no line end: {words}", text("MHz,SWR", RATIOS, words), "75")
    add(
        f"right below, open end: {words}",
        text("MHz,SWR,", [line + "," for line in RATIOS], f"{words},\n"),
        "75",
    )
for words in ("Z0 = 75", "normalised to 75 ohm", "Z0 75"):  # of as many words as a row has cells, or not
    columns = rows(MHZ, DB, DEG, forms=("%.4f", "%.3f", "%.2f"), sep=" ")
    add(f"right below, blanks: {words}", text("MHz S11_dB S11_deg", columns, f"{words}\n"), "75")
    add(
        f"right below, tabs: {words}",
        text("MHz\tSWR", [line.replace(",", "\t") for line in RATIOS], words),
        "75",
    )
add("right below, with other words", text("MHz,SWR", RATIOS, "Z0 = 75\nOperator: none\n"), "75")
add("right below, a sheet's empty cells", text(HEAD, RX, "Reference impedance,75,\n"), "75")
add("right below, of ohms", text(HEAD, RX, "Z0 = 50\n"), "read")
add(
    "a reference below against one above",
    text("# Z0 = 50\nMHz,SWR", RATIOS, "Reference impedance: 75 ohm\n"),
    "hint:reference-ohm 50 and 75 ohm",
)
add(
    "a reference below against one above, told",
    text("# Z0 = 50\nMHz,SWR", RATIOS, "Reference impedance: 75 ohm\n"),
    "75",
    reference_ohm=75,
)
add(
    "a reference below against the heading",
    text("MHz,SWR (50 ohm)", RATIOS, "normalised to 75 ohm\n"),
    "hint:reference-ohm 50 and 75 ohm",
)
add(
    "a reference below against a column",
    text("MHz,SWR,Z0 (ohm)", [line + ",50" for line in RATIOS], "normalised to 75 ohm\n"),
    "hint:reference-ohm 50 and 75 ohm",
)
add(
    "a reference below, told otherwise",
    text("MHz,SWR", RATIOS, "Z0 = 75\n"),
    "refuse states 75",
    reference_ohm=50,
)
add("a reference of no ohms below", text("MHz,SWR", RATIOS, "Z0 = 0\n"), "refuse expected ohms above 0")
add("a reference among the rows", text("MHz,SWR", [*RATIOS[:9], "Z0 = 75", *RATIOS[9:]]), "refuse is no row")
add("words right below that state none", text("MHz,SWR", RATIOS, "Load 75 ohm\n"), "refuse is no row")
add("ohms alone right below", text("MHz,SWR", RATIOS, "75 ohm\n"), "refuse is no row")
add("ohms of a lost row right below", text("MHz,R", RATIOS, "R,75 ohm\n"), "refuse")
add(
    "two references said",
    text("# Z0 = 75\n# normalised to 50 ohm\nMHz,SWR", rows(MHZ, SWR, forms=("%.4f", "%.3f"))),
    "hint:reference-ohm",
)
add(
    "a line of 450 ohm is no reference",
    text("# fed with 450 ohm line, choke 3000 ohm\nMHz,SWR", rows(MHZ, SWR, forms=("%.4f", "%.3f"))),
    "swr",
)

# Languages
for head in (
    "Частота (МГц),КСВ",
    "Frequência (MHz),SWR",
    "Kmitočet (MHz),PSV",
    "周波数(MHz),SWR",
    "频率 (MHz),驻波比",
    "Częstotliwość [MHz],SWR",
    "Taajuus/MHz,SWR",
    "Συχνότητα (MHz),SWR",
    "Tần số (MHz),SWR",
):
    add(f"language: {head}", text(head, rows(MHZ, SWR, forms=("%.4f", "%.3f"))), "swr")
add(
    "two columns with a frequency unit",
    text("Aaa (MHz),Bbb (kHz),SWR", rows(MHZ, MHZ, SWR, forms=("%.4f", "%.1f", "%.3f"))),
    "refuse several frequency",
)
add("SWR at a frequency is none", text("SWR at 14 MHz,SWR", rows(MHZ, SWR, forms=("%.4f", "%.3f"))), "refuse")

# Metric prefixes
add("frequency with M", text("Frequency,SWR", rows(MHZ, SWR, forms=("%.4fM", "%.3f"))), "swr")
add("frequency with M under MHz", text("Frequency (MHz),SWR", rows(MHZ, SWR, forms=("%.4fM", "%.3f"))), "swr")
add("frequency with k", text("Frequency,SWR", rows(MHZ * 1e3, SWR, forms=("%.1fk", "%.3f"))), "swr")
add(
    "frequency with M in some rows",
    text("Frequency (MHz),SWR", cell(rows(MHZ, SWR, forms=("%.4f", "%.3f")), 4, 0, lambda c: c + "M")),
    "refuse",
)
add(
    "resistance with k here and there", text(HEAD, cell(RX, 5, 1, lambda c: f"{float(c) / 1e3:.4f}k")), "read"
)
add(
    "milli is refused by name",
    text(
        "MHz,Re(S11),Im(S11)", rows(MHZ, 1e3 * GAMMA.real, 1e3 * GAMMA.imag, forms=("%.4f", "%.2fm", "%.2fm"))
    ),
    "refuse",
)

# Option line and blocks
RI = rows(MHZ, GAMMA.real, GAMMA.imag, forms=("%.4f", "%.6f", "%.6f"), sep=" ")
add("R without a number", text("# MHz S RI R", RI), "hint:reference-ohm")
add("R without a number, told", text("# MHz S RI R", RI), "read", reference_ohm=50.0)
block = [
    "BEGIN CH1_DATA",
    *RX,
    "END",
    "BEGIN CH2_DATA",
    *rows(MHZ, Z_OHM.real + 9, Z_OHM.imag, forms=("%.4f", "%.1f", "%.1f")),
    "END",
]
add("two blocks", text(HEAD, block), "hint:trace CH2_DATA")
add("two blocks, the first", text(HEAD, block), "read", trace="CH1_DATA")
add("two blocks, neither", text(HEAD, block), "refuse blocks", trace="CH3")
add(
    "two blocks, Touchstone",
    text("# MHz S RI R 50", ["BEGIN A", *RI, "END", "BEGIN B", *RI, "END"]),
    "hint:trace",
)
add(
    "two blocks, Touchstone, one named",
    text(
        "# MHz S RI R 50",
        [
            "BEGIN A",
            *RI,
            "END",
            "BEGIN B",
            *rows(MHZ, GAMMA.real / 2, GAMMA.imag, forms=("%.4f", "%.6f", "%.6f"), sep=" "),
            "END",
        ],
    ),
    "read",
    trace="A",
)

# Grids
holes = [line for at, line in enumerate(RX) if at not in (9, 10)]
add("two rows lost from an even grid", text(HEAD, holes), "part +hole-in-grid")
add("an even grid", text(HEAD, RX), "read -hole-in-grid")
OTHER = (Z_OHM.real * 1.25, Z_OHM.imag + 6)
half = rows(MHZ + 0.0125, *OTHER, forms=("%.4f", "%.1f", "%.1f"))
add("two sweeps one behind the other", text(HEAD, RX + half), "refuse")
add(
    "two sweeps row by row",
    text(HEAD, [line for pair in zip(RX, half, strict=True) for line in pair]),
    "refuse",
)
third = rows(MHZ + 0.008, *OTHER, forms=("%.4f", "%.1f", "%.1f"))
add(
    "two sweeps row by row, uneven",
    text(HEAD, [line for pair in zip(RX, third, strict=True) for line in pair]),
    "refuse",
)
other_grid = np.linspace(13.91, 14.44, 17)
wide = rows(
    other_grid,
    np.interp(other_grid, MHZ, OTHER[0]),
    np.interp(other_grid, MHZ, OTHER[1]),
    forms=("%.4f", "%.1f", "%.1f"),
)
add("two grids, sorted", text(HEAD, sorted(RX + wide)), "refuse")
add("two grids, one behind the other", text(HEAD, RX + wide), "refuse")
near = rows(MHZ + 0.0125, Z_OHM.real * 1.03, Z_OHM.imag, forms=("%.4f", "%.1f", "%.1f"))
add("two like sweeps one behind the other", text(HEAD, RX + near), "refuse")
add("the same sweep twice", text(HEAD, RX + RX), "read +duplicates-merged")
add(
    "a twin ten times further off than noise",
    text(HEAD, [*RX[:12], cell(RX, 11, 1, lambda c: f"{float(c) + 11:.1f}")[11], *RX[12:]]),
    "refuse",
)


def around(middle_mhz: float, points: int, moved_mhz: float = 0.0, **other: float) -> list[str]:
    """Rows of a dipole over a wide span, on a grid of its own; ``other`` makes it another antenna."""
    mhz = np.linspace(middle_mhz - 0.3, middle_mhz + 0.3, points) + moved_mhz
    z_ohm = other.get("r", 60.0) * (1 + 14j * (mhz / 14.2 - 14.2 / mhz)) + 1j * other.get("x", 0.0)
    return rows(mhz, z_ohm.real, z_ohm.imag, forms=("%.4f", "%.1f", "%.1f"))


for fine, coarse in ((61, 23), (61, 12), (101, 23), (41, 17)):
    for other in ({"r": 75.0}, {"x": 20.0}, {"r": 66.0}):
        name = f"{coarse} points of another antenna {other} among {fine}, sorted"
        add(
            name,
            text(HEAD, sorted(around(14.2, fine) + around(14.2, coarse, 0.0013, **other))),
            "refuse by turns",
        )
    name = f"{coarse} points of the same antenna among {fine}, sorted"
    add(name, text(HEAD, sorted(around(14.2, fine) + around(14.2, coarse, 0.0013))), "part")

WIDE = np.linspace(12.0, 17.0, 101)
WIDE_Z = 60 * (1 + 14j * (WIDE / 14.2 - 14.2 / WIDE))
WIDE_SIZE = np.abs((WIDE_Z - 50) / (WIDE_Z + 50))
WIDE_SWR = (1 + WIDE_SIZE) / (1 - WIDE_SIZE)
for most in (3.0, 5.0, 9.99):
    shown = rows(
        WIDE, WIDE_Z.real, WIDE_Z.imag, np.minimum(WIDE_SWR, most), forms=("%.4f", "%.1f", "%.1f", "%.2f")
    )
    add(f"a display of SWR that ends at {most}", text(HEADS, shown), "part")
    add(
        f"SWR above all others, display to {most}",
        text(HEADS, cell(shown, 45, 3, "12.00")),
        "refuse disagree",
    )
    add(f"R of one row, display to {most}", text(HEADS, cell(shown, 45, 1, "190.0")), "refuse disagree")

add(
    "one SWR above all others is no display that ends",
    text(HEADS, cell(RXS, 12, 3, "3.40")),
    "refuse disagree",
)

# Layouts of other kinds
add(
    "key and value",
    text("", [f"f={f:.4f} MHz R={z.real:.1f} X={z.imag:.1f}" for f, z in zip(MHZ, Z_OHM, strict=True)]),
    "refuse",
)
add(
    "JSON",
    '{"frequency_mhz": ['
    + ", ".join(f"{f:.4f}" for f in MHZ)
    + '], "swr": ['
    + ", ".join(f"{s:.2f}" for s in SWR)
    + "]}\n",
    "refuse",
)
add(
    "on its side",
    text("", ["MHz," + ",".join(f"{f:.4f}" for f in MHZ), "SWR," + ",".join(f"{s:.2f}" for s in SWR)]),
    "refuse line",
)
add(
    "a curve without a name",
    text("Frequency (MHz),Curve1", rows(MHZ, SWR, forms=("%.4f", "%.3f"))),
    "hint:columns",
)
add("no names at all", text("", RX), "hint:columns")
add(
    "SWR without frequency", text("Point,SWR", rows(np.arange(23), SWR, forms=("%d", "%.3f"))), "hint:columns"
)
add("a shopping list", text("part,count,price", [f"rope {k},{k},{k}.50" for k in range(9)]), "none")
add("gain over angle", text("Angle (deg),Gain (dBi)", rows(np.arange(23), SWR, forms=("%d", "%.3f"))), "none")

# Angles and decibels that none has, and a row of quite another sweep
DBS = rows(MHZ, DB, DEG, forms=("%.4f", "%.2f", "%.1f"))
add(
    "angle that lost its mark",
    text("MHz,S11 (dB),S11 (deg)", cell(DBS, 9, 2, "-1173.0")),
    "refuse angle of -1173",
)
add(
    "decibels beyond all",
    text("MHz,S11 (dB)", cell(rows(MHZ, DB, forms=("%.4f", "%.15g")), 9, 1, "-98094456.5")),
    "refuse dB",
)
LINES = rows(MHZ, np.abs(GAMMA), DEG, forms=("%.4f", "%.4f", "%.1f"), sep=" ")
add(
    "angle of a Touchstone file",
    text("# MHz S MA R 50", cell(LINES, 3, 2, "1402.0", sep=" ")),
    "refuse angle of 1402",
)
TURNING = rows(MHZ, DB, -50 * np.arange(23.0), forms=("%.4f", "%.2f", "%.1f"))
add("angles that go on turning", text("MHz,S11 (dB),S11 (deg)", TURNING), "part")
add("a row of another band", text(HEAD, ["3.5000,50.0,10.0", *RX]), "part +hole-in-grid")

# Every third row, or a sixth one between five, of another sweep
LONG_MHZ = np.linspace(13.9, 14.45, 61)
LONG_Z = 55 * (1 + 12j * (LONG_MHZ / 14.2 - 14.2 / LONG_MHZ))
LONG = rows(LONG_MHZ, LONG_Z.real, LONG_Z.imag, forms=("%.4f", "%.2f", "%.2f"))
BESIDE = rows(LONG_MHZ, LONG_Z.real * 2, LONG_Z.imag - 60, forms=("%.4f", "%.2f", "%.2f"))
BETWEEN = rows(LONG_MHZ + 0.004, LONG_Z.real * 2, LONG_Z.imag - 60, forms=("%.4f", "%.2f", "%.2f"))
add(
    "every third row of another sweep",
    text(HEAD, [BESIDE[k] if k % 3 == 1 else line for k, line in enumerate(LONG)]),
    "refuse two curves",
)
add(
    "every fifth row followed by one of another sweep",
    text(HEAD, [row for k, line in enumerate(LONG) for row in (line, *BETWEEN[k : k + (k % 5 == 4)])]),
    "refuse two",
)

# Whole lists on one line, a last row written twice, and linear magnitudes of a good match under "(dB)"
LISTS = [", ".join(f"{value:.3f}" for value in values) for values in (MHZ, SWR)]
add(
    "lists under keys",
    f"frequency_mhz: [{LISTS[0]}]\nswr: [{LISTS[1]}]\n",
    "refuse in a layout that is not read",
)
add(
    "lists in braces",
    f'{{"frequency_mhz": [{LISTS[0]}], "swr": [{LISTS[1]}]}}\n',
    "refuse in a layout that is not read",
)
add("the last row twice", text(HEAD, [*RX, RX[-1]]), "read +duplicates-merged")
add(
    "linear magnitudes of a good match under dB",
    text("Frequency (MHz),S11 (dB)", rows(MHZ, np.abs(GAMMA) / 20, forms=("%.4f", "%.5f"))),
    "hint:columns f,mag",
)
add(
    "a told unit that may mean thousands",
    text("Frequency,R (ohm),X (ohm)", rows(MHZ, Z_OHM.real, Z_OHM.imag, forms=("%.3f", "%.1f", "%.1f"))),
    f"hint:decimal frequencies such as {MHZ[-1]:.3f} kHz below every amateur band",
    unit="kHz",
)
