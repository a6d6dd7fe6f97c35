"""One port's reflection out of network parameters of one or more ports.

Version 1 files hold Z, Y, G and H divided by the reference, version 2 files in ohm and siemens (Touchstone
specification 2.1, "Parameter Normalization"). scikit-rf's reader multiplies all of them, so it is not used; its
conversions are, with the units set right here.
"""

from __future__ import annotations

import re
import warnings

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray, gamma_from_z
from sweepkit.errors import BadInput, NeedsHint, UnreadableFile
from sweepkit.findings import Finding
from sweepkit.printed_step import PrintedStep, Step
from sweepkit.readers.options import Options

LEAST_DOUBTFUL_RATIO = 10.0  # |Z|/R that no point of a usable antenna sweep stays above; our own choice


def chosen_port(trace: str | None, ports: int) -> int:
    """Which port's reflection is wanted, counted from 0."""
    if trace is None:
        return 0
    match = re.fullmatch(r"s?\(?\s*(\d+?)\s*[,_:;. ]?\s*(\d+)\s*\)?", trace.strip(), re.IGNORECASE)
    if not match or match.group(1) != match.group(2) or not 1 <= int(match.group(1)) <= ports:
        there = ", ".join(f"s{n}{n}" if n < 10 else f"s{n},{n}" for n in range(1, ports + 1))
        raise BadInput(f"--trace is {trace!r}; this file has the reflections {there}; name one of them")
    return int(match.group(1)) - 1


def port_finding(port: int, ports: int) -> tuple[Finding, ...]:
    """Say which port of several was taken."""
    if ports == 1:
        return ()
    name = f"S{port + 1}{port + 1}" if port < 9 else f"S{port + 1},{port + 1}"
    others = "the other port" if ports == 2 else "all other ports"
    text = f"the file has {ports} ports; {name} was read, with {others} ended in the reference resistance"
    return (Finding("one-port-of-several", "note", text, "pass --trace s22 for the reflection of port 2"),)


def refuse_unnormalised(gamma: ComplexArray, options: Options, reference_ohm: float, line: int) -> None:
    """Doubt a version 1 Z or Y file whose every point is far from the reference: it likely holds ohm."""
    if options.parameter not in ("Z", "Y"):
        return
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.abs((1 + gamma) / (1 - gamma))
    least = float(np.min(np.where(np.isfinite(ratio), ratio, np.inf)))
    if least > LEAST_DOUBTFUL_RATIO:
        raise NeedsHint(
            f"the smallest |Z| is {least:.3g} times R = {reference_ohm:g} ohm: the numbers look like ohm or "
            "siemens; expected them divided by R, as version 1 has them; write R 1 if they are not divided, "
            f"or pass --reference-ohm {reference_ohm:g} if they are",
            hint="reference-ohm",
            line=line,
        )


def complex_numbers(pairs: FloatArray, number_format: str) -> ComplexArray:
    """Pairs of printed numbers, shape (n, 2 m), as complex ones, by the operations of scikit-rf 2.2, bit for bit."""
    raw = np.array(pairs)
    if number_format == "RI":
        return raw.view(np.complex128)
    with np.errstate(all="ignore"):  # what is beyond all bounds is refused with its line
        if number_format == "DB":
            raw[:, 0::2] = 10 ** (raw[:, 0::2] / 20.0)
        return np.asarray(raw[:, 0::2] * np.exp(1j * raw[:, 1::2] * np.pi / 180))


def arranged(numbers: ComplexArray, ports: int, order: str, triangle: str) -> ComplexArray:
    """Numbers of each point as a matrix (Touchstone specification 2.1, "Network Data"), shape (n, ports, ports).

    ``numbers``, shape (n, m), are in the order of the file; ``order`` says which of the two transmissions of a
    two-port stands first.
    """
    if triangle == "full":
        matrix = numbers.reshape(-1, ports, ports)
        return matrix.transpose(0, 2, 1) if ports == 2 and order == "21_12" else matrix
    rows, columns = np.tril_indices(ports) if triangle == "lower" else np.triu_indices(ports)
    matrix = np.empty((len(numbers), ports, ports), dtype=np.complex128)
    matrix[:, rows, columns] = matrix[:, columns, rows] = numbers
    return matrix


def reflection(
    matrix: ComplexArray, options: Options, references_ohm: tuple[float, ...], port: int, *, absolute: bool
) -> ComplexArray:
    """Reflection of one port while every other port is ended in its own reference."""
    if matrix.shape[1] > 1 or options.parameter not in ("Z", "Y"):
        return scattering(matrix, options, references_ohm, absolute=absolute)[:, port, port]
    scale = references_ohm[0] if absolute else 1.0
    with np.errstate(all="ignore"):  # what is beyond all bounds is refused with its line
        if options.parameter == "Z":
            return gamma_from_z(matrix[:, 0, 0] / scale, 1.0)
        return -gamma_from_z(matrix[:, 0, 0] * scale, 1.0)


def scattering(
    matrix: ComplexArray, options: Options, references_ohm: tuple[float, ...], *, absolute: bool
) -> ComplexArray:
    """Scattering parameters, each port against its own reference, shape (n, ports, ports).

    ``absolute``: Z, Y, G and H in ohm and siemens, not divided by the reference. G and H parameters of other than two
    ports, or a matrix without scattering parameters, are refused.
    """
    kind = options.parameter
    if kind == "S":
        return matrix
    if kind in "GH" and matrix.shape[1] != 2:
        raise UnreadableFile(
            f"{kind} parameters of {matrix.shape[1]} ports; expected two ports; export S or Z"
        )
    from skrf import network

    if not absolute:
        matrix = matrix * _units(kind, references_ohm[0])
    convert = getattr(network, f"{kind.lower()}2s")
    try:
        with np.errstate(all="ignore"), warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return np.asarray(convert(matrix, np.array(references_ohm, dtype=np.complex128)))
    except np.linalg.LinAlgError as error:
        raise UnreadableFile(
            f"{kind} parameters of some frequency have no reflection; expected a passive network; export S"
        ) from error


def _units(kind: str, reference_ohm: float) -> ComplexArray:
    """What turns version 1 parameters into ohm and siemens, element by element."""
    r = reference_ohm
    scales = {"Z": [[r]], "Y": [[1 / r]], "H": [[r, 1], [1, 1 / r]], "G": [[1 / r, 1], [1, r]]}
    return np.array(scales[kind], dtype=np.complex128)


_NAMES = {
    ("S", "RI"): ("re", "im"),
    ("S", "MA"): ("mag", "s_phase"),
    ("S", "DB"): ("db", "s_phase"),
    ("Z", "RI"): ("r", "x"),
    ("Z", "MA"): ("z_abs", "z_phase"),
    ("Y", "RI"): ("g", "b"),
    ("Y", "MA"): ("y_abs", "y_phase"),
}


def network_step(
    options: Options, reference_ohm: float, steps: list[Step], *, absolute: bool
) -> PrintedStep | None:
    """Printed step of one port's pairs of numbers in a Touchstone file."""
    names = _NAMES.get((options.parameter, options.number_format))
    if names is None:
        return None
    unit = {"S": 1.0, "Z": reference_ohm, "Y": 1 / reference_ohm}[options.parameter]
    unit = 1.0 if absolute else unit
    second = unit if options.number_format == "RI" else np.pi / 180
    return PrintedStep(names, (steps[0].scaled(unit), steps[1].scaled(second)), reference_ohm)
