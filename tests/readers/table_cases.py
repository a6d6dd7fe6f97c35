"""Tables as people and instruments write them, with what must become of each: the seeds of the readers' tests.

One antenna throughout: a resonator of our own, its impedance printed to 0.1 ohm. ``signed``, ``unsigned`` and
``none`` are the phase of the sweep that must come out; ``refuse`` and ``hint:NAME`` are errors, with ``@LINE``
where the line is certain; ``either`` is a file whose words allow a right reading or a refusal.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

POINTS = 23
F_HZ = np.linspace(13.9e6, 14.45e6, POINTS)
_SHIFT = F_HZ / 14.15e6 - 14.15e6 / F_HZ
Z_OHM = np.round(41.0 * (1 + 0.3 * _SHIFT) + 1j * 41.0 * 9.0 * _SHIFT * 2 - 1.5j, 1)
GAMMA = (Z_OHM - 50) / (Z_OHM + 50)


@dataclass(frozen=True)
class Case:
    """A file, what must become of it, and the hints that go with it."""

    content: bytes
    expected: str
    reads_at: float = 50.0
    hints: dict[str, Any] = field(default_factory=dict)


CASES: dict[str, Case] = {}


def _add(name, content, expected="signed", reads_at=50.0, **hints):
    content = content if isinstance(content, bytes) else content.encode()
    assert name not in CASES, name
    CASES[name] = Case(content, expected, reads_at, hints)


def _print(form, value):
    return form(value) if callable(form) else form % value


def _table(columns, head=None, sep=",", forms=(), dec=".", eol="\n", pre="", post="", trail=""):
    lines = [] if head is None else [head]
    for row in zip(*columns, strict=True):
        cells = (_print(form, value).replace(".", dec) for form, value in zip(forms, row, strict=True))
        lines.append(sep.join(cells) + trail)
    return pre + eol.join(lines) + eol + post


def _frx(head="Frequency (MHz),R,X", sep=",", **kwargs):
    return _table(FRX[0], head, sep, FRX[1], **kwargs)


def _grouped(value):
    return f"{value:,.0f}"


def _with_cell(lines, row, column, text):
    changed = list(lines)
    cells = changed[row].split(",")
    cells[column] = text
    changed[row] = ",".join(cells)
    return "\n".join(changed)


f, z, g = F_HZ, Z_OHM, GAMMA
y, za, zp = 1 / z, np.abs(z), np.degrees(np.angle(z))
swr, db, ang = (1 + np.abs(g)) / (1 - np.abs(g)), 20 * np.log10(np.abs(g)), np.degrees(np.angle(g))
M = f / 1e6
_75 = np.abs((z - 75) / (z + 75))
swr75 = (1 + _75) / (1 - _75)
FRX = ((M, z.real, z.imag), ("%.4f", "%.1f", "%.1f"))

_add("plain", _frx())
_add("ohm units", _frx("Freq(MHz),R(Ohm),X(Ohm)"))
_add("semicolon comma", _frx("Frequenz (MHz);R;X", ";", dec=","))
_add(
    "quoted commas", _table(FRX[0], '"Frequency (MHz)","R","X"', ",", ('"%.4f"', '"%.1f"', '"%.1f"'), dec=",")
)
_add("comma both", _frx(dec=","), "refuse")
_add("comma both no header", _frx(None, dec=","), "refuse")
_add("comma both hinted", _frx(None, dec=","), "refuse", columns="f,r,x", unit="MHz")
_add("tab trailing", _frx("freq[MHz]\tR\tX\t", "\t", trail="\t"))
_add("tab header no trailing", _frx("freq[MHz]\tR\tX", "\t", trail="\t"))
_add(
    "blanks rule",
    _table(
        FRX[0],
        "Frequency / MHz     R/Ohm      X/Ohm\n------------------------------------------",
        " ",
        ("%14.4f", "%10.1f", "%10.1f"),
    ),
)
_add(
    "blanks decimal comma",
    _table(FRX[0], "Frequency / MHz     R/Ohm      X/Ohm", " ", ("%14.4f", "%10.1f", "%10.1f"), dec=","),
)
_add(
    "cst",
    _table(
        (f / 1e9, db),
        "Frequency / GHz                S1,1/abs,dB\n-----------------------------------------------",
        " ",
        ("%20.6f", "%20.4f"),
    ),
    "none",
    reads_at=50,
)
_add("padded", _table(FRX[0], "Freq (MHz), R, X", ", ", ("%+.4E", "%+.4E", "%+.4E")))
_add(
    "thousands quoted",
    _table(
        (f, z.real, z.imag), "Frequency (Hz),R,X", ",", (lambda x: '"' + _grouped(x) + '"', "%.1f", "%.1f")
    ),
)
_add(
    "thousands dot",
    _table(
        (f, z.real, z.imag),
        "Frequenz (Hz);R;X",
        ";",
        (
            lambda x: _grouped(x).replace(",", "~"),
            lambda x: (f"{x:.1f}").replace(".", "@"),
            lambda x: (f"{x:.1f}").replace(".", "@"),
        ),
    )
    .replace("~", ".")
    .replace("@", ","),
)
_add(
    "thousands space",
    _table(
        (f, z.real, z.imag),
        "Frequency (Hz);R;X",
        ";",
        (lambda x: _grouped(x).replace(",", " "), "%.1f", "%.1f"),
    ),
)
_add("preamble !", _frx(pre="! Date: 2024-01-05\n! DATA UNIT ohm\n"))
_add("preamble #", _frx(pre="# Version 1.00\n#\n"))
_add("preamble %", _frx(pre="% TITLE my antenna\n% 3 m up\n"))
_add("preamble text", _frx(pre="Swept at the shack\nantenna 20 m\n\n"))
_add("preamble key value", _frx(pre="Points,23\nStart,13.9\nStop,14.45\n"))
_add("preamble with numbers row", _frx(pre="13.9 14.45 23\n"))
_add("begin end", _frx(None, pre="Frequency (MHz),R,X\nBEGIN\n", post="END\n"))
_add("begin before header", _frx(pre="BEGIN CH1_DATA\n", post="END\n"))
_add(
    "two blocks",
    _frx(pre="BEGIN CH1_DATA\n", post="END\n") + _frx(pre="BEGIN CH2_DATA\n", post="END\n"),
    "refuse",
)
_add("units row", _frx("Frequency,R,X\nMHz,Ohm,Ohm"))
_add("units row bracket", _frx("Frequency,R,X\n(MHz),(Ohm),(Ohm)"))
_add("units in cells", _table(FRX[0], "Frequency,R,X", ",", ("%.4f MHz", "%.1f Ohm", "%.1f Ohm")))
_add("units in cells omega", _table(FRX[0], "Frequency,R,X", ",", ("%.4f MHz", "%.1f Ω", "%.1f Ω")))
_add("units in cells blanks", _table(FRX[0], "Frequency  R  X", " ", ("%.4f MHz", "%.1f Ohm", "%.1f Ohm")))
_add(
    "units in cells mixed",
    _table(FRX[0], "Frequency,R,X", ",", ("%.4f MHz", "%.1f Ohm", "%.1f Ohm")).replace(
        "14.0000 MHz", "14000.0 kHz"
    ),
    "refuse",
)
_add("no header", _frx(None), "hint:columns")
_add("no header hinted", _frx(None), columns="f,r,x", unit="MHz")
_add("meaningless", _frx("x,Curve1,Curve2"), "hint:columns")
_add("no unit", _frx("Frequency,R,X"), "hint:unit")
_add("no unit hinted", _frx("Frequency,R,X"), unit="MHz")
_add(
    "no unit Hz ambiguous",
    _table((f, z.real, z.imag), "Frequency,R,X", ",", ("%.0f", "%.1f", "%.1f")),
    "hint:unit",
)
_add(
    "no unit unique",
    _table((f * 10, z.real, z.imag), "Frequency,R,X", ",", ("%.0f", "%.1f", "%.1f")),
    "signed ten times",
)
_add(
    "transposed",
    ",".join(["Frequency (Hz)"] + [f"{x:.0f}" for x in f])
    + "\n"
    + ",".join(["R"] + [f"{x:.1f}" for x in z.real])
    + "\n"
    + ",".join(["X"] + [f"{x:.1f}" for x in z.imag])
    + "\n",
    "refuse",
)
_add(
    "transposed bare",
    ",".join([f"{x:.0f}" for x in f]) + "\n" + ",".join([f"{x:.1f}" for x in z.real]) + "\n",
    "refuse",
)
_add("footer", _frx(post="Min SWR 1.23 at 14.1\n"), "refuse")
_add("footer after blank", _frx(post="\nMin SWR 1.23 at 14.1\n"))
_add("footer # direct", _frx(post="# end\n"))
L = _frx().split("\n")
for m in ("---", ">25", "inf", "OL", "", "nan", "NaN", "#N/A", "-", "∞", "1.#IND", "x", "--"):
    _add("missing " + (m or "empty"), _with_cell(L, 5, 1, m), "refuse@6")
_add("missing in R last", _with_cell(L, 23, 2, "---"), "refuse@24")
_add("missing first row", _with_cell(L, 1, 1, "---"), "refuse@2")
S = _table((M, z.real, z.imag, swr), "Frequency (MHz),R,X,SWR", ",", ("%.4f", "%.1f", "%.1f", "%.2f"))
_add("frx swr", S)
_add("frx swr bad", S.replace("\n14.0000,", "\n14.0000,1"), "refuse@6")
_add("frx swr bad X sign ok", S)
_add("swr saturated text", _with_cell(S.split("\n"), 1, 3, ">25"), "refuse@2")
_add("swr saturated skip", _with_cell(S.split("\n"), 1, 3, ">25"), columns="f,r,x,-", unit="MHz")
_add(
    "frx swr75",
    _table((M, z.real, z.imag, swr75), "Frequency (MHz),R,X,SWR", ",", ("%.4f", "%.1f", "%.1f", "%.2f")),
    reads_at=75,
)
_add(
    "swapped r x with swr",
    _table((M, z.imag, z.real, swr), "Frequency (MHz),R,X,SWR", ",", ("%.4f", "%.1f", "%.1f", "%.2f")),
    "refuse",
)
_add(
    "all columns",
    _table(
        (M, swr, -db, z.real, z.imag, za, zp, abs(g), ang),
        "Freq(MHz),SWR,RL(dB),R,X,|Z|,Theta(deg),Rho,Phase",
        ",",
        ("%.4f", "%.2f", "%.2f", "%.1f", "%.1f", "%.1f", "%.1f", "%.3f", "%.1f"),
    ),
)
_add("phase ownerless z", _table((M, za, zp), "Freq(MHz),Z,Phase (deg)", ",", ("%.4f", "%.1f", "%.1f")))
_add("zmag theta", _table((M, za, zp), "Freq(MHz),|Z| (ohm),Theta (deg)", ",", ("%.4f", "%.2f", "%.2f")))
_add(
    "z abs theta rad",
    _table((M, za, np.radians(zp)), "Freq(MHz),|Z| (ohm),Theta (rad)", ",", ("%.4f", "%.2f", "%.4f")),
)
_add(
    "z abs theta nounit rad",
    _table((M, za, np.radians(zp)), "Freq(MHz),|Z| (ohm),Theta", ",", ("%.4f", "%.2f", "%.4f")),
    "hint:columns",
)
_add("s11 re im", _table((M, g.real, g.imag), "Freq(MHz),Re(S11),Im(S11)", ",", ("%.4f", "%.5f", "%.5f")))
_add(
    "s11 re im paren",
    _table((M, g.real, g.imag), "Freq(MHz),S11(real),S11(imag)", ",", ("%.4f", "%.5f", "%.5f")),
)
_add("re im ownerless", _table((M, g.real, g.imag), "Freq(MHz),Re,Im", ",", ("%.4f", "%.5f", "%.5f")))
_add(
    "re im ownerless z",
    _table((M, z.real, z.imag), "Freq(MHz),Re,Im", ",", ("%.4f", "%.1f", "%.1f")),
    "hint:columns",
)
_add("mag ang", _table((M, abs(g), ang), "Freq(MHz),S11 Mag,S11 Ang (deg)", ",", ("%.4f", "%.5f", "%.3f")))
_add("mag ang nounit", _table((M, abs(g), ang), "Freq(MHz),|S11|,Phase(S11)", ",", ("%.4f", "%.5f", "%.3f")))
_add(
    "db ang",
    _table(
        (M, db, ang), "freq[MHz]\tdb:Trc1_S11\tang:Trc1_S11\t", "\t", ("%.6E", "%.6E", "%.6E"), trail="\t"
    ),
)
_add(
    "db rad", _table((M, db, np.radians(ang)), "freq[MHz],S11 [dB],S11 [rad]", ",", ("%.4f", "%.4f", "%.5f"))
)
_add(
    "percent",
    _table(
        (M, 100 * abs(g), ang),
        "Freq (MHz),S11 (%%),S11 (deg)".replace("%%", "%"),
        ",",
        ("%.4f", "%.3f", "%.3f"),
    ),
)
_add("percent mag only", _table((M, 100 * abs(g)), "Freq (MHz);|Γ| (%)", ";", ("%.4f", "%.3f")), "none")
_add("percent nounit", _table((M, 100 * abs(g)), "Freq (MHz);|S11|", ";", ("%.4f", "%.3f")), "hint:columns")
_add("swr only", _table((M, swr), "Freq (MHz);SWR", ";", ("%.4f", "%.3f")), "none")
_add("swr :1 cells", _table((M, swr), "Freq (MHz),SWR", ",", ("%.4f", "%.3f:1")), "none")
_add("swr ratio head", _table((M, swr), "Freq (MHz),VSWR (:1)", ",", ("%.4f", "%.3f")), "none")
_add(
    "swr german",
    _table((M, swr), "Frequenz [MHz];Stehwellenverhältnis", ";", ("%.4f", "%.3f"), dec=","),
    "none",
)
_add("rl positive", _table((M, -db), "Freq (MHz),Return Loss (dB)", ",", ("%.4f", "%.3f")), "none")
_add("rl negative", _table((M, db), "Freq (MHz),Return Loss (dB)", ",", ("%.4f", "%.3f")), "none")
_add(
    "rl both",
    _table((M, np.where(np.arange(23) > 11, db, -db)), "Freq (MHz),Return Loss (dB)", ",", ("%.4f", "%.3f")),
    "refuse",
)
_add(
    "rl german", _table((M, -db), "Frequenz/MHz;Rückflußdämpfung/dB", ";", ("%.4f", "%.3f"), dec=","), "none"
)
_add(
    "rl french",
    _table((M, -db), "Fréquence (MHz);Perte de retour (dB)", ";", ("%.4f", "%.3f"), dec=","),
    "none",
)
_add(
    "rl spanish latin1",
    _table((M, -db), "Frecuencia (MHz);Pérdida de retorno (dB)", ";", ("%.4f", "%.3f"), dec=",").encode(
        "latin-1"
    ),
    "none",
)
_add(
    "rl ital",
    _table((M, -db), "Frequenza (MHz);Perdita di ritorno (dB)", ";", ("%.4f", "%.3f"), dec=","),
    "none",
)
_add("ros", _table((M, swr), "Frequenza (MHz);ROS", ";", ("%.4f", "%.3f"), dec=","), "none")
_add("tos", _table((M, swr), "Fréquence (MHz);TOS", ";", ("%.4f", "%.3f"), dec=","), "none")
_add("roe", _table((M, swr), "Frecuencia (MHz);ROE", ";", ("%.4f", "%.3f"), dec=","), "none")
_add("swr below 1", _table((M, swr - 0.5), "Freq (MHz),SWR", ",", ("%.4f", "%.3f")), "refuse")
_add("swr phase s11", _table((M, swr, ang), "Freq (MHz),SWR,S11 phase (deg)", ",", ("%.4f", "%.4f", "%.2f")))
_add(
    "swr phase ownerless",
    _table((M, swr, ang), "Freq (MHz),SWR,Phase (deg)", ",", ("%.4f", "%.4f", "%.2f")),
    "signed",
)
_add("x abs", _table((M, z.real, abs(z.imag)), "Freq (MHz),R,|X|", ",", ("%.4f", "%.1f", "%.1f")), "unsigned")
_add(
    "x abs named",
    _table((M, z.real, abs(z.imag)), "Freq (MHz),Rs,abs(Xs)", ",", ("%.4f", "%.1f", "%.1f")),
    "unsigned",
)
_add(
    "x silently abs",
    _table((M, z.real, abs(z.imag)), "Freq (MHz),R,X", ",", ("%.4f", "%.1f", "%.1f")),
    "unsigned",
)
_add(
    "x silently abs swr",
    _table((M, z.real, abs(z.imag), swr), "Freq (MHz),R,X,SWR", ",", ("%.4f", "%.1f", "%.1f", "%.2f")),
    "unsigned",
)
_add("r swr", _table((M, z.real, swr), "Freq (MHz),R,SWR", ",", ("%.4f", "%.1f", "%.3f")), "unsigned")
_add("z swr", _table((M, za, swr), "Freq (MHz),|Z|,SWR", ",", ("%.4f", "%.1f", "%.3f")), "unsigned")
_add(
    "z absphase",
    _table((M, za, abs(zp)), "Freq (MHz),|Z|,|Phase|", ",", ("%.4f", "%.1f", "%.2f")),
    "unsigned",
)
_add("z r", _table((M, za, z.real), "Freq (MHz),|Z|,R", ",", ("%.4f", "%.2f", "%.1f")), "unsigned")
_add(
    "parallel",
    _table((M, 1 / y.real, -1 / y.imag), "Freq (MHz),Rp (Ohm),Xp (Ohm)", ",", ("%.4f", "%.3f", "%.3f")),
)
_add(
    "GB mS",
    _table((M, y.real * 1e3, y.imag * 1e3), "Freq (MHz),G (mS),B (mS)", ",", ("%.4f", "%.5f", "%.5f")),
)
_add("GB S", _table((M, y.real, y.imag), "Freq (MHz),G (S),B (S)", ",", ("%.4f", "%.8f", "%.8f")))
_add(
    "GB nounit", _table((M, y.real, y.imag), "Freq (MHz),G,B", ",", ("%.4f", "%.8f", "%.8f")), "hint:columns"
)
_add(
    "norm",
    _table((M, z.real / 50, z.imag / 50), "Freq (MHz),r/z0,x/z0", ",", ("%.4f", "%.5f", "%.5f")),
    "hint:reference-ohm",
)
_add(
    "norm hinted",
    _table((M, z.real / 50, z.imag / 50), "Freq (MHz),r/z0,x/z0", ",", ("%.4f", "%.5f", "%.5f")),
    reference_ohm=50,
)
_add(
    "norm preamble",
    _table(
        (M, z.real / 50, z.imag / 50),
        "Freq (MHz),r/z0,x/z0",
        ",",
        ("%.4f", "%.5f", "%.5f"),
        pre="# Z0 = 50 ohm\n",
    ),
)
_add(
    "norm nounit",
    _table((M, z.real / 50, z.imag / 50), "Freq (MHz),r,x", ",", ("%.4f", "%.5f", "%.5f")),
    "hint:columns",
)
_add("complex cell", _table((M, z), "Freq (MHz),Z", ",", ("%.4f", lambda c: f"{c.real:.1f}{c.imag:+.1f}j")))
_add(
    "complex cell j first",
    _table(
        (M, z),
        "Freq (MHz),Z (ohm)",
        ",",
        ("%.4f", lambda c: f"{c.real:.1f} {'+' if c.imag >= 0 else '-'} j{abs(c.imag):.1f}"),
    ),
)
_add(
    "complex cell R+jX blanks",
    _table(
        (M, z),
        "Freq(MHz)   R+jX",
        " ",
        ("%.4f", lambda c: f"{c.real:.1f} {'+' if c.imag >= 0 else '-'} j{abs(c.imag):.1f}"),
    ),
)
_add(
    "complex cell paren",
    _table((M, g), "Freq (MHz),S11", ",", ("%.4f", lambda c: f"({c.real:.5f}{c.imag:+.5f}j)")),
)
_add(
    "complex cell i", _table((M, g), "Freq (MHz),S11", ",", ("%.4f", lambda c: f"{c.real:.5f}{c.imag:+.5f}i"))
)
_add(
    "complex dec comma",
    _table((M, z), "Freq (MHz);Z", ";", ("%.4f", lambda c: f"{c.real:.1f}{c.imag:+.1f}j"), dec=","),
)
_add(
    "LC",
    _table(
        (M, z.real, z.imag, z.imag / (2 * np.pi * f) * 1e6),
        "Freq (MHz),R,X,L(uH)",
        ",",
        ("%.4f", "%.1f", "%.1f", "%.4f"),
    ),
)
_add(
    "RL",
    _table(
        (M, z.real, z.imag / (2 * np.pi * f) * 1e6),
        "Freq (MHz),Rs (ohm),Ls (uH)",
        ",",
        ("%.4f", "%.1f", "%.7f"),
    ),
)
_add(
    "RC",
    _table(
        (M, z.real, -1 / (2 * np.pi * f * z.imag) * 1e12),
        "Freq (MHz),Rs (ohm),Cs (pF)",
        ",",
        ("%.4f", "%.1f", "%.6f"),
    ),
)
rl = _frx().strip().split("\n")
_add("reversed", "\n".join([rl[0], *rl[:0:-1]]) + "\n")
_add("duplicate", "\n".join([*rl[:9], rl[8], *rl[9:]]) + "\n")
_add("dup clash", "\n".join([*rl[:9], rl[8].split(",")[0] + ",100,100", *rl[9:]]) + "\n", "refuse@10")
_add("bom", _frx().encode("utf-8-sig"))
_add("utf16", _frx().encode("utf-16"))
_add("utf16be nobom", _frx().encode("utf-16-be"))
_add("latin1 ohm", _frx("Frequenz (MHz);R (Ohm);X (Ohm) ±", ";").encode("latin-1"))
_add("cp1252", _frx(pre="# caf\x92s\n").encode("latin-1"))
_add("crlf", _frx(eol="\r\n"))
_add("cr", _frx(eol="\r"))
_add("hz wrong unit", _frx("Frequency (Hz),R,X"), "refuse")
_add("hz wrong unit hinted", _frx("Frequency (Hz),R,X"), unit="MHz")
_add("unit clash", _frx(), "refuse", unit="kHz")
_add(
    "s22 only",
    _table((M, db, ang), "freq[MHz],db:Trc1_S22,ang:Trc1_S22", ",", ("%.4f", "%.4f", "%.3f")),
    "hint:trace",
)
_add(
    "s22 only trace",
    _table((M, db, ang), "freq[MHz],db:Trc1_S22,ang:Trc1_S22", ",", ("%.4f", "%.4f", "%.3f")),
    trace="s22",
)
_add("s21 only", _table((M, db), "freq[MHz],S21 (dB)", ",", ("%.4f", "%.4f")), "refuse")
_add("gain", _table((M, db), "freq[MHz],Gain (dB)", ",", ("%.4f", "%.4f")), "refuse")
_add(
    "two S11",
    _table(
        (M, db, db - 1),
        "freq[MHz],dB(S(1,1)) [] - L='1m',dB(S(1,1)) [] - L='2m'",
        ",",
        ("%.4f", "%.4f", "%.4f"),
    ),
    "hint:trace",
)
_add(
    "two S11 same", _table((M, db, db), "freq[MHz],S11 (dB),S11 (dB)", ",", ("%.4f", "%.4f", "%.4f")), "none"
)
_add(
    "z0 column",
    _table((M, z.real, z.imag, 0 * M + 50), "freq[MHz],R,X,Z0 (ohm)", ",", ("%.4f", "%.1f", "%.1f", "%.0f")),
)
_add(
    "z0 column 75",
    _table(
        (M, abs(g), ang, 0 * M + 75),
        "freq[MHz],S11 mag,S11 deg,Z0 (ohm)",
        ",",
        ("%.4f", "%.5f", "%.3f", "%.0f"),
    ),
    "gamma at 75",
)
_add(
    "z0 column vary",
    _table(
        (M, abs(g), ang, M), "freq[MHz],S11 mag,S11 deg,Ref.Imp. [Mag]", ",", ("%.4f", "%.5f", "%.3f", "%.3f")
    ),
    "refuse",
)
_add("data unit dB", _table((M, db), "Freq (MHz),S11", ",", ("%.4f", "%.4f"), pre="! DATA UNIT dB\n"), "none")
_add(
    "data unit degrees",
    _table((M, ang), "Freq (MHz),S11", ",", ("%.4f", "%.4f"), pre="! DATA UNIT Degrees\n"),
    "refuse@1",
)
_add("s11 alone", _table((M, db), "Freq (MHz),S11", ",", ("%.4f", "%.4f")), "hint:columns")
_add(
    "pipe", _table(FRX[0], "| Frequency (MHz) | R | X |\n|---|---|---|", " | ", ("| %.4f", "%.1f", "%.1f |"))
)
_add("index column", _table((np.arange(23),) + FRX[0], "No.;Freq (MHz);R;X", ";", ("%d",) + FRX[1]))
_add(
    "time column",
    _table((np.arange(23),) + FRX[0], "Time,Freq (MHz),R,X", ",", ("2024-05-01 12:00:%02d",) + FRX[1]),
)
_add("zero R neg", _with_cell(L, 5, 1, "-20"), "refuse@6")
_add("khz", _table((f / 1e3, z.real, z.imag), "f/kHz,R/Ohm,X/Ohm", ",", ("%.1f", "%.1f", "%.1f")))
_add(
    "kohm",
    _table((M, z.real / 1e3, z.imag / 1e3), "f (MHz),R (kOhm),X (kOhm)", ",", ("%.4f", "%.4f", "%.4f")),
)
_add("bare unit head", _table(FRX[0], "#MHz ReZ ImZ", "\t", FRX[1]))
_add("units only header", _table((M, db), "MHz,dB", ",", ("%.4f", "%.3f")), "hint:columns")
_add("s11 swr 75 head", _table((M, swr75), "Freq (MHz),SWR (75 ohm)", ",", ("%.4f", "%.3f")), "swr at 75")
_add("two header rows", _frx(",S11,\nFrequency (MHz),R,X"))
_add("quoted numbers", _table(FRX[0], '"Frequency (MHz)","R","X"', ",", ('"%.4f"', '"%.1f"', '"%.1f"')))
_add("repeat header after blank", _frx(post="\n" + _frx()), "refuse")
_add("blank lines", _frx().replace("\n", "\n\n"))
_add("short row", _with_cell(L, 9, 1, "").replace(",,", ","), "refuse@10")
_add(
    "D exp",
    _table(
        FRX[0],
        "f (MHz) R X",
        " ",
        ("%.4f", lambda x: (f"{x:.3e}").replace("e", "D"), lambda x: (f"{x:.3e}").replace("e", "D")),
    ),
)
_add("unicode minus", _frx().replace("-", "−"))
_add("sep= line", _frx(pre="sep=;\n", head="Frequency (MHz);R;X", sep=";"))
_add("capital", _table(FRX[0], "FREQUENCY (MHZ),RESISTANCE (OHM),REACTANCE (OHM)", ",", FRX[1]))
_add("french", _table(FRX[0], "Fréquence (MHz);Résistance (Ω);Réactance (Ω)", ";", FRX[1], dec=","))
_add(
    "german", _table(FRX[0], "Frequenz in MHz;Wirkwiderstand in Ω;Blindwiderstand in Ω", ";", FRX[1], dec=",")
)
_add(
    "impedance real imag",
    _table(FRX[0], "Frequency (MHz),Impedance real (ohm),Impedance imag (ohm)", ",", FRX[1]),
)
_add(
    "s11 linear column swr both fine",
    _table((M, abs(g), swr), "Frequency (MHz),|S11|,VSWR", ",", ("%.4f", "%.4f", "%.3f")),
    "none",
)
_add(
    "mag called but dB",
    _table((M, db), "Frequency (MHz),S11 magnitude", ",", ("%.4f", "%.4f")),
    "hint:columns",
)
_add("unknown word R", _table(FRX[0], "Frequency (MHz),R of antenna,X of antenna", ",", FRX[1]))
_add(
    "gamma cplx", _table((M, g.real, g.imag), "Frequency (MHz);Γ real;Γ imag", ";", ("%.4f", "%.5f", "%.5f"))
)
_add("dB sign flipped", _table((M, -db), "Frequency (MHz),S11 (dB)", ",", ("%.4f", "%.4f")), "none")
_add(
    "return loss tiny cross",
    _table((M, -db - db.max() * 0 + 0), "Frequency (MHz),RL", ",", ("%.4f", "%.4f")),
    "none",
)
A = (M, db, ang, z.real, z.imag, za, swr)
AF = ("%.4f", "%.2f", "%.1f", "%.1f", "%.1f", "%.1f", "%.2f")
_add("instr style", _table(A, "Freq(MHz),RL(dB),Phase(deg),Rs,Xs,|Z|,SWR", ",", AF))
_add(
    "instr style2",
    _table(
        (M, -db, ang, z.real, swr, z.imag, za, zp),
        "Frequency(MHz), Return Loss(dB), Phase(deg), Rs, SWR, Xs, |Z|, Theta",
        ", ",
        ("%.4f", "%.2f", "%.2f", "%.2f", "%.3f", "%.2f", "%.2f", "%.2f"),
    ),
)
_add(
    "unsigned X with all",
    _table(
        (M, swr, z.real, abs(z.imag), za),
        "Freq(MHz),SWR,R,X,Z",
        ",",
        ("%.4f", "%.2f", "%.1f", "%.1f", "%.1f"),
    ),
    "unsigned",
)
_add("header under title width", _frx(pre="Sweep of antenna,,\n"))
_add(
    "two-row head group", _table((M, db, ang), "Frequency,S11,S11\nMHz,dB,deg", ",", ("%.4f", "%.4f", "%.3f"))
)
_add(
    "two-row head mag phase",
    _table((M, abs(g), ang), "Frequency;S11;S11\n[MHz];Mag;Phase [deg]", ";", ("%.4f", "%.5f", "%.3f")),
    "either",
)
_add(
    "parts below",
    _table((M, g.real, g.imag), "Freq;S11;S11\nMHz;real;imag", ";", ("%.4f", "%.5f", "%.5f")),
    "either",
)
_add("trailing name", _table(FRX[0], "Frequency (MHz),R,X,Comment", ",", FRX[1], trail=","))
_add("index hash", _table((np.arange(23),) + FRX[0], "#,Freq (MHz),R,X", ",", ("%d",) + FRX[1]))
_add(
    "apostrophe thousands",
    _table(
        (f, z.real, z.imag),
        "Frequenz (Hz);R;X",
        ";",
        (lambda x: _grouped(x).replace(",", "'"), "%.1f", "%.1f"),
    ),
)
_add(
    "nbsp thousands",
    _table(
        (f, z.real, z.imag),
        "Frequenz (Hz);R;X",
        ";",
        (lambda x: _grouped(x).replace(",", "\u00a0"), "%.1f", "%.1f"),
    ),
)
_add(
    "thousand dec quoted",
    _table((f / 1e3, z.real, z.imag), "Frequency (kHz),R,X", ",", (lambda x: f'"{x:,.1f}"', "%.1f", "%.1f")),
)
_add("zin real imag", _table(FRX[0], "Frequency (MHz);Zin real;Zin imag", ";", FRX[1]))
_add("Z11 re im", _table(FRX[0], 'Freq [MHz],"re(Z(1,1)) []","im(Z(1,1)) []"', ",", FRX[1]))
_add(
    "rawcolon", _table((M, z.real, z.imag), "freq[MHz]\tRe:Trc1_Z11\tIm:Trc1_Z11\t", "\t", FRX[1], trail="\t")
)
_add(
    "S11 Real/Imaginary",
    _table((M, g.real, g.imag), "Frequency MHz,S11 Real,S11 Imaginary", ",", ("%.4f", "%.5f", "%.5f")),
)
_add("Formatted Data", _table((M, db), "Frequency (MHz), Formatted Data", ",", ("%.4f", "%.4f")), "refuse")
_add("LogMag", _table((M, db), "Frequency (MHz),S11 LogMag", ",", ("%.4f", "%.4f")), "none")
_add("LOG MAG", _table((M, db), "FREQ (MHZ)\tS11 LOG MAG", "\t", ("%.4f", "%.4f")), "none")
_add("S11 dBmag", _table((M, db, ang), "f(MHz) S11(dB) S11(deg)", " ", ("%.4f", "%.4f", "%.4f")))
_add("dB(S11) ang(S11)", _table((M, db, ang), "f/MHz;dB(S11);ang(S11)/deg", ";", ("%.4f", "%.4f", "%.4f")))
_add("s_11", _table((M, db, ang), "freq_MHz,s_11_dB,s_11_deg", ",", ("%.4f", "%.4f", "%.4f")))
_add(
    "python repr",
    _table((f, g.real, g.imag), "frequency_hz,s11_re,s11_im", ",", ("%r",) * 3)
    .replace("np.float64(", "")
    .replace(")", ""),
)
_add(
    "pandas index",
    _table(
        (np.arange(23), f, g.real, g.imag), ",frequency_hz,s11_re,s11_im", ",", ("%d", "%.1f", "%.5f", "%.5f")
    ),
)
_add("matlab no header %", _frx(None, pre="% freq MHz, R, X\n"), "either")
_add("comment header %", _table(FRX[0], "% Freq (MHz), R (Ohm), X (Ohm)", ",", FRX[1]))
_add("comment header //", _table(FRX[0], "// Freq (MHz)\tR (Ohm)\tX (Ohm)", "\t", FRX[1]))
_add("header ;comment", _table(FRX[0], "; Freq (MHz)\tR (Ohm)\tX (Ohm)", "\t", FRX[1]), "either")
_add("json", str({"f": [1, 2, 3]}), "refuse")
_add(
    "xml",
    '<?xml version="1.0"?>\n<sweep>\n<point f="14.0" r="50" x="1"/>\n<point f="14.1" r="50" x="1"/>\n</sweep>\n',
    "refuse",
)
_add("html table", "<table><tr><td>14.0</td><td>50</td></tr></table>\n", "refuse")
_add("thermistor", "Time (s),Temperature (C)\n0,20.1\n1,20.2\n2,20.4\n", "refuse")
_add("spectrum", "Frequency (MHz),Level (dBm)\n14.0,-80\n14.1,-82\n", "refuse")
_add("spectrum amp", "Frequency (MHz),Amplitude (dBm)\n14.0,-80\n14.1,-82\n", "refuse")
_add("spectrum mag dB", "Frequency (MHz),Magnitude (dB)\n14.0,-80\n14.1,-82\n", "refuse")
_add("gain freq", "Frequency (MHz),Gain (dBi)\n14.0,2.1\n14.1,2.2\n", "refuse")
_add("loss table", "Frequency (MHz),Loss (dB/100m)\n14.0,2.1\n14.1,2.2\n", "refuse")
_add("cable loss", "Freq (MHz),Attenuation (dB)\n14.0,2.1\n14.1,2.2\n", "refuse")
_add("insertion loss", "Freq (MHz),Insertion Loss (dB)\n14.0,2.1\n14.1,2.2\n", "refuse")
_add("bands", "Band,Low (MHz),High (MHz)\n20m,14.0,14.35\n40m,7,7.3\n", "refuse")
_add("field", "Frequency (MHz),E-field (V/m)\n14.0,2.1\n14.1,2.2\n", "refuse")
_add("log", "Date,Freq (MHz),Mode,RST\n2024,14.0,CW,599\n2024,14.1,CW,589\n", "refuse")
_add("resistor", "Value,R\n1,10\n2,20\n", "refuse")
_add("filter", "Frequency (Hz),R,C\n100,10,1e-6\n200,20,1e-6\n", "either")
_add("swr meter log", "Freq (MHz),Forward (W),Reflected (W)\n14.0,5,1\n14.1,5,.5\n", "refuse")
_add("only header", "Frequency (MHz),R,X\n", "refuse")
_add("prose", "My antenna was fine.\nIt had an SWR of 1.5 at 14.1 MHz.\n", "refuse")
_add("log text with numbers", "14.05 MHz: SWR 1.5\n14.10 MHz: SWR 1.4\n", "refuse")
_add(
    "comma inside units cell",
    'Freq,SWR\n"14,05 MHz","1,50"\n"14,10 MHz","1,42"\n"14,15 MHz","1,40"\n',
    "either",
)
_add("swr 1: cells", _table((M, swr), "Freq (MHz),SWR", ",", ("%.4f", "1:%.3f")), "refuse")
_add("RX with ohm suffix col", _table(FRX[0], "Freq,R,X", " ", ("%.4fMHz", "%.1fΩ", "%.1fΩ")))
_add("kHz cells", _table((f / 1e3, z.real, z.imag), "Freq;R;X", ";", ("%.1f kHz", "%.1f", "%.1f")))
_add("scientific comma", _table((f, z.real, z.imag), "Freq (Hz);R;X", ";", ("%.5E", "%.4E", "%.4E"), dec=","))
_add("plus signs", _table(FRX[0], "Freq (MHz);R;X", ";", ("%+.4f", "%+.1f", "%+.1f")))
_add("leading blanks header", _table(FRX[0], "   Freq (MHz) ,  R ,  X ", ",", FRX[1]))
_add("R_ant X_ant", _table(FRX[0], "Freq (MHz),R_ant,X_ant", ",", FRX[1]), "either")
_add("Rs Xs ohms", _table(FRX[0], "Frequency MHz,Rs ohms,Xs ohms", ",", FRX[1]))
_add("Series R", _table(FRX[0], "Frequency (MHz),Series Resistance,Series Reactance", ",", FRX[1]))
_add(
    "Zmag Zphase",
    _table((M, za, zp), "Frequency (MHz),Zmag (ohm),Zphase (deg)", ",", ("%.4f", "%.2f", "%.2f")),
)
_add(
    "Impedance, Angle",
    _table((M, za, zp), "Frequency (MHz),Impedance (ohm),Angle (deg)", ",", ("%.4f", "%.2f", "%.2f")),
)
_add(
    "|S11| |Z| Phase swr",
    _table(
        (M, abs(g), za, ang, swr), "MHz,|S11|,|Z|,Phase,SWR", ",", ("%.4f", "%.4f", "%.1f", "%.1f", "%.2f")
    ),
)
_add(
    "|S11| |Z| Phase z swr",
    _table(
        (M, abs(g), za, zp, swr), "MHz,|S11|,|Z|,Phase,SWR", ",", ("%.4f", "%.4f", "%.1f", "%.1f", "%.2f")
    ),
)
_add(
    "wrong phase owner", _table((M, za, ang), "MHz,|Z|,Phase (deg)", ",", ("%.4f", "%.1f", "%.1f")), "refuse"
)
_add(
    "R X with S phase",
    _table((M, z.real, z.imag, ang), "MHz,R,X,Phase (deg)", ",", ("%.4f", "%.1f", "%.1f", "%.1f")),
)
_add(
    "R X negative sign conv conj + phase",
    _table((M, z.real, -z.imag, ang), "MHz,R,X,S11 Phase (deg)", ",", ("%.4f", "%.1f", "%.1f", "%.1f")),
    "refuse",
)
_add(
    "swr75 unstated with rx",
    _table((M, z.real, z.imag, swr75), "MHz,R,X,SWR", ",", ("%.4f", "%.1f", "%.1f", "%.2f")),
    reads_at=75,
)
_add(
    "S11 re im + swr in wrong z0",
    _table((M, g.real, g.imag, swr75), "MHz,Re(S11),Im(S11),SWR", ",", ("%.4f", "%.5f", "%.5f", "%.2f")),
    "refuse",
)
_add(
    "Z0 in preamble 75",
    _table(
        (M, abs(g), ang), "MHz,|S11|,Phase(S11) (deg)", ",", ("%.4f", "%.5f", "%.3f"), pre="# Z0: 75 Ohm\n"
    ),
    "gamma at 75",
)
_add(
    "Z0 preamble clash",
    _table(
        (M, abs(g), ang), "MHz,|S11|,Phase(S11) (deg)", ",", ("%.4f", "%.5f", "%.3f"), pre="# Z0: 75 Ohm\n"
    ),
    "refuse",
    reference_ohm=50,
)
_add(
    "ref plane remark",
    _table(
        (M, abs(g), ang),
        "MHz,|S11|,Phase(S11) (deg)",
        ",",
        ("%.4f", "%.5f", "%.3f"),
        pre="# Reference plane: 0,000 mm\n",
    ),
)
_add(
    "Impedance 50 in preamble",
    _table((M, swr), "MHz,SWR", ",", ("%.4f", "%.3f"), pre="System impedance;75 ohm\n"),
    "gamma at 75 none",
)
_add("date preamble", _frx(pre="2024-05-01,12:30:00\n"))
_add("preamble start stop", _frx(pre="Start: 13.9 MHz\nStop: 14.45 MHz\nPoints: 23\n"))
_add("preamble numbers line width", _frx(pre="1,2,3\n"), "either")
_add("sweep params row same width", _frx(pre="Start,Stop,Points\n13.9,14.45,23\n\n"), "refuse")
_add("footer stats", _frx(post="\nMin,1.23,14.1\nMax,3,4\n"), "either")
_add("END only", _frx(post="END\n"))
_add("end data remark", _frx(post="! End Data\n"))
_add("double blank sep", _frx().replace(",", ", "))
_add("tab+space", _frx(sep="\t ", head="Frequency (MHz)\tR\tX"))
_add("mixed sep tab and blanks", _frx(sep="  \t", head="Frequency (MHz)  \tR  \tX"))
_add("mixed tab blanks rows", _frx(sep=" ", head="f/MHz R/Ohm X/Ohm").replace(" ", "\t", 40))
_add("BOM + sep", ("\ufeffsep=;\n" + _frx("Frequency (MHz);R;X", ";")))
_add("utf16 tab excel", _frx("Frequency (MHz)\tR\tX", "\t").encode("utf-16"))
_add("formfeed", _frx() + "\x0c\n")
_add("vertical", _frx().replace("\n", "\u2028", 2), "either")
_add(
    "german full",
    _table(
        (M, swr, z.real, z.imag),
        "Frequenz [MHz];SWV;Wirkwiderstand [Ohm];Blindwiderstand [Ohm]",
        ";",
        ("%.4f", "%.2f", "%.1f", "%.1f"),
        dec=",",
    ),
)
_add(
    "betrag winkel",
    _table(
        (M, abs(g), ang), "Frequenz/MHz;Betrag S11;Winkel S11/Grad", ";", ("%.4f", "%.5f", "%.3f"), dec=","
    ),
)
_add(
    "french module phase",
    _table(
        (M, abs(g), ang),
        "Fréquence (MHz);Module de S11;Phase de S11 (degrés)",
        ";",
        ("%.4f", "%.5f", "%.3f"),
        dec=",",
    ),
)
_add("spanish", _table(FRX[0], "Frecuencia (MHz);Resistencia (Ω);Reactancia (Ω)", ";", FRX[1], dec=","))
_add("italian", _table(FRX[0], "Frequenza (MHz);Resistenza (Ω);Reattanza (Ω)", ";", FRX[1], dec=","))
_add("dutch", _table(FRX[0], "Frequentie (MHz);Weerstand;Reactantie", ";", FRX[1], dec=","))
_add(
    "khz three dec integer",
    _table(
        (f / 1e3, z.real, z.imag), "Frequenz (kHz);R;X", ";", (lambda x: f"{x / 1e3:.3f}", "%.0f", "%.0f")
    ),
    "refuse",
)
_add("freq hz but MHz in name", _frx("MHz Frequency,R,X"))
_add("R,X,f order", _table((z.real, z.imag, M), "R,X,Frequency (MHz)", ",", ("%.1f", "%.1f", "%.4f")))
_add(
    "S11 (dB) with 0 clip",
    _table((M, np.where(db > -5, 0, db)), "MHz,S11 (dB)", ",", ("%.4f", "%.3f")),
    "either",
)
_add(
    "duplicate col names",
    _table(
        (M, z.real, z.imag, z.real, z.imag),
        "Frequency (MHz),R,X,R,X",
        ",",
        ("%.4f", "%.1f", "%.1f", "%.1f", "%.1f"),
    ),
)
_add(
    "duplicate col names diff",
    _table(
        (M, z.real, z.imag, z.real + 3, z.imag),
        "Frequency (MHz),R,X,R,X",
        ",",
        ("%.4f", "%.1f", "%.1f", "%.1f", "%.1f"),
    ),
    "refuse",
)
_add(
    "two f cols",
    _table(
        (M, z.real, z.imag, M), "Frequency (MHz),R,X,Frequency (MHz)", ",", ("%.4f", "%.1f", "%.1f", "%.4f")
    ),
    "refuse",
)
_add("cols hint fewer", _frx(None, sep=";"), columns="f,r", unit="MHz", expected="refuse")
_add(
    "cols hint R,X w/ s11",
    _table((M, db, ang), None, ",", ("%.4f", "%.4f", "%.3f")),
    columns="f,s11_db,s11_deg",
    unit="MHz",
)
_add("cols freq_mhz", _frx(None), columns="freq_mhz,r,x")
_add("cols with units", _frx(None), columns="MHz,R (ohm),X (ohm)")
_add("cols bad", _frx(None), "refuse", columns="f,foo,x", unit="MHz")
_add("cols none f", _frx(None), "refuse", columns="r,x,-", unit="MHz")
_add("cols too many", _frx(None), "refuse", columns="f,r,x,swr", unit="MHz")
_add("unit bad", _frx(None), "refuse", columns="f,r,x", unit="THz")
_add("decimal hint", _table(FRX[0], "f (MHz);R;X", ";", ("%.3f", "%.3f", "%.3f"), dec=","), decimal="comma")
_add(
    "decimal no hint",
    _table(FRX[0], "f (MHz);R;X", ";", ("%.3f", "%.3f", "%.3f"), dec=",")
    .replace(";0,", ";9,")
    .replace("-0,", "-9,"),
    "either",
)
