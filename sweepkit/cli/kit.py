"""``sweepkit kit``: begin a kit.toml by options or by asking, check one, try what another value would change."""

from __future__ import annotations

import shutil
import sys
import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from sweepkit.cli import options
from sweepkit.cli.exits import Exit
from sweepkit.cli.help import list_of
from sweepkit.cli.option_groups import Gear, command
from sweepkit.cli.options import argument, option, shared
from sweepkit.errors import BadInput
from sweepkit.saving import check_target, save_bytes
from sweepkit.visible import visible

if TYPE_CHECKING:
    from sweepkit.kit import Kit
    from sweepkit.kit.antenna import AntennaNote
    from sweepkit.lines import LinePiece

Power = Annotated[str | None, shared("--power", 'Full power of the radio, such as "10 W".', "POWER")]
DirectSwr = Annotated[float | None, shared("--direct-swr", "SWR up to which no tuner is needed.", "X")]
TunerSwr = Annotated[float | None, shared("--tuner-swr", "SWR that the tuner matches; 1: no tuner.", "X")]


@command
def attempt(
    *,
    file: Path = argument("FILE", "A sweep."),
    gear: Gear,
    power: Power = None,
    direct_swr: DirectSwr = None,
    tuner_swr: TunerSwr = None,
    region: options.Region = None,
) -> Exit:
    """Show what another radio, tuner or region would change for a sweep, band by band; the kit stays as it is."""
    from sweepkit.cli.files import read_named
    from sweepkit.kit import as_kit
    from sweepkit.kit.assumptions import list_changes, with_changes
    from sweepkit.report.headline import changes_in_bands
    from sweepkit.reviews import review

    if power is None and direct_swr is None and tuner_swr is None and region is None:
        raise BadInput("nothing to try; tell at least one of --power, --direct-swr, --tuner-swr and --region")
    before = as_kit(gear.kit)
    after = with_changes(
        before,
        power_w=None if power is None else watts(power),
        direct_swr=direct_swr,
        tuner_swr=tuner_swr,
        region=region,
    )
    sweep = read_named(file, if_needed=before.analyzer.hints)
    pieces, place = gear.line_and_place(before)
    answers = [review(sweep, kit=each, lines=pieces, measured_at=place) for each in (before, after)]
    lines = [
        *(list_changes(before, after) or ["nothing in the kit changes"]),
        "",
        *changes_in_bands(*answers),
    ]
    width = shutil.get_terminal_size(fallback=(72, 24)).columns
    for each in lines:
        print("\n".join(textwrap.wrap(visible(each), width, subsequent_indent="  ")))
    return Exit.DONE


def number(text: str) -> float | None:
    """A number; nothing for an empty answer."""
    if not text:
        return None
    try:
        return float(text)
    except ValueError:
        raise BadInput(f"{text!r} is no number; write one like 2.0") from None


def watts(text: str) -> float:
    """A power with its unit. [W]"""
    digits, _, unit = text.strip().partition(" ")
    if not unit and digits[-1:].upper() == "W":
        digits, unit = digits[:-1], "W"
    value = number(digits) if unit.strip().upper() == "W" else None
    if value is None:
        raise BadInput(f'--power is {text!r}; a power with its unit was expected; write it like "10 W"')
    return value


@command
def new(
    output: Path = option("-o --output", "The kit.toml to write.", "FILE", default=Path("kit.toml")),
    region: options.Region = None,
    power: Power = None,
    direct_swr: DirectSwr = None,
    tuner_swr: TunerSwr = None,
    points: list[int] | None = option("--points", "Points the analyzer can sweep; repeat.", "N"),
    line: list[str] | None = option("--line", 'A line, "spool=RG-58 15 m"; repeat.', "NAME=SPEC"),
    antenna: list[str] | None = option(
        "--antenna", 'An antenna, "ridge=dipole 10.2 m"; repeat.', "NAME=KIND LEN"
    ),
    force: options.Force = False,
) -> Exit:
    """Write a kit.toml with remarks; without options each thing is asked for."""
    from sweepkit.kit.new_kit import NewKit, named

    check_target(output, force=force, inputs=())
    told: dict[str, Any] = {
        "region": region,
        "power": power,
        "direct_swr": direct_swr,
        "tuner_swr": tuner_swr,
        "points": points,
        "line": line,
        "antenna": antenna,
    }
    if not any(told.values()):
        told = _asked()
    antennas = named(told["antenna"] or [], "--antenna", '"ridge=dipole 10.2 m"')
    made = NewKit(
        region=told["region"],
        power_w=None if told["power"] is None else watts(told["power"]),
        direct_swr=told["direct_swr"],
        tuner_swr=told["tuner_swr"],
        points=told["points"] or (),
        lines=named(told["line"] or [], "--line", '"spool=RG-58 15 m"'),
        antennas={name: _kind_and_length(text) for name, text in antennas.items()},
    )
    text = made.text()
    _checked(text)
    save_bytes(output, text.encode("utf-8"), force=force, inputs=())
    print(f"{output} is written; use it with --kit {output}, look at it with: sweepkit kit check {output}")
    return Exit.DONE


@command
def check(file: Path = argument("FILE", "A kit.toml.")) -> Exit:
    """Read a kit.toml and say what it tells and what its defaults are."""
    from sweepkit.cli.log_shown import wrapped
    from sweepkit.kit import read_kit

    print(wrapped("\n".join(visible(line) for line in _said(read_kit(file)))))
    return Exit.DONE


def _said(gear: Kit) -> list[str]:
    from sweepkit.kit import describe_fold_back, describe_tuner, list_assumptions

    radio = gear.radio
    lines = [
        f"region: {gear.region or 'not told'}",
        f"radio: {radio.power_w:g} W, {describe_fold_back(radio)}; direct up to SWR {radio.direct_swr:g}",
        f"tuner: {describe_tuner(gear.tuner)}",
        *(f"line {name}: {_kind_of_line(line)}, {line.length_m:.2f} m" for name, line in gear.lines.items()),
        *(f"antenna {name}: {one.kind}{_length(one)}" for name, one in gear.antennas.items()),
    ]
    assumed = list_assumptions(gear)
    return [*lines, *(["Not told, so assumed:", *(f"  {phrase}" for phrase in assumed)] if assumed else [])]


def _length(antenna: AntennaNote) -> str:
    places = "".join(f", {length_m:.2f} m for {place}" for place, length_m in antenna.lengths_m.items())
    return places if antenna.length_m is None else f", {antenna.length_m:.2f} m{places}"


def _kind_of_line(line: LinePiece) -> str:
    """Its type, else the constants that were given in place of one."""
    return line.type or f"{line.z0_ohm:g} ohm, velocity factor {line.velocity_factor:.3g}"


def _checked(text: str) -> None:
    """What is about to be written must read back."""
    import tempfile

    from sweepkit.kit import read_kit

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "kit.toml"
        path.write_text(text, encoding="utf-8")
        try:
            read_kit(path)
        except BadInput as error:
            raise BadInput(error.text) from error


def _asked() -> dict[str, Any]:
    """One question after another; an empty answer leaves the default."""
    if not sys.stdin.isatty():
        raise BadInput(
            "nothing was told, and without a terminal nothing can be asked; "
            'tell at least one thing, such as --power "10 W"'
        )
    region = number(_answer("ITU region of the band edges, 1, 2 or 3"))
    return {
        "region": None if region is None else int(region),
        "power": _answer("Full power of the radio, such as 10 W") or None,
        "direct_swr": number(_answer("SWR up to which no tuner is needed")),
        "tuner_swr": number(_answer("Highest SWR that the tuner matches, 1 for no tuner")),
        "points": None,
        "line": [text] if (text := _answer("A line, such as spool=RG-58 15 m")) else None,
        "antenna": [text] if (text := _answer("An antenna, such as ridge=dipole 10.2 m")) else None,
    }


def _answer(question: str) -> str:
    print(f"{question} (Enter: not told): ", end="", file=sys.stderr, flush=True)
    return sys.stdin.readline().strip()


def _kind_and_length(text: str) -> tuple[str, str]:
    kind, _, length = text.partition(" ")
    if not length.strip():
        raise BadInput(f'--antenna {text!r} has no length; write it like "ridge=dipole 10.2 m"')
    return kind, length.strip()


app = list_of(
    {"new": new, "check": check, "try": attempt},
    "Your gear in one file: begin one, check one, try another value.",
)
