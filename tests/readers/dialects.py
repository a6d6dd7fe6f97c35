"""One antenna in every dialect: what different instruments and spreadsheets would write of the same sweep.

The numbers are a series resonator's, so nothing is taken from anybody's file.
"""

from __future__ import annotations

import numpy as np

POINTS = 41
REFERENCE_OHM = 50.0
F_HZ = np.linspace(13.9e6, 14.5e6, POINTS)
Z_OHM = 62.0 * (1 + 1j * 14.0 * (F_HZ / 14.18e6 - 14.18e6 / F_HZ)) + 1.5j
GAMMA = (Z_OHM - REFERENCE_OHM) / (Z_OHM + REFERENCE_OHM)
SWR = (1 + np.abs(GAMMA)) / (1 - np.abs(GAMMA))
DB, DEG = 20 * np.log10(np.abs(GAMMA)), np.degrees(np.angle(GAMMA))
Y = 1 / Z_OHM
MHZ = F_HZ / 1e6


def table(columns, *, head="", separator=",", form="{:.6f}", end="\n", tail=""):
    rows = [separator.join(form.format(value) for value in row) for row in zip(*columns, strict=True)]
    return (head + end if head else "") + end.join(rows) + end + tail


def comma(text: str) -> str:
    """Decimal points to commas."""
    return text.replace(".", ",")


def touchstone(option, columns, form="{:.9g}"):
    return table(columns, head=option, separator=" ", form=form)


SIGNED: dict[str, str | bytes] = {
    "touchstone Hz RI": touchstone("# Hz S RI R 50", (F_HZ, GAMMA.real, GAMMA.imag)),
    "touchstone MHz MA": touchstone("# MHz S MA R 50", (MHZ, np.abs(GAMMA), DEG)),
    "touchstone kHz DB": touchstone("# kHz S DB R 50", (F_HZ / 1e3, DB, DEG)),
    "touchstone words in another order": touchstone("# RI S MHz R 50", (MHZ, GAMMA.real, GAMMA.imag)),
    "touchstone Z": touchstone("# MHz Z RI R 50", (MHZ, Z_OHM.real / 50, Z_OHM.imag / 50)),
    "touchstone Y": touchstone("# MHz Y RI R 50", (MHZ, Y.real * 50, Y.imag * 50)),
    "touchstone 2": "[Version] 2.0\n# Hz S RI\n[Number of Ports] 1\n"
    f"[Number of Frequencies] {POINTS}\n[Reference] 50\n[Network Data]\n"
    + table((F_HZ, GAMMA.real, GAMMA.imag), separator=" ", form="{:.9g}")
    + "[End]\n",
    "R and X": table((MHZ, Z_OHM.real, Z_OHM.imag), head="Frequency (MHz),R (ohm),X (ohm)"),
    "R and X, tabs, trailing": table(
        (MHZ, Z_OHM.real, Z_OHM.imag), head="freq[MHz]\tRs/Ohm\tXs/Ohm", separator="\t", end="\t\n"
    ),
    "R and X, semicolons and commas": comma(
        table((MHZ, Z_OHM.real, Z_OHM.imag), head="Frequenz (MHz);R (Ohm);X (Ohm)", separator=";")
    ),
    "quoted decimal commas": table(
        (MHZ, Z_OHM.real, Z_OHM.imag), head='"Frequency (MHz)","R (ohm)","X (ohm)"', form='"{:.6f}"'
    ).replace(".", ","),
    "units row": table((MHZ, Z_OHM.real, Z_OHM.imag), head="Freq,R,X\nMHz,Ohm,Ohm"),
    "units in the cells": "freq,R,X\n"
    + "".join(f"{f:.6f} MHz,{z.real:.6f} ohm,{z.imag:.6f} ohm\n" for f, z in zip(MHZ, Z_OHM, strict=True)),
    "preamble and blocks": "! my antenna\n! taken at noon\nBEGIN\n"
    + table((F_HZ, GAMMA.real, GAMMA.imag), head="Frequency (Hz),Re(S11),Im(S11)", form="{:.9g}")
    + "END\n",
    "Z and its phase": table(
        (MHZ, np.abs(Z_OHM), np.degrees(np.angle(Z_OHM))), head="Frequency (MHz),|Z| (ohm),Phase(Z) (deg)"
    ),
    "dB and degrees": table((MHZ, DB, DEG), head="Frequency (MHz),S11 (dB),S11 (deg)"),
    "magnitude and radians": table(
        (MHZ, np.abs(GAMMA), np.angle(GAMMA)), head="Frequency (MHz),|S11|,Phase(S11) (rad)", form="{:.8f}"
    ),
    "SWR with phase": table((MHZ, SWR, DEG), head="Frequency (MHz),SWR,S11 (deg)", form="{:.8f}"),
    "parallel": table((MHZ, 1 / Y.real, -1 / Y.imag), head="Frequency (MHz),Rp (ohm),Xp (ohm)"),
    "admittance": table(
        (MHZ, Y.real * 1e3, Y.imag * 1e3), head="Frequency (MHz),G (mS),B (mS)", form="{:.8f}"
    ),
    "redundant": table((MHZ, Z_OHM.real, Z_OHM.imag, SWR), head="Frequency (MHz),R (ohm),X (ohm),SWR"),
    "complex cells": "Frequency (MHz),Z (ohm)\n"
    + "".join(f"{f:.6f},{z.real:.6f}{z.imag:+.6f}j\n" for f, z in zip(MHZ, Z_OHM, strict=True)),
    "falling": table((MHZ[::-1], Z_OHM.real[::-1], Z_OHM.imag[::-1]), head="Frequency (MHz),R (ohm),X (ohm)"),
    "UTF-16": table((MHZ, Z_OHM.real, Z_OHM.imag), head="Frequency (MHz),R (Ω),X (Ω)").encode("utf-16"),
    "UTF-8 with mark": b"\xef\xbb\xbf"
    + table((MHZ, Z_OHM.real, Z_OHM.imag), head="Frequency (MHz),R (Ω),X (Ω)").encode("utf-8"),
    "latin-1": table((MHZ, Z_OHM.real, Z_OHM.imag), head="Frequenz (MHz),R (Ohm),X (Ohm) ±").encode(
        "latin-1"
    ),
}
MAGNITUDE: dict[str, str | bytes] = {
    "SWR": table((MHZ, SWR), head="Frequency (MHz),SWR", form="{:.8f}"),
    "return loss, positive": table((MHZ, -DB), head="Frequency (MHz),Return Loss (dB)", form="{:.8f}"),
    "return loss, negative": table((MHZ, DB), head="Frequency (MHz),Return Loss (dB)", form="{:.8f}"),
    "decibels": table((MHZ, DB), head="Frequency (MHz),S11 (dB)", form="{:.8f}"),
    "percent": table((MHZ, 100 * np.abs(GAMMA)), head="Frequency (MHz),|S11| (%)", form="{:.8f}"),
}
UNSIGNED: dict[str, str | bytes] = {
    "R and |X|": table((MHZ, Z_OHM.real, np.abs(Z_OHM.imag)), head="Frequency (MHz),R (ohm),|X| (ohm)"),
}
NO_SWEEP: dict[str, str] = {
    "a bill of materials": "part,count,price\nwire 20 m,1,12.50\ninsulator,4,0.80\nrope,2,3.10\nclip,8,0.25\n",
    "gain against angle": table(
        (np.arange(0, 360, 10), np.linspace(-3, 2, 36)), head="Angle (deg),Gain (dBi)"
    ),
    "a spectrum": table((MHZ, np.linspace(-120, -90, POINTS)), head="Frequency (MHz),Power (dBm)"),
    "a thermistor log": table((np.arange(40), np.linspace(18, 25, 40)), head="minute,temperature (C)"),
    "transmission": table((MHZ, np.linspace(-3, -4, POINTS)), head="Frequency (MHz),S21 (dB)"),
}


def as_bytes(content: str | bytes) -> bytes:
    return content if isinstance(content, bytes) else content.encode("utf-8")


EVERY = {name: as_bytes(content) for name, content in {**SIGNED, **MAGNITUDE, **UNSIGNED}.items()}
