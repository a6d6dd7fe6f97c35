"""Everything that can be told of gear, an antenna, a setup or a sweep: one row per fact, with its kind and meaning.

Unknown is a fact that is not there. From this table follow analyzer, radio, tuner and antennas of kit.toml, what
``kit new`` writes, ``setup.toml``, ``--set``, the options of the same names, the checks of an import, and the tables in
docs/kit.md and docs/logbook.md.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

from sweepkit.errors import BadInput

Level = Literal["setup", "sweep"]
Kind = Literal[
    "text", "texts", "word", "words", "count", "number", "length", "lengths", "change", "frequency", "inductance",
    "legs", "temperature", "when", "grid", "ratio", "numbers", "pair", "rows", "frequencies",
]  # fmt: skip
Owner = Literal["antenna", "analyzer", "radio", "tuner"]
Carried = Literal["always", "same site", "never"]

KINDS = (
    "dipole",
    "inverted-vee",
    "vertical",
    "loaded-whip",
    "end-fed",
    "loop",
    "random-wire",
    "fan",
    "linked",
    "trap",
)
SETUP_FILE = "setup.toml"  # holds the facts of the sweeps beside it
GROUND_WORDS = ("sea", "wet", "average", "dry", "rock", "sand", "snow", "concrete", "roof", "vehicle")
WEATHER_WORDS = ("dry", "damp", "wet", "rain", "frost", "ice", "snow", "calm", "wind", "hot", "cold")

LIMIT_OF: dict[Kind, str] = {  # the row of the table of limits that holds for each kind of number
    "count": "radials", "length": "size_m", "change": "change_m", "frequency": "f_hz", "inductance": "coil_h",
    "temperature": "temperature_c", "ratio": "transformer",
}  # fmt: skip


@dataclass(frozen=True)
class Fact:
    """One fact.

    ``key``: its word in kit.toml, ``setup.toml`` and after ``--set``; with dashes its option.
    ``name``: in Python, in the file, in JSON and in CSV; carries the unit.
    ``level``: whether all sweeps of a setup share it; ``None`` where the logbook does not keep it.
    ``kind``: how it is written and checked.
    ``carried``: whether the last setup of the same antenna gives the default.
    ``meaning``: for people.
    ``words``: the words allowed, for the kinds ``word`` and ``words``.
    ``first_only``: belongs to the first of several files added together: it happened before that sweep.
    ``in_kit``: an example as kit.toml has it; empty where a kit does not know it.
    ``told_as``: the kind in a kit and as an option, where the logbook keeps it as another.
    ``limit``: its row in ``limits`` there, where that is another than its kind's.
    ``remark``: said beside that limit.
    ``of``: the table of a kit that has it.
    """

    key: str
    name: str
    level: Level | None
    kind: Kind
    carried: Carried
    meaning: str
    words: tuple[str, ...] = ()
    first_only: bool = False
    in_kit: str = ""
    told_as: Kind | None = None
    limit: str = ""
    remark: str = ""
    of: Owner = "antenna"

    @property
    def kit_kind(self) -> Kind:
        """How it is told in a kit and as an option."""
        return self.told_as or self.kind

    @property
    def kit_limit(self) -> str:
        """Its row in ``limits`` there; empty for what is no number."""
        return self.limit or LIMIT_OF.get(self.kit_kind, "")


SHARE = "as a share of full reflection"


def _gear(of: Owner, key: str, kind: Kind, in_kit: str, meaning: str, *, name: str = "", **more: Any) -> Fact:
    """A fact that only a kit keeps."""
    return Fact(key, name or key, None, kind, "never", meaning, in_kit=in_kit, of=of, **more)


FACTS = (
    Fact("antenna", "antenna", "setup", "text", "never", "the operator's own name of the antenna"),
    Fact("site", "site", "setup", "text", "never", "the operator's own name of the place"),
    Fact("grid", "grid", "setup", "grid", "same site", "locator square, four characters"),
    Fact("kind", "kind", "setup", "word", "always", "kind of antenna", KINDS, in_kit='"dipole"'),
    Fact("parts", "parts", "setup", "texts", "always", "wire, whip, coil, transformer: own names"),
    Fact("line", "line", "setup", "texts", "always", "pieces of line in order from the radio",
         in_kit='"spool"'),
    Fact("line_lay", "line_lay", "setup", "text", "same site", "how the line lies"),
    Fact("choke", "choke", "setup", "text", "always", "common-mode choke and its place",
         in_kit='"mine"'),
    Fact("choke_at", "choke_at", "setup", "text", "always", "how far down the coax the choke sits, or none",
         in_kit='"0 m"'),
    Fact("wire", "wire", "setup", "text", "always", "bare, insulated, or how thick: 1 mm, or 1 mm in 2.2 mm",
         in_kit='"1 mm in 2.2 mm"'),
    Fact("form", "form", "setup", "text", "always", "flat, vee, sloper, vertical, inverted L, ..."),
    Fact("feed_height", "feed_height_m", "setup", "length", "same site", "height of the feedpoint"),
    Fact("apex_height", "apex_height_m", "setup", "length", "same site", "height of the highest point"),
    Fact("end_height", "end_height_m", "setup", "length", "same site", "height of the ends"),
    Fact("direction", "direction", "setup", "text", "same site", "which way it points or runs"),
    Fact("coil", "coil_h", "setup", "inductance", "always", "inductance of the loading coil",
         in_kit='"11.3 uH"'),
    Fact("transformer", "transformer", "setup", "ratio", "always",
          "impedance ratio of the box at the feedpoint, such as 49:1", in_kit='"49:1"'),
    Fact("tap", "tap", "setup", "text", "always", "tap or turns in use", in_kit="24",
         told_as="number", limit="turns"),
    Fact("turns", "turns", None, "number", "never", "turns that the coil has", in_kit="40",
         limit="turns"),
    Fact("tap_step", "tap_step", None, "number", "never", "turns from tap to tap; 1 unless told", in_kit="1",
         limit="tap_step"),
    Fact("coil_diameter", "coil_diameter_m", None, "length", "never", "of the coil, wire middle to middle",
         in_kit='"60 mm"', limit="length_m"),
    Fact("coil_pitch", "coil_pitch_m", None, "length", "never", "from turn to turn, middle to middle",
         in_kit='"4 mm"', limit="length_m"),
    Fact("whip_range", "whip_range_m", None, "lengths", "never", "shortest and longest whip",
         in_kit='["1.8 m", "4.0 m"]'),
    Fact("radials", "radials", "setup", "count", "always", "how many radials", in_kit="4"),
    Fact("radial_length", "radial_length_m", "setup", "length", "always", "length of each radial",
         in_kit='"5 m"', limit="length_m"),
    Fact("radial_height", "radial_height_m", "setup", "length", "always", "their height; 0 m on the ground",
         in_kit='"0 m"'),
    Fact("counterpoise", "counterpoise_m", "setup", "length", "always", "length of the counterpoise",
         in_kit='"5 m"', limit="length_m"),
    Fact("counterpoise_height", "counterpoise_height_m", "setup", "length", "same site", "its height"),
    Fact("ground", "ground", "setup", "word", "same site", "what is under the antenna", GROUND_WORDS),
    Fact("weather", "weather", "setup", "words", "never", "weather, one or more words", WEATHER_WORDS),
    Fact("temperature", "temperature_c", "setup", "temperature", "never", "air temperature"),
    Fact("near", "near", "setup", "text", "same site", "trees, metal, fences, other antennas near by"),
    Fact("analyzer", "analyzer", "setup", "text", "always", "the operator's own name of the analyzer"),
    Fact("calibration", "calibration", "setup", "text", "never", "when and where it was calibrated"),
    Fact("calibrated", "calibrated", "setup", "text", "never",
          "own name of the calibration; sweeps with the same name share it"),
    Fact("operator", "operator", "setup", "text", "never", "who put it up and swept it"),
    Fact("piece", "piece", "setup", "text", "never", "piece of line swept by itself: own name"),
    Fact("setup_minutes", "setup_minutes", "setup", "count", "never", "minutes it took to put it up"),
    Fact("use", "use", "setup", "text", "never", "what it was used for: band, power, tuner, results"),
    Fact("note", "note", "setup", "text", "never", "anything else about the setup"),
    Fact("when", "when", "sweep", "when", "never", "when it was swept, with zone"),
    Fact("measured_at", "measured_at", "sweep", "word", "always", "connector the numbers are true at",
          ("radio", "feedpoint")),
    Fact("end", "end", "sweep", "word", "never", "far end of a piece swept by itself", ("open", "short")),
    Fact("length", "length_m", "sweep", "length", "always", "feed to turning point, each part",
         in_kit='"10.2 m"', limit="length_m"),
    Fact("lengths", "lengths", "sweep", "legs", "always",
          "one leg for each place: 40 m=10.61 m, 20 m=5.36 m", in_kit='{"40 m" = "10.61 m"}'),
    Fact("places", "places", None, "texts", "never", "bands that it is to serve", in_kit='["40 m", "20 m"]'),
    Fact("weights", "weights", None, "number", "never", "how much each of them matters", in_kit='{"40 m" = 3}'),
    Fact("tail", "tail_m", "sweep", "length", "always", "folded tail each part carries"),
    Fact("by", "by", "sweep", "word", "never", "how the length was changed since the sweep before",
          ("fold", "cut", "slide", "add"), first_only=True),
    Fact("change", "change_m", "sweep", "change", "never", "by how much, each part; negative shortens",
          first_only=True),
    Fact("changed", "changed", "sweep", "text", "never", "anything else changed since the sweep before",
          first_only=True),
    Fact("since", "since", "sweep", "word", "never", "what was done since the sweep before, nothing else",
          ("kept", "rejoined", "put-up-again"), first_only=True),
    Fact("predicted", "predicted_hz", "sweep", "frequency", "never", "dip that was predicted",
          first_only=True),
    Fact("predicted_low", "predicted_low_hz", "sweep", "frequency", "never", "lower end of the prediction",
          first_only=True),
    Fact("predicted_high", "predicted_high_hz", "sweep", "frequency", "never", "upper end of the prediction",
          first_only=True),
    Fact("sweep_note", "sweep_note", "sweep", "text", "never", "anything else about this sweep"),
    Fact("set_aside", "set_aside", "sweep", "text", "never", "why this sweep is not to be compared"),
    _gear("analyzer", "directivity_db", "number", "40", "after calibration, rms", limit="directivity_db",
          remark="the error is that far below"),
    _gear("analyzer", "noise", "number", "0.002", "rms of the noise", limit="noise", remark=SHARE),
    _gear("analyzer", "points", "numbers", "[101, 201]", "numbers of points it can sweep", limit="points"),
    _gear("analyzer", "spans", "frequencies", '"1 MHz"', "widths it can sweep", name="spans_hz"),
    _gear("analyzer", "tracking", "number", "0.01", "rms of its reflection tracking error", limit="noise",
          remark=SHARE),
    _gear("analyzer", "source_match_db", "number", "30", "effective, rms", limit="directivity_db",
          remark="the error is that far below"),
    _gear("analyzer", "columns", "text", '"f,r,x"', "what each column of its files holds"),
    _gear("analyzer", "unit", "word", '"MHz"', "unit of the frequencies in its files",
          words=("Hz", "kHz", "MHz", "GHz")),
    _gear("analyzer", "decimal", "word", '"comma"', "decimal mark in its files", words=("comma", "point")),
    _gear("analyzer", "reference_ohm", "number", "50", "reference resistance of its files",
          limit="reference_ohm"),
    _gear("radio", "power_w", "number", "50", "full power", limit="power_w"),
    _gear("radio", "z0_ohm", "number", "50", "load it is made for", limit="reference_ohm"),
    _gear("radio", "power_at_swr", "rows", "[[1.5, 1.0], [2.0, 0.75], [3.0, 0.4]]",
          "SWR, share of the power it still gives"),
    _gear("radio", "direct_swr", "number", "2.0", "without a tuner up to here", limit="swr"),
    _gear("radio", "power_at_volts", "rows", "[[13.8, 1.0], [11.5, 0.8]]",
          "supply voltage, share of the power it gives there"),
    _gear("tuner", "max_swr", "number", "3.0", "highest SWR that it matches", limit="swr"),
    _gear("tuner", "r_ohm", "pair", "[16, 150]", "resistances that it matches"),
    _gear("tuner", "x_ohm", "pair", "[-100, 100]", "reactances that it matches"),
    _gear("tuner", "loss_db", "number", "0.3", "what it loses at an easy match", limit="tuner_loss_db",
          remark="a loss is positive"),
    _gear("tuner", "coil_q", "number", "100", "quality factor of its coil", limit="coil_q"),
)  # fmt: skip

LOGGED = tuple(fact for fact in FACTS if fact.level)
IN_KIT: dict[Owner, tuple[Fact, ...]] = {
    of: tuple(fact for fact in FACTS if fact.in_kit and fact.of == of)
    for of in ("antenna", "analyzer", "radio", "tuner")
}
CHANGED = ("by", "change_m", "changed")  # facts of a sweep that begin a new state of its setup
BY_KEY = {fact.key: fact for fact in LOGGED}
BY_NAME = {fact.name: fact for fact in LOGGED}


def fact_of(key: str) -> Fact:
    """The fact a person means by the word after ``--set`` or in ``setup.toml``, else a ``BadInput``."""
    fact = BY_KEY.get(key.strip().replace("-", "_"))
    if fact is None:
        from difflib import get_close_matches  # only when something is wrong

        near = get_close_matches(key, BY_KEY, n=1)
        others = ", ".join([*near, *(other for other in BY_KEY if other not in near)])
        raise BadInput(f"the logbook has no field {key[:60]!r}; one of these was expected: {others}")
    return fact
