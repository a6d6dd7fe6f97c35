"""Groups of options that commands share: a parameter of a group's type stands for all options of the group."""

from __future__ import annotations

import functools
from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import MISSING, Field, dataclass, fields
from functools import partial
from inspect import Parameter, signature
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, TypeVar, get_type_hints

from sweepkit.cli import options, reporting
from sweepkit.cli.exits import with_exit_code
from sweepkit.cli.options import flag, option
from sweepkit.errors import BadInput

if TYPE_CHECKING:
    from sweepkit.antennas.rungs import Rung
    from sweepkit.cli.exits import Exit
    from sweepkit.kit import Kit
    from sweepkit.lines import LinePiece
    from sweepkit.report.provenance import Made
    from sweepkit.reviews import CheckSweeps
    from sweepkit.sweep import Place, Sweep

Command = TypeVar("Command", bound="Callable[..., Exit]")


class OptionGroup:
    """A frozen dataclass whose fields are options, or groups of them."""


def command(function: Callable[..., Exit]) -> Callable[..., None]:
    """A function as a command: its groups spread, its exit code the process's."""
    return with_exit_code(with_groups(function))


def with_groups(command: Command) -> Command:
    """The command as typer is to see it: each group's options in the group's place."""
    hints = get_type_hints(command, include_extras=True)
    own = signature(command).parameters.values()
    spread = [each for one in own for each in _spread(one.name, hints[one.name], one.default)]

    @functools.wraps(command)
    def run(**given: Any) -> Any:
        return command(**{one.name: _made(one.name, hints[one.name], given) for one in own})

    run.__signature__ = signature(command).replace(parameters=spread)  # type: ignore[attr-defined]
    run.__annotations__ = {each.name: each.annotation for each in spread}
    return run  # type: ignore[return-value]


def _is_group(kind: Any) -> bool:
    return isinstance(kind, type) and issubclass(kind, OptionGroup)


def _made(name: str, kind: Any, given: dict[str, Any]) -> Any:
    """What was given of this name; of a group an instance of it."""
    if not _is_group(kind):
        return given[name]
    hints = get_type_hints(kind)
    return kind(**{part.name: _made(part.name, hints[part.name], given) for part in fields(kind)})


def _spread(name: str, kind: Any, default: Any) -> Iterator[Parameter]:
    """The parameter itself, or those of its group; by keyword, since the order has no meaning."""
    if _is_group(kind):
        hints = get_type_hints(kind, include_extras=True)
        for part in fields(kind):
            told = part if part.metadata else part.default
            yield from _spread(part.name, hints[part.name], told)
        return
    if isinstance(default, Field):  # it has its option; a parameter of typer has it as a part of its type
        kind, default = Annotated[kind, default.metadata["typer"]], default.default
    empty = default is MISSING
    yield Parameter(
        name, Parameter.KEYWORD_ONLY, default=Parameter.empty if empty else default, annotation=kind
    )


@dataclass(frozen=True, kw_only=True)
class Reading(OptionGroup):
    """How a file is read that does not say it itself."""

    columns: str | None = option("--columns", "What each column holds, such as f,r,x.", "ROLES")
    unit: str | None = option("--unit", "Unit of the frequencies.", "Hz|kHz|MHz|GHz")
    decimal: str | None = option("--decimal", "Decimal mark in the file.", "comma|point")
    reference_ohm: float | None = option(
        "--reference-ohm", "Reference resistance, where the file states none.", "OHM", limit="reference_ohm"
    )
    trace: str | None = option(
        "--trace", "Which of several reflections: s22, or words of its column.", "WORDS"
    )
    recover_sign: bool = flag(
        "--recover-sign", "Find the sign of the reactance where the sweep itself tells it."
    )

    def told(self) -> dict[str, Any]:
        """What was given."""
        return {name: value for name, value in vars(self).items() if value is not None and value is not False}

    def hints(self, gear: Kit) -> dict[str, Any]:
        """For the readers, with what the kit knows of the analyzer where it is needed."""
        return self.told() | {"if_needed": gear.analyzer.hints}


@dataclass(frozen=True, kw_only=True)
class Gear(OptionGroup):
    """The operator's gear, and where the sweep was measured."""

    kit: options.Kit = None
    line: options.Lines = None
    measured_at: str | None = option(
        "--measured-at", "Where the analyzer was: radio or feedpoint.", "radio|feedpoint"
    )

    def line_and_place(self, gear: Kit) -> tuple[tuple[LinePiece, ...] | None, Place]:
        """As the options say; nothing is taken over from anywhere else."""

        return resolve_lines(self.line, gear), measured_place(self.measured_at)


@dataclass(frozen=True, kw_only=True)
class Drawn(OptionGroup):
    """The ensemble behind the intervals."""

    draws: int = option(
        "--draws",
        "Believable sweeps drawn for the intervals; 0: nominal values only.",
        "N",
        default=1000,
        limit="draws",
    )
    seed: int = option("--seed", "Same seed, same answer.", "N", default=0, limit="seed")

    def both(self) -> dict[str, Any]:
        """As arguments."""
        return {"draws": self.draws, "seed": self.seed}

    def made(self, kit: Path | None) -> Made:
        """How this run came about."""
        return reporting.made_now(kit=kit, draws=self.draws, seed=self.seed)


@dataclass(frozen=True, kw_only=True)
class Output(OptionGroup):
    """Where an answer goes, and how much of it."""

    report: Path | None = option("--report", "Write a page: HTML or Markdown.", "FILE")
    force: options.Force = False
    as_json: options.Json = False
    explain: bool = flag("--explain", "Say all: every figure, and where it comes from.")

    def check(self, inputs: Sequence[Path]) -> None:
        """Refuse a report that cannot be written, before the work is done."""
        if self.report is not None:
            reporting.check_report(self.report, inputs, force=self.force)


@dataclass(frozen=True, kw_only=True)
class Between(OptionGroup):
    """What lies between two sweeps."""

    kept: bool = flag("--kept", "Nothing was taken down or apart between the sweeps.")
    rejoined: bool = flag("--rejoined", "It kept standing; pieces were taken apart and joined anew.")
    put_up_again: bool = flag("--put-up-again", "It was taken down and put up again at the same site.")
    same_site: bool = flag("--same-site", "All are from one site; it may have been put up again.")

    def rung(self) -> Rung | None:
        """As one step of the ladder; contradictions are refused."""

        given: dict[str, Rung] = {}
        given |= {"--kept": "swept-again"} if self.kept else {}
        given |= {"--rejoined": "joined-anew"} if self.rejoined else {}
        given |= {"--put-up-again": "put-up-again"} if self.put_up_again else {}
        if len(given) > 1:
            raise BadInput(f"{' and '.join(given)} say different things of the same sweeps; give one of them")
        return next(iter(given.values()), "put-up-again" if self.same_site else None)


@dataclass(frozen=True, kw_only=True)
class TestMade(OptionGroup):
    """The one test that an answer asked for."""

    test: str | None = option("--test", "Code of the test that was made next, as an answer named it.", "CODE")
    test_sweep: Path | None = option("--test-sweep", "The sweep of that test.", "FILE")

    def check(self, codes: Collection[str]) -> None:
        """Refuse a code that is none of these, and a code or a sweep alone."""
        from sweepkit.next_tests import check_told_test

        check_told_test(self.test, has_sweep=self.test_sweep is not None, known=codes)

    def read(self, **hints: Any) -> tuple[str, Sweep] | None:
        """Code and sweep, where one was made."""
        from sweepkit.cli.files import read_named

        if self.test is None or self.test_sweep is None:
            return None
        return self.test, read_named(self.test_sweep, **hints)

    @property
    def inputs(self) -> list[Path]:
        """Its file."""
        return [] if self.test_sweep is None else [self.test_sweep]


def resolve_lines(specs: list[str] | None, kit: Kit) -> tuple[LinePiece, ...] | None:
    """The line of the options, in order from the radio; nothing where none was told."""
    if not specs:
        return None
    from sweepkit.kit.choosing import resolve_pieces

    return resolve_pieces(specs, kit.lines)


def measured_place(text: str | None) -> Place:
    """The plane of ``--measured-at``."""
    if text is None:
        return "unknown"
    if text == "radio":
        return "radio"
    if text == "feedpoint":
        return "feedpoint"
    raise BadInput(f"--measured-at is {text!r}; it is radio or feedpoint")


@dataclass(frozen=True, kw_only=True)
class Checks(OptionGroup):
    """Sweeps of the analyzer's own standards."""

    check_load: Path | None = option("--check-load", "The analyzer's load, swept after calibration.", "FILE")
    check_open: Path | None = option("--check-open", "Its open, swept likewise.", "FILE")
    check_short: Path | None = option("--check-short", "Its short, swept likewise.", "FILE")

    @property
    def inputs(self) -> tuple[Path, ...]:
        """Files that are read, never written over."""
        return tuple(path for path in vars(self).values() if path is not None)

    def read(self, gear: Kit) -> CheckSweeps | None:
        """Those that were named."""
        if not any(vars(self).values()):
            return None
        from sweepkit.readers import read_sweep
        from sweepkit.reviews import CheckSweeps

        read = partial(read_sweep, if_needed=gear.analyzer.hints)
        named = {name.removeprefix("check_"): path for name, path in vars(self).items()}
        return CheckSweeps(**{name: None if path is None else read(path) for name, path in named.items()})
