"""Groups of options that commands share: a parameter of a group's type stands for all options of the group."""

from __future__ import annotations

import functools
from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass, fields
from functools import partial
from inspect import Parameter, signature
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, TypeVar, get_type_hints

import typer

from sweepkit.cli import options, reporting
from sweepkit.errors import BadInput

if TYPE_CHECKING:
    from sweepkit.antennas.rungs import Rung
    from sweepkit.cli.exits import Exit
    from sweepkit.kit import Kit
    from sweepkit.kit import Kit as KitFile
    from sweepkit.lines import LinePiece
    from sweepkit.report.provenance import Made
    from sweepkit.reviews import CheckSweeps
    from sweepkit.sweep import Place, Sweep

Command = TypeVar("Command", bound="Callable[..., Exit]")


class OptionGroup:
    """A frozen dataclass whose fields are options."""


def with_groups(command: Command) -> Command:
    """The command as typer is to see it: each group's options in the group's place."""
    hints = get_type_hints(command, include_extras=True)
    groups = {name: kind for name, kind in hints.items() if _is_group(kind)}
    spread = [each for own in signature(command).parameters.values() for each in _spread(own, hints)]

    @functools.wraps(command)
    def run(**given: Any) -> Any:
        for name, kind in groups.items():
            given[name] = kind(**{field.name: given.pop(field.name) for field in fields(kind)})
        return command(**given)

    run.__signature__ = signature(command).replace(parameters=spread)  # type: ignore[attr-defined]
    run.__annotations__ = {each.name: each.annotation for each in spread}
    return run  # type: ignore[return-value]


def _is_group(kind: Any) -> bool:
    return isinstance(kind, type) and issubclass(kind, OptionGroup)


def _spread(own: Parameter, hints: dict[str, Any]) -> Iterator[Parameter]:
    """The parameter itself, or those of its group; by keyword, since the order has no meaning."""
    kind = hints[own.name]
    if not _is_group(kind):
        yield own.replace(annotation=kind, kind=Parameter.KEYWORD_ONLY)
        return
    of_group = get_type_hints(kind, include_extras=True)
    for field in fields(kind):
        default = field.default
        yield Parameter(field.name, Parameter.KEYWORD_ONLY, default=default, annotation=of_group[field.name])


@dataclass(frozen=True, kw_only=True)
class Reading(OptionGroup):
    """How a file is read that does not say it itself."""

    columns: options.Columns = None
    unit: options.Unit = None
    decimal: options.Decimal = None
    reference_ohm: options.ReferenceOhm = None
    trace: options.Trace = None
    recover_sign: options.RecoverSign = False

    def told(self) -> dict[str, Any]:
        """What was given."""
        return {name: value for name, value in vars(self).items() if value is not None and value is not False}

    def hints(self, gear: KitFile) -> dict[str, Any]:
        """For the readers, with what the kit knows of the analyzer where it is needed."""
        return self.told() | {"if_needed": gear.analyzer.hints}


@dataclass(frozen=True, kw_only=True)
class Gear(OptionGroup):
    """The operator's gear, and where the sweep was measured."""

    kit: options.Kit = None
    line: options.Lines = None
    measured_at: options.MeasuredAt = None

    def line_and_place(self, gear: KitFile) -> tuple[tuple[LinePiece, ...] | None, Place]:
        """As the options say; nothing is taken over from anywhere else."""

        return resolve_lines(self.line, gear), measured_place(self.measured_at)


@dataclass(frozen=True, kw_only=True)
class Drawn(OptionGroup):
    """The ensemble behind the intervals."""

    draws: options.Draws = 1000
    seed: options.Seed = 0

    def both(self) -> dict[str, Any]:
        """As arguments."""
        return {"draws": self.draws, "seed": self.seed}

    def made(self, kit: Path | None) -> Made:
        """How this run came about."""
        return reporting.made_now(kit=kit, draws=self.draws, seed=self.seed)


@dataclass(frozen=True, kw_only=True)
class Output(OptionGroup):
    """Where an answer goes, and how much of it."""

    report: reporting.Report = None
    force: options.Force = False
    as_json: options.Json = False
    explain: options.Explain = False

    def check(self, inputs: Sequence[Path]) -> None:
        """Refuse a report that cannot be written, before the work is done."""
        if self.report is not None:
            reporting.check_report(self.report, inputs, force=self.force)


@dataclass(frozen=True, kw_only=True)
class Between(OptionGroup):
    """What lies between two sweeps."""

    kept: options.Kept = False
    rejoined: options.Rejoined = False
    put_up_again: options.PutUpAgain = False
    same_site: options.SameSite = False

    def rung(self) -> Rung | None:
        """As one step of the ladder; contradictions are refused."""
        from sweepkit.errors import BadInput

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

    test: options.Test = None
    test_sweep: options.TestSweep = None

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


def read_gear(path: Path | None) -> Kit:
    """The kit of the file, or the stated defaults."""
    from sweepkit.kit import Kit, read_kit

    return Kit() if path is None else read_kit(path)


def resolve_lines(specs: list[str] | None, kit: Kit) -> tuple[LinePiece, ...] | None:
    """The line of the options, in order from the radio; nothing where none was told."""
    if not specs:
        return None
    from sweepkit.kit.choosing import resolve_pieces

    return resolve_pieces(specs, kit.lines)


def measured_place(text: str | None) -> Place:
    """The plane of ``--measured-at``.

    Raises ``BadInput``: another word than radio or feedpoint.
    """
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

    check_load: Annotated[
        Path | None,
        typer.Option("--check-load", help="The analyzer's load, swept after calibration.", metavar="FILE"),
    ] = None
    check_open: Annotated[
        Path | None, typer.Option("--check-open", help="Its open, swept likewise.", metavar="FILE")
    ] = None
    check_short: Annotated[
        Path | None, typer.Option("--check-short", help="Its short, swept likewise.", metavar="FILE")
    ] = None

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
