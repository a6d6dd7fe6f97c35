"""The text of a kit.toml that is begun: what was told, and the rest as remarks that say what stands in for it."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sweepkit.errors import BadInput
from sweepkit.facts import IN_KIT, Owner
from sweepkit.kit.gear import Kit
from sweepkit.lines import parse_piece

USUAL = Kit()


@dataclass(frozen=True)
class NewKit:
    """What the operator told; ``None`` and empty for what was not."""

    region: int | None = None
    power_w: float | None = None
    direct_swr: float | None = None
    tuner_swr: float | None = None  # 1 for no tuner
    points: Sequence[int] = ()  # that the analyzer can sweep
    lines: Mapping[str, str] | None = None  # name and line, such as "RG-58 15 m"
    antennas: Mapping[str, tuple[str, str]] | None = None  # name, kind and length

    def text(self) -> str:
        """The file, which reads back as what was told."""
        return "\n\n".join(["\n".join(part) for part in self._parts()]) + "\n"

    def _parts(self) -> list[list[str]]:
        radio, tuner = USUAL.radio, USUAL.tuner
        head = ["# Your gear, for sweepkit --kit. What begins with # is not told yet; its default is shown."]
        region = [_shown("region", self.region, "2", "ITU region of the band edges: 1, 2 or 3")]
        analyzer = [
            "[analyzer]",
            _row("analyzer", "points", list(self.points) or None),
            _row("analyzer", "directivity_db", None, more="; untold: 35 to 46"),
        ]
        shares = json.dumps([list(pair) for pair in radio.power_at_swr])
        transmitter = [
            "[radio]",
            _row("radio", "power_w", self.power_w, f"{radio.power_w:g}"),
            _row("radio", "direct_swr", self.direct_swr, f"{radio.direct_swr:g}"),
            _row("radio", "power_at_swr", None, shares),
        ]
        if self.tuner_swr == 1:
            matcher = ['tuner = "none"']
        else:
            usual_swr = "3" if tuner is None else f"{tuner.max_swr:g}"
            matcher = ["[tuner]", _row("tuner", "max_swr", self.tuner_swr, usual_swr)]
        parts = [head, [*region, *matcher] if self.tuner_swr == 1 else region, analyzer, transmitter]
        if self.tuner_swr != 1:
            parts.append(matcher)
        parts += [_line(name, spec) for name, spec in (self.lines or {}).items()]
        if not self.lines:
            parts.append(["# [lines.spool]", '# type = "RG-58"', '# length = "15 m"'])
        parts += [_antenna(name, *told) for name, told in (self.antennas or {}).items()]
        if not self.antennas:
            parts.append(["# [antennas.ridge]", '# kind = "dipole"', '# length = "10.2 m"'])
        return parts


def _row(table: Owner, key: str, value: object, usual: str = "", *, more: str = "") -> str:
    """A line of a table, as its fact has it."""
    fact = next(fact for fact in IN_KIT[table] if fact.key == key)
    return _shown(key, value, usual or fact.in_kit, fact.meaning + more)


def _shown(key: str, value: object, usual: str, said: str) -> str:
    if value is None:
        return f"{f'# {key} = {usual}':<31} # {said}"
    shown = f"{value:g}" if isinstance(value, float) else str(value)
    return f"{f'{key} = {shown}':<31} # {said}"


def _line(name: str, spec: str) -> list[str]:
    piece = parse_piece(spec)
    length = f"{piece.length_m:g} m"
    return [
        f"[lines.{json.dumps(name)}]",
        f"type = {json.dumps(piece.type)}",
        f"length = {json.dumps(length)}",
    ]


def _antenna(name: str, kind: str, length: str) -> list[str]:
    told = f"length = {json.dumps(length)}"
    if "=" in length:  # of several places
        pairs = (part.partition("=") for part in length.split(","))
        rows = (f"{json.dumps(place.strip())} = {json.dumps(leg.strip())}" for place, _, leg in pairs)
        told = f"lengths = {{{', '.join(rows)}}}"
    return [f"[antennas.{json.dumps(name)}]", f"kind = {json.dumps(kind)}", told]


def named(texts: Sequence[str], option: str, example: str) -> dict[str, str]:
    """``name=text`` of each, the names apart."""
    told: dict[str, str] = {}
    for text in texts:
        name, mark, rest = text.partition("=")
        if not (mark and name.strip() and rest.strip()) or name.strip() in told:
            raise BadInput(
                f"{option} {text!r}: a name of its own, = and what it is were expected, as in {example}"
            )
        told[name.strip()] = rest.strip()
    return told
