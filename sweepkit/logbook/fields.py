"""Everything a logbook can say about a setup or a sweep: one row per fact, its level, kind and meaning.

Unknown is a fact that is not there. This table drives ``--set``, ``setup.toml``, the listing and the export.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sweepkit.errors import BadInput
from sweepkit.kit.antenna import KINDS

Level = Literal["setup", "sweep"]
Kind = Literal[
    "text", "texts", "word", "words", "count", "length", "change", "frequency", "inductance",
    "temperature", "when", "grid", "ratio",
]  # fmt: skip
Carried = Literal["always", "same site", "never"]

GROUND_WORDS = ("sea", "wet", "average", "dry", "rock", "sand", "snow", "concrete", "roof", "vehicle")
WEATHER_WORDS = ("dry", "damp", "wet", "rain", "frost", "ice", "snow", "calm", "wind", "hot", "cold")


@dataclass(frozen=True)
class Field:
    """One fact."""

    key: str  # word after --set and in setup.toml
    name: str  # in the file, in JSON and in CSV; carries the unit
    level: Level  # whether all sweeps of a setup share it
    kind: Kind  # how it is written and checked (values.py)
    carried: Carried  # whether the last setup of the same antenna gives the default
    meaning: str  # for people
    words: tuple[str, ...] = ()  # those allowed, for the kinds word and words
    first_only: bool = False  # of the first of several files added together: it happened before that sweep


FIELDS = (
    Field("antenna", "antenna", "setup", "text", "never", "the operator's own name of the antenna"),
    Field("site", "site", "setup", "text", "never", "the operator's own name of the place"),
    Field("grid", "grid", "setup", "grid", "same site", "locator square, four characters"),
    Field("kind", "kind", "setup", "word", "always", "kind of antenna", KINDS),
    Field("parts", "parts", "setup", "texts", "always", "wire, whip, coil, transformer: own names"),
    Field("line", "line", "setup", "texts", "always", "pieces of line in order from the radio"),
    Field("line_lay", "line_lay", "setup", "text", "same site", "how the line lies"),
    Field("choke", "choke", "setup", "text", "always", "common-mode choke and its place"),
    Field("choke_at", "choke_at", "setup", "text", "always", "how far down the coax the choke sits, or none"),
    Field("form", "form", "setup", "text", "always", "flat, vee, sloper, vertical, inverted L, ..."),
    Field("feed_height", "feed_height_m", "setup", "length", "same site", "height of the feedpoint"),
    Field("apex_height", "apex_height_m", "setup", "length", "same site", "height of the highest point"),
    Field("end_height", "end_height_m", "setup", "length", "same site", "height of the ends"),
    Field("direction", "direction", "setup", "text", "same site", "which way it points or runs"),
    Field("coil", "coil_h", "setup", "inductance", "always", "inductance of the loading coil"),
    Field("transformer", "transformer", "setup", "ratio", "always",
          "impedance ratio of the box at the feedpoint, such as 49:1"),
    Field("tap", "tap", "setup", "text", "always", "tap or turns in use"),
    Field("radials", "radials", "setup", "count", "always", "how many radials"),
    Field("radial_length", "radial_length_m", "setup", "length", "always", "length of each radial"),
    Field("radial_height", "radial_height_m", "setup", "length", "always", "their height; 0 m on the ground"),
    Field("counterpoise", "counterpoise_m", "setup", "length", "always", "length of the counterpoise"),
    Field("counterpoise_height", "counterpoise_height_m", "setup", "length", "same site", "its height"),
    Field("ground", "ground", "setup", "word", "same site", "what is under the antenna", GROUND_WORDS),
    Field("weather", "weather", "setup", "words", "never", "weather, one or more words", WEATHER_WORDS),
    Field("temperature", "temperature_c", "setup", "temperature", "never", "air temperature"),
    Field("near", "near", "setup", "text", "same site", "trees, metal, fences, other antennas near by"),
    Field("analyzer", "analyzer", "setup", "text", "always", "the operator's own name of the analyzer"),
    Field("calibration", "calibration", "setup", "text", "never", "when and where it was calibrated"),
    Field("calibrated", "calibrated", "setup", "text", "never",
          "own name of the calibration; sweeps with the same name share it"),
    Field("operator", "operator", "setup", "text", "never", "who put it up and swept it"),
    Field("piece", "piece", "setup", "text", "never", "piece of line swept by itself: own name"),
    Field("setup_minutes", "setup_minutes", "setup", "count", "never", "minutes it took to put it up"),
    Field("use", "use", "setup", "text", "never", "what it was used for: band, power, tuner, results"),
    Field("note", "note", "setup", "text", "never", "anything else about the setup"),
    Field("when", "when", "sweep", "when", "never", "when it was swept, with zone"),
    Field("measured_at", "measured_at", "sweep", "word", "always", "connector the numbers are true at",
          ("radio", "feedpoint")),
    Field("end", "end", "sweep", "word", "never", "far end of a piece swept by itself", ("open", "short")),
    Field("length", "length_m", "sweep", "length", "always", "feed to turning point, each part"),
    Field("lengths", "lengths", "sweep", "text", "always",
          "one leg for each place: 40 m=10.61 m, 20 m=5.36 m"),
    Field("tail", "tail_m", "sweep", "length", "always", "folded tail each part carries"),
    Field("by", "by", "sweep", "word", "never", "how the length was changed since the sweep before",
          ("fold", "cut", "slide", "add"), first_only=True),
    Field("change", "change_m", "sweep", "change", "never", "by how much, each part; negative shortens",
          first_only=True),
    Field("changed", "changed", "sweep", "text", "never", "anything else changed since the sweep before",
          first_only=True),
    Field("since", "since", "sweep", "word", "never", "what was done since the sweep before, nothing else",
          ("kept", "rejoined", "put-up-again"), first_only=True),
    Field("predicted", "predicted_hz", "sweep", "frequency", "never", "dip that was predicted",
          first_only=True),
    Field("predicted_low", "predicted_low_hz", "sweep", "frequency", "never", "lower end of the prediction",
          first_only=True),
    Field("predicted_high", "predicted_high_hz", "sweep", "frequency", "never", "upper end of the prediction",
          first_only=True),
    Field("sweep_note", "sweep_note", "sweep", "text", "never", "anything else about this sweep"),
    Field("set_aside", "set_aside", "sweep", "text", "never", "why this sweep is not to be compared"),
)  # fmt: skip

BY_KEY = {field.key: field for field in FIELDS}
BY_NAME = {field.name: field for field in FIELDS}


def field_of(key: str) -> Field:
    """The field a person means by a word after ``--set`` or in ``setup.toml``."""
    field = BY_KEY.get(key.strip().replace("-", "_"))
    if field is None:
        from difflib import get_close_matches  # only when something is wrong

        near = get_close_matches(key, BY_KEY, n=1)
        others = ", ".join([*near, *(other for other in BY_KEY if other not in near)])
        raise BadInput(f"the logbook has no field {key[:60]!r}; one of these was expected: {others}")
    return field
