"""The fast path: a one-port Touchstone 1 file with a plain option line and nothing but numbers below it.

Anything else is left to the reader that goes line by line. The arithmetic is that of scikit-rf 2.2, operation
by operation, so that both agree bit for bit.
"""

from __future__ import annotations

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.errors import UnreadableFile
from sweepkit.readers.options import Options, parse_options

_NUMBER_BYTES = b"0123456789+-.eE \t\r\n"


def read_plain(data: bytes) -> tuple[Options, list[str], FloatArray, ComplexArray, int] | None:
    """Read a plain one-port file at once.

    Parameters
    ----------
    data : bytes
        The file's bytes.

    Returns
    -------
    tuple or None
        Options, remarks, frequency [Hz], reflection [-] and the line of the first row; ``None`` where the
        file is not plain, which says nothing about whether it is good.
    """
    remarks: list[str] = []
    options, start, line_number = None, 0, 0
    while options is None:
        end = data.find(b"\n", start)
        line = data[start:end].strip()
        if end < 0 or not line.isascii() or (line and line[:1] not in b"!#"):
            return None
        start, line_number = end + 1, line_number + 1
        if line.startswith(b"!"):
            remarks.append(line[1:].decode("ascii").strip())
        elif line:
            options = _plain_options(line)
            if options is None:
                return None
    body = data[start:]
    if body.translate(None, _NUMBER_BYTES) or body.count(b"\r") != body.count(b"\r\n"):
        return None
    values = _three_columns(body)
    if values is None:
        return None
    f_hz = values[:, 0] * options.unit_hz
    if not (np.isfinite(values).all() and f_hz[0] >= 0 and (f_hz[1:] > f_hz[:-1]).all()):
        return None
    if options.number_format == "MA" and (values[:, 1] < 0).any():
        return None
    return options, remarks, f_hz, complex_numbers(values[:, 1:], options.number_format), line_number + 1


def _plain_options(line: bytes) -> Options | None:
    try:
        options = parse_options(line.decode("ascii"))
    except UnreadableFile:
        return None
    return options if options.parameter == "S" and options.reference_ohm is not None else None


def _three_columns(body: bytes) -> FloatArray | None:
    """Numbers of a body in which every line has three, else nothing."""
    rows = body.rstrip().split(b"\n")
    if set(map(len, map(bytes.split, rows))) != {3}:
        return None
    try:
        return np.array(body.split(), dtype=np.float64).reshape(-1, 3)
    except ValueError:
        return None


def complex_numbers(pairs: FloatArray, number_format: str) -> ComplexArray:
    """Pairs of numbers as complex ones.

    Parameters
    ----------
    pairs : float array, shape (n, 2 m)
        As printed: real and imaginary, magnitude and degrees, or dB and degrees.
    number_format : {"RI", "MA", "DB"}
        Which of the three.

    Returns
    -------
    complex array, shape (n,) for m = 1, else (n, m)
    """
    raw = np.array(pairs)
    if number_format == "DB":
        raw[:, 0::2] = 10 ** (raw[:, 0::2] / 20.0)
    if number_format == "RI":
        numbers = raw.view(np.complex128)
    else:
        numbers = raw[:, 0::2] * np.exp(1j * raw[:, 1::2] * np.pi / 180)
    return numbers[:, 0] if numbers.shape[1] == 1 else numbers
