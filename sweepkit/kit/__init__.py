"""The operator's gear from kit.toml: lines, analyzer, radio, tuner and antennas (docs/kit.md).

``gear`` is the whole, made of ``analyzer``, ``radio``, ``tuner``, ``antenna``, ``box`` and pieces of line, each with
its rules. ``reading`` fills it from a file with the help of ``table`` (one table, checked key by key) and
``line_table`` (a piece of line). ``choosing`` finds a line or an antenna by what the operator wrote; ``assumptions``
says which defaults stand in for what was not told.
"""

from sweepkit.kit.analyzer import Analyzer
from sweepkit.kit.antenna import AntennaNote
from sweepkit.kit.assumptions import assumed_in_short, describe_fold_back, describe_tuner, list_assumptions
from sweepkit.kit.box import Box
from sweepkit.kit.choosing import as_pieces, resolve_antenna
from sweepkit.kit.gear import Kit
from sweepkit.kit.radio import Radio
from sweepkit.kit.reading import as_kit, read_kit
from sweepkit.kit.tuner import Tuner

__all__ = [
    "Analyzer",
    "AntennaNote",
    "Box",
    "Kit",
    "Radio",
    "Tuner",
    "as_kit",
    "as_pieces",
    "assumed_in_short",
    "describe_fold_back",
    "describe_tuner",
    "list_assumptions",
    "read_kit",
    "resolve_antenna",
]
