"""One heading of a table's column to what the column holds."""

from __future__ import annotations

import re
from dataclasses import dataclass

from sweepkit.readers.tables.vocabulary import BRACKET_UNITS, FILLERS, PHRASES, UNITS, plain

_PART_BEFORE = r"(?:re|real|im|imag|mag|abs|db|ang|arg|phase|phas|deg|lin|log|swr|rl)"
_PARAMETER = re.compile(
    rf"(?:(?<![a-z])|(?<=[^a-z])|^)(?P<before>{_PART_BEFORE}?)_?(?P<kind>s|st|z|zt|y|yt)\s*(?:"
    r"\(\s*(?P<a>[^(),;]+?)\s*[,;]\s*(?P<b>[^(),;]+?)\s*\)"  # S(1,1), S(Port1,Port1)
    r"|\[\s*(?P<c>\d+)\s*[,;]\s*(?P<d>\d+)\s*\]"  # S[1,1]
    r"|[ _]?(?P<e>\d)[,;_ ](?P<f>\d)(?!\d)"  # S1,1
    r"|[ _]?(?P<g>\d)(?P<h>\d)(?!\d))"  # S11
)
_STUDY = re.compile(r"\s+-\s+\S.*=.*$")  # "dB(S(1,1)) [] - L='0.7m'": one trace of a parameter study
_NORMALISED = re.compile(r"\b([rxz])\s*/\s*z_?[0o]\b|\b(?:norm\w*|normiert\w*)\b|\b([rx])_?n\b")
_SUM = re.compile(r"\br[sx]?\s*\+\s*j\s*x?")  # "R + jX": one complex number in a cell
TRACE_LETTERS = ("b", "c", "f", "g", "l")  # beside S11 they tell traces apart; R and X may be parts
_LC_UNITS = ("nh", "uh", "pf", "nf", "")
BY_UNIT = "f by its unit"  # a column whose word is not known and whose unit is a frequency's
FREQUENCY_UNITS = ("hz", "khz", "mhz", "ghz")


@dataclass(frozen=True)
class Column:
    """What one column holds."""

    index: int  # place in the row, from 0
    heading: str  # as the file has it
    # f, swr, rl, gamma, z, r, x, rp, xp, y, g, b, l, c, theta, z0; part where only a part is named; other; unknown
    quantity: str = "unknown"
    part: str = ""  # re, im, abs, db, phase, complex, or nothing
    unit: str = ""  # in lower case, or nothing
    port: str = ""  # of a reflection (1), a>b for a transmission, or nothing
    normalised: bool = False  # divided by the reference
    named: bool = False  # words of a quantity stand in the heading, whether or not they say enough
    hinted: bool = False  # the user named it
    letter: str = ""  # r or x, alone beside words of another tongue in a column of ohms


def describe(heading: str, index: int) -> Column:
    """What a heading says of its column: ``unknown`` where the words say nothing or contradict each other."""
    name = _STUDY.sub("", plain(heading))
    normalised = bool(_NORMALISED.search(name))
    name = _NORMALISED.sub(lambda m: f" {m.group(1) or m.group(2) or ''} ", name)
    complex_cell = bool(_SUM.search(name))
    name = _SUM.sub(" z ", name)
    name, parameter, port, before = _take_parameter(name)
    barred = re.search(r"\|[^|]+\|", name) is not None
    name, unit = _take_unit(name.replace("|", " "))
    quantities, parts = _meanings(f"{name} {before}")
    if barred:
        parts.add("abs")
    if complex_cell or "complex" in name.split():
        parts = {"complex"}
    quantity = _one_quantity(quantities, parameter)
    named = bool(quantities or parameter)
    part = _one_part(parts, unit, quantity)
    if quantity == "" and part == "" and unit in FREQUENCY_UNITS and not name.strip():
        quantity = "f"  # a bare unit: "MHz"
    elif quantity == "" and (part or unit in ("db", "deg", "rad")) and not port:
        quantity = "part"
    if quantity in ("swr", "rl") and part == "phase":
        quantity = "gamma"
    if (quantity == "x" and part == "phase") or (quantity in ("l", "c") and unit not in _LC_UNITS):
        quantity = "unknown"
    if unit in FREQUENCY_UNITS and quantity != "f":
        told = quantity or part or parameter or port
        quantity = (
            "unknown" if told else BY_UNIT
        )  # "S11 at 54 MHz" is none; a word of another language may be
    quantity = quantity or "unknown"
    letter = _letter_of_ohms(name) if quantity == "unknown" and unit == "ohm" else ""
    return Column(index, heading.strip(), quantity, part, unit, port, normalised, named, letter=letter)


def _letter_of_ohms(name: str) -> str:
    """The one letter, R or X, among words that are not known, such as "Blindanteil X"."""
    letters = [word for word in re.findall(r"[^\W\d_]+", name) if word in ("r", "x")]
    return letters[0] if len(letters) == 1 else ""


def _take_parameter(name: str) -> tuple[str, str, str, str]:
    """Cut ``S11`` and its relatives out: the rest, quantity, port and a part word glued before it."""
    match = _PARAMETER.search(name)
    if not match:
        return name, "", "", ""
    first, second = (
        re.sub(r":\d+$", "", match.group(x) or match.group(y) or match.group(u) or match.group(v)).strip()
        for x, y, u, v in (("a", "c", "e", "g"), ("b", "d", "f", "h"))
    )
    digits = re.search(r"(\d+)$", first)
    port = (digits.group(1) if digits else first) if first == second else f"{first}>{second}"
    quantity = {"s": "gamma", "z": "z", "y": "y"}[match.group("kind")[0]]
    rest = f"{name[: match.start()]} {name[match.end() :]}"
    return rest, quantity, port, match.group("before") or ""


def _take_unit(name: str) -> tuple[str, str]:
    """Cut the unit out: in brackets first, then any word that can be nothing else."""
    for content in re.findall(r"[(\[]([^()\[\]]*)[)\]]|/\s*([a-z0-9]+)", name):
        word = (content[0] or content[1]).strip()
        if word in BRACKET_UNITS or word in UNITS:
            return _without(name, word), BRACKET_UNITS.get(word) or UNITS[word]
    for word in re.findall(r"[^\W\d_]+", name):
        if word in UNITS:
            return _without(name, word), UNITS[word]
    glued = re.search(r"\b(?:f|freq|frequency)(hz|khz|mhz|ghz)\b", name)
    if glued:
        return name[: glued.start(1)] + " " + name[glued.end(1) :], glued.group(1)
    return name, ""


def _without(name: str, word: str) -> str:
    return re.sub(rf"(?<![^\W\d_]){re.escape(word)}(?![^\W\d_])", " ", name, count=1)


def _meanings(name: str) -> tuple[set[str], set[str]]:
    """Quantities and parts that the words name; longer phrases first, each word used once."""
    words = " " + " ".join(re.findall(r"[^\W\d_]+(?:0\b)?|\d+", _split_compounds(name))) + " "
    found: dict[str, set[str]] = {"quantity": set(), "part": set()}
    letters: set[str] = set()
    for phrase, kind, meaning in PHRASES:
        if f" {phrase} " in words:
            words = words.replace(f" {phrase} ", "  ")
            found[kind].add(meaning)
            if len(phrase) == 1:
                letters.add(meaning)
    if any(len(word) > 1 and word.isalpha() and word not in FILLERS for word in words.split()):
        found["quantity"] -= letters  # one letter beside words of its own, such as "x position", says nothing
    elif found["quantity"] - letters:  # "SWR B" is an SWR; "Z X" and "X of Z" are told apart by _one_quantity
        found["quantity"] -= letters
    return found["quantity"], found["part"]


def _split_compounds(name: str) -> str:
    """``rez``, ``imz``, ``magz``, ``swr1`` and the like as separate words."""
    name = re.sub(r"\b(re|im|real|imag|mag|abs|ang|arg|phase)(z|y|x|gamma|rho)\b", r"\1 \2", name)
    name = re.sub(r"\b(z|y|x|gamma|rho)(re|im|real|imag|mag|abs|ang|arg|phase)\b", r"\1 \2", name)
    return re.sub(r"\b(v?swr|rl|rp|xp|rs|xs)(\d+)\b", r"\1 \2", name)


def _one_quantity(quantities: set[str], parameter: str) -> str:
    """The one thing measured; ``unknown`` where the words name two."""
    quantities = set(quantities)
    if parameter:
        quantities -= {parameter, *TRACE_LETTERS}
        if parameter == "gamma" and quantities <= {"rl", "swr"}:
            return quantities.pop() if quantities else "gamma"
        return parameter if not quantities else "unknown"
    if "z" in quantities and quantities <= {"z", "r", "x", "theta"}:
        quantities.discard("z")  # "R of Z", "theta of Z"
        quantities = quantities or {"z"}
    return quantities.pop() if len(quantities) == 1 else ("unknown" if quantities else "")


def _one_part(parts: set[str], unit: str, quantity: str) -> str:
    """The part of the quantity; a unit of dB or of an angle says more than a word."""
    if "complex" in parts:
        return "complex"
    if quantity in ("gamma", "") and unit == "db" and parts <= {"abs", "db", "phase"}:
        return "db"
    if unit in ("deg", "rad") and quantity in ("gamma", "z", "y", "theta", "", "x"):
        return "phase abs" if "abs" in parts and "phase" in parts else "phase"
    if {"abs", "db"} <= parts:
        return "db"
    if {"abs", "phase"} <= parts:
        return "phase abs"
    return next(iter(parts)) if len(parts) == 1 else ("" if not parts else "unclear")
