"""What a box was swept into: an open, a short, or a resistor."""

from __future__ import annotations

import re
from dataclasses import dataclass

from sweepkit.errors import BadInput
from sweepkit.limits import complaint


@dataclass(frozen=True)
class Into:
    """Resistance at the far side; 0 for a short, ``None`` for an open. [ohm]"""

    r_ohm: float | None

    @property
    def word(self) -> str:
        """``open``, ``short`` or ``2450 ohm``."""
        return "open" if self.r_ohm is None else "short" if self.r_ohm == 0 else f"{self.r_ohm:g} ohm"


def parse_into(text: str) -> Into:
    """What was at the far side, as written: ``open``, ``short``, or a resistance with its unit, ``2.4 kohm`` say."""
    word = text.strip().lower()
    if word in ("open", "short"):
        return Into(None if word == "open" else 0.0)
    found = re.fullmatch(r"(\d+\.?\d*|\.\d+)\s*(k?)\s*(ohms?|Ω|ω)", word)
    if not found:
        raise BadInput(
            f"--into is {text!r}; open, short or a resistance was expected; write it like 2450 ohm"
        )
    r_ohm = float(found.group(1)) * (1000 if found.group(2) else 1)
    wrong = complaint("reference_ohm", r_ohm)
    if wrong:
        raise BadInput(f"--into {text}: a resistance {wrong}")
    return Into(r_ohm)
