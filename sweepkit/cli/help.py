"""Help of a command: options in groups, and two examples that run from a clone; no option with one value twice."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Mapping
from typing import Any

import typer
from typer.core import TyperCommand, TyperGroup

_TOKEN = re.compile(r'(?:"[^"]*"|\S)+')  # a word of a command line, with what is quoted
ASKED, FILES, GEAR, WRITTEN, READ = "What to ask", "Files", "Gear and place", "What to write", "How to read"
GROUPS = {
    GEAR: ("kit", "line", "measured-at", "antenna", "site", "log", "region", "volts", "exact-place"),
    WRITTEN: (
        *("output", "to", "plot", "report", "csv", "csv-bands", "json", "explain", "card", "force"),
        *("units", "draws", "seed", "strict"),
    ),
    READ: ("columns", "unit", "decimal", "reference-ohm", "trace", "recover-sign"),
}
ORDER = (FILES, ASKED, GEAR, WRITTEN, READ)
SWEEP = "sample_sweeps/ridge_dipole_40m.s1p"
EXAMPLES = {  # by command, in an order in which they run
    "": (f"sweepkit review {SWEEP} --measured-at feedpoint", "sweepkit review --help"),
    "review": (
        f"sweepkit review {SWEEP} --measured-at feedpoint",
        'sweepkit review sample_sweeps/valley_dipole_rg58.s1p --line "RG-58 15 m" --card',
    ),
    "trim": (
        "sweepkit trim sample_sweeps/ridge_dipole_40m_long.s1p --kind dipole "
        '--length "10.58 m" --target "7.1 MHz" --measured-at feedpoint',
        "sweepkit trim sample_sweeps/ridge_dipole_40m_long.s1p --kind dipole "
        '--length "10.58 m" --band "40 m" --by cut --measured-at feedpoint',
    ),
    "feedline": (
        "sweepkit feedline sample_sweeps/spool_open.s1p --end open",
        "sweepkit feedline sample_sweeps/wet_line_open.s1p --end open "
        'sample_sweeps/wet_line_short.s1p --end short --type RG-58 --length "15 m"',
    ),
    "diagnose": (
        "sweepkit diagnose sample_sweeps/meadow_vertical_2.s1p --baseline sample_sweeps/meadow_vertical_1.s1p",
        "sweepkit diagnose sample_sweeps/meadow_vertical_2.s1p --kind vertical",
    ),
    "bench": (
        'sweepkit bench sample_sweeps/box_load.s1p --into "2450 ohm" sample_sweeps/box_open.s1p --into open '
        "sample_sweeps/box_short.s1p --into short --ratio 49:1 --name crag-box",
        "sweepkit bench sample_sweeps/choke_short.s1p --into short --box choke",
    ),
    "compare": (
        "sweepkit compare sample_sweeps/meadow_vertical_1.s1p sample_sweeps/meadow_vertical_2.s1p --put-up-again",
        "sweepkit compare sample_sweeps/meadow_vertical_1.s1p sample_sweeps/meadow_vertical_2.s1p --json",
    ),
    "plot": (
        f"sweepkit plot {SWEEP} -o dip.png",
        f"sweepkit plot {SWEEP} --kind smith --measured-at feedpoint -o smith.svg",
    ),
    "convert": (
        f"sweepkit convert {SWEEP} --to csv",
        f"sweepkit convert {SWEEP} --to touchstone-2 -o dipole.ts",
    ),
    "kit": (
        'sweepkit kit new -o kit.toml --power "10 W" --line "spool=RG-58 15 m"',
        "sweepkit kit check kit.toml",
    ),
    "kit new": (
        'sweepkit kit new -o kit.toml --power "10 W" --line "spool=RG-58 15 m"',
        'sweepkit kit new --region 2 --tuner-swr 3 --antenna "ridge=dipole 10.58 m"',
    ),
    "kit check": ("sweepkit kit check kit.toml", f"sweepkit review {SWEEP} --kit kit.toml"),
    "kit try": (
        "sweepkit kit try sample_sweeps/ridge_dipole_40m_long.s1p --measured-at feedpoint --tuner-swr 10",
        "sweepkit kit try sample_sweeps/ridge_dipole_40m_long.s1p --kit kit.toml --direct-swr 1.5",
    ),
    "log": (
        f"sweepkit log add {SWEEP} --site ridge --antenna dipole --measured-at feedpoint --when now",
        "sweepkit log list",
    ),
    "log add": (
        f"sweepkit log add {SWEEP} --site ridge --antenna dipole --measured-at feedpoint",
        f'sweepkit log add {SWEEP} --site ridge --antenna dipole --set "apex_height=6 m" --measured-at feedpoint',
    ),
    "log list": ("sweepkit log list", "sweepkit log list --antenna dipole"),
    "log show": ("sweepkit log show 1", "sweepkit log show S1"),
    "log edit": ('sweepkit log edit 1 --set note="rained"', "sweepkit log edit S1 --set ground=wet"),
    "log figures": ("sweepkit log figures", "sweepkit log figures --json"),
    "log export": ("sweepkit log export all-of-it", "sweepkit log export all-of-it-2 --log sweepkit.sqlite"),
    "log import": ("sweepkit log import all-of-it", "sweepkit log import all-of-it --log other.sqlite"),
    "log check": ("sweepkit log check", "sweepkit log check --log sweepkit.sqlite"),
}


def write_options(command: Any, ctx: Any, formatter: Any) -> None:
    """Arguments and options in groups, then the examples."""
    rows: dict[str, list[tuple[str, str]]] = {name: [] for name in ORDER}
    for param in sorted(command.get_params(ctx), key=_rank):
        record = param.get_help_record(ctx)
        if record is not None:
            rows[_group(param)].append(record)
    for name in ORDER:
        if rows[name]:
            with formatter.section(name):
                formatter.write_dl(rows[name], col_max=min(30, formatter.width // 3))
    write_examples(ctx, formatter)


def write_examples(ctx: Any, formatter: Any) -> None:
    """Those of a command, of a list of commands, or of all."""
    above = [ctx.parent.info_name] if ctx.parent is not None and ctx.parent.parent is not None else []
    name = "" if ctx.parent is None else " ".join([*above, ctx.info_name])
    with formatter.section("Examples"):
        for example in EXAMPLES.get(name, ()):
            for line in _broken(example, formatter.width - formatter.current_indent):
                formatter.write(f"{'':>{formatter.current_indent}}{line}\n")


def _broken(example: str, width: int) -> list[str]:
    """A command on as many lines as it takes; a shell takes them as one."""
    lines = [""]
    for word in _TOKEN.findall(example):
        if lines[-1] and len(f"{lines[-1]} {word}") > width - 2:
            lines.append("   ")
        lines[-1] = f"{lines[-1]} {word}" if lines[-1] else word
    return [f"{line} \\" for line in lines[:-1]] + lines[-1:]


def _rank(param: Any) -> int:
    """Where an option of many commands stands in its group; others stand as their command names them."""
    order = [name for group in GROUPS.values() for name in group]
    return min((order.index(name) for name in _names(param) if name in order), default=-1)


def _names(param: Any) -> set[str]:
    return {option.lstrip("-") for option in param.opts}


def _group(param: Any) -> str:
    if param.param_type_name == "argument":
        return FILES
    names = _names(param)
    return next((group for group, known in GROUPS.items() if names & set(known)), ASKED)


class OnceCommand(TyperCommand):
    """Elsewhere the last of two would win, and the first be lost without a word."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """The usual, after counting; what is wrong with an option names the command whose help tells of it."""
        try:
            given: list[Any] = list(self.make_parser(ctx).parse_args(args=list(args))[2])
        except Exception as error:
            if getattr(error, "ctx", ctx) is None:
                error.ctx = ctx  # type: ignore[attr-defined]
            raise
        for option, times in Counter(given).items():
            takes_one = option.param_type_name == "option" and not (
                getattr(option, "multiple", False) or getattr(option, "is_flag", False)
            )
            if times > 1 and takes_one:
                raise typer.BadParameter(
                    "it is given twice and takes one value; leave one out", ctx=ctx, param=option
                )
        return super().parse_args(ctx, args)

    def format_options(self, ctx: Any, formatter: Any) -> None:
        """In groups, with examples."""

        write_options(self, ctx, formatter)


class GroupWithExamples(TyperGroup):
    """A list of commands, and how one begins."""

    def format_epilog(self, ctx: Any, formatter: Any) -> None:
        """The examples."""

        write_examples(ctx, formatter)


def list_of(commands: Mapping[str, Callable[..., Any]], help: str) -> typer.Typer:
    """Commands by name as one list."""
    app = typer.Typer(
        cls=GroupWithExamples,
        help=help,
        no_args_is_help=True,
        rich_markup_mode=None,
        pretty_exceptions_enable=False,
    )
    for name, command in commands.items():
        app.command(name, cls=OnceCommand, short_help=_in_short(command))(command)
    return app


def _in_short(command: Callable[..., Any]) -> str:
    """What a list of commands says of it: all of its first paragraph, however narrow the terminal."""
    return " ".join((command.__doc__ or "").split("\n\n")[0].split())
