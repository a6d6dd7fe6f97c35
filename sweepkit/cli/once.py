"""A command in which an option that takes one value cannot be given twice, and whose help has groups."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from typing import Any

import typer
from typer.core import TyperCommand, TyperGroup


class OnceCommand(TyperCommand):
    """Elsewhere the last of two would win, and the first be lost without a word."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """The usual, after counting."""
        given: list[Any] = list(self.make_parser(ctx).parse_args(args=list(args))[2])
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
        from sweepkit.cli.help import write_options

        write_options(self, ctx, formatter)


class GroupWithExamples(TyperGroup):
    """A list of commands, and how one begins."""

    def format_epilog(self, ctx: Any, formatter: Any) -> None:
        """The examples."""
        from sweepkit.cli.help import write_examples

        write_examples(ctx, formatter)


def in_short(command: Callable[..., Any]) -> str:
    """What a list of commands says of it: all of its first paragraph, however narrow the terminal."""
    return " ".join((command.__doc__ or "").split("\n\n")[0].split())
