"""A piece of line between two ports, as the sweeps that it would show with its far end open and with it shorted.

With an ideal open or short at port 2 the reflection at port 1 is S11 ± S12·S21/(1 ∓ S22). Both together hold what
cosh(γl) = (A + D)/2 holds, which is (1 - S11·S22 + S12·S21)/(2·S21), and the impedance too.
Pozar, Microwave Engineering, 4th ed., Wiley 2012, sections 2.3 and 4.4.
"""

from __future__ import annotations

import os
from typing import Any

import numpy as np

from sweepkit.conversions import ComplexArray
from sweepkit.errors import BadInput
from sweepkit.feedline.swept import End
from sweepkit.findings import Finding
from sweepkit.readers import read_network, read_sweep
from sweepkit.sweep import Sweep

THROUGH = "through"
NOTHING = 1e-3  # 60 dB: what couples past a line that is open; common practice, no source
ONE_WAY = 0.1  # a passive piece transmits the same both ways; more difference is none; our own choice


def is_through(path: str | os.PathLike[str], *, if_needed: Any = None, **hints: Any) -> bool:
    """Whether a file that nobody told anything of holds a piece of line between two ports."""
    if not os.fsdecode(path).lower().endswith(("2p", ".ts")) or any(hints.values()):
        return False
    sweep = read_sweep(path)
    if not any(finding.code == "one-port-of-several" for finding in sweep.findings):
        return False
    network = read_network(path)
    return bool(network.nports == 2 and np.median(np.abs(network.s[:, 1, 0])) > NOTHING)


def read_through(
    path: str | os.PathLike[str], *, reference_ohm: float | None = None, if_needed: Any = None, **hints: Any
) -> list[tuple[Sweep, End]]:
    """The piece of a Touchstone file of two ports with its far end open, and shorted.

    ``reference_ohm`` is for a file that states none; ``if_needed`` (of the kit) is not: Touchstone leaves nothing of
    it open. Not two ports of one reference, or no passive line between them, is a ``BadInput``.
    """
    told = [name for name, value in hints.items() if value]
    if told:
        raise BadInput(
            f"--{told[0].replace('_', '-')} has no meaning for a line between two ports; leave it out",
            path=os.fsdecode(path),
        )
    swept = read_sweep(path, reference_ohm=reference_ohm)
    network = read_network(path, reference_ohm=reference_ohm)
    if network.nports != 2 or np.ptp(network.z0.real) > 0:
        raise BadInput(
            f"the file has {network.nports} port{'s' if network.nports > 1 else ''}, or ports of several references; "
            "a line measured through needs two ports of one; say --end open or --end short",
            path=os.fsdecode(path),
        )
    try:
        s, findings = _both_ways(network.s)
    except BadInput as error:
        error.path = os.fsdecode(path)
        raise
    findings = (*findings, *(one for one in swept.findings if one.code != "one-port-of-several"))
    ends: list[tuple[Sweep, End]] = []
    for end, far in (("open", 1.0), ("short", -1.0)):
        gamma = s[:, 0, 0] + far * s[:, 0, 1] * s[:, 1, 0] / (1 - far * s[:, 1, 1])
        known = {"reference_ohm": swept.reference_ohm, "source": swept.source, "findings": findings}
        ends.append((Sweep.from_gamma(network.f, gamma, **known), "open" if end == "open" else "short"))
    return ends


def _both_ways(s: ComplexArray) -> tuple[ComplexArray, tuple[Finding, ...]]:
    """The matrix of a passive piece; where one way was measured only, the other is taken for the same."""
    s = np.array(s)
    if np.median(np.abs(s[:, 1, 0])) < NOTHING:
        raise BadInput(
            "nothing comes through from port 1 to port 2: the line is broken or was not connected to both; "
            "look at it, or say --end unknown to have the reflection of port 1 alone looked at"
        )
    if not s[:, 0, 1].any() and not s[:, 1, 1].any():
        s[:, 0, 1], s[:, 1, 1] = s[:, 1, 0], s[:, 0, 0]
        text = "S12 and S22 are zero, so one way was measured only; the other was taken for the same"
        step = "turn the line round and sweep it again if its ends may differ"
        return s, (Finding("through-one-way", "note", text, step),)
    apart = np.median(np.abs(s[:, 0, 1] - s[:, 1, 0])) / np.median(np.abs(s[:, 1, 0]))
    if apart > ONE_WAY:
        raise BadInput(
            f"S12 and S21 differ by {apart:.0%}; a line transmits the same both ways; calibrate both ports with the "
            "same standards, or say --end open or --end short"
        )
    return s, ()
