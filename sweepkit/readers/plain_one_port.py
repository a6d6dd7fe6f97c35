"""The fast path: a one-port Touchstone 1 file with a plain option line and nothing but numbers below it.

Anything else is left to the reader that goes line by line. The arithmetic is that of scikit-rf 2.2, operation
by operation, so that both agree bit for bit.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.errors import UnreadableFile
from sweepkit.printed_step import PrintedStep
from sweepkit.readers.options import Options, parse_options
from sweepkit.readers.printing import network_step

_NUMBER_SIGNS = b"0123456789+-.eE\r"
_NUMBER_BYTES = _NUMBER_SIGNS + b" \t\n"
SAMPLED_ROWS = 32  # rows looked at for the printed step; our own choice


def read_plain(
    data: bytes,
) -> tuple[Options, list[str], FloatArray, ComplexArray, int, PrintedStep | None] | None:
    """Read a plain one-port file at once.

    Parameters
    ----------
    data : bytes
        The file's bytes.

    Returns
    -------
    tuple or None
        Options, remarks, frequency [Hz], reflection [-], the line of the first row and the printed step;
        ``None`` where the file is not plain, which says nothing about whether it is good.
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
            if b"impedance" in line.lower() or len(line) - len(line.translate(None, b"0123456789")) > 5:
                return None  # a port impedance, or perhaps a row that was made a remark
            remarks.append(line[1:].decode("ascii").strip())
        elif line:
            options = _plain_options(line)
            if options is None:
                return None
    body = data[start - 1 :].rstrip()  # with the line end before it: every line begins with one
    if (
        any(e in body and body.count(e) != body.count(e + b"-") + body.count(e + b"+") for e in (b"e", b"E"))
        or body.translate(None, _NUMBER_BYTES)
        or (b"\r" in body and body.count(b"\r") != body.count(b"\r\n"))
    ):
        return None
    tokens = body.split()
    values = _three_columns(body, tokens)
    if values is None:
        return None
    if options.number_format == "MA" and (values[:, 1] < 0).any():
        return None
    f_hz = values[:, 0] * options.unit_hz
    gamma = complex_numbers(values[:, 1:], options.number_format)
    step = network_step(options, options.reference_ohm or 50.0, sampled_pairs(tokens))
    return options, remarks, f_hz, gamma, line_number + 1, step


@lru_cache(maxsize=64)
def _plain_options(line: bytes) -> Options | None:
    try:
        options = parse_options(line.decode("ascii"))
    except UnreadableFile:
        return None
    return options if options.parameter == "S" and options.reference_ohm is not None else None


def sampled_pairs(tokens: list[bytes]) -> list[tuple[str, str]]:
    """The two numbers behind the frequency of some rows, evenly spread over a one-port file."""
    apart = 3 * max(1, len(tokens) // (3 * SAMPLED_ROWS))
    return [(tokens[at + 1].decode(), tokens[at + 2].decode()) for at in range(0, len(tokens), apart)]


def _three_columns(body: bytes, tokens: list[bytes]) -> FloatArray | None:
    """Numbers of a body in which every line has three, else nothing."""
    blanks = body.translate(None, _NUMBER_SIGNS)
    count = blanks.count(b"\n")
    two_blanks_a_line = blanks in (b"\n  " * count, b"\n\t\t" * count) and len(tokens) == 3 * count
    if not tokens or not (two_blanks_a_line or _has_three_a_line(body)):
        return None
    try:
        return np.array(tokens, dtype=np.float64).reshape(-1, 3)
    except ValueError:
        return None


def _has_three_a_line(body: bytes) -> bool:
    """Whether every line has three tokens, whatever stands between them."""
    signs = np.frombuffer(body, dtype=np.uint8)
    dark = signs > ord(" ")
    token_starts = np.flatnonzero(dark[1:] > dark[:-1])
    line_starts = np.flatnonzero(signs == ord("\n"))
    tokens_before = np.searchsorted(token_starts, line_starts)
    three = tokens_before[1:] - tokens_before[:-1] == 3
    return bool(token_starts.size == 3 * line_starts.size and three.all())


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
    if number_format == "RI":
        numbers = raw.view(np.complex128)
    else:
        with np.errstate(all="ignore"):  # what is beyond all bounds is refused with its line
            if number_format == "DB":
                raw[:, 0::2] = 10 ** (raw[:, 0::2] / 20.0)
            numbers = raw[:, 0::2] * np.exp(1j * raw[:, 1::2] * np.pi / 180)
    return numbers[:, 0] if numbers.shape[1] == 1 else numbers
