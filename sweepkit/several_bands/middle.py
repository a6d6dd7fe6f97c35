"""The measured draw of what is drawn and never measured."""

from __future__ import annotations

import numpy as np

from sweepkit.conversions import FloatArray


def middle_first(values: FloatArray) -> FloatArray:
    """The middle of all draws, shape (draws, ...), stands for the measured one."""
    values = np.array(values)
    values[0] = np.median(values, axis=0)
    return values
