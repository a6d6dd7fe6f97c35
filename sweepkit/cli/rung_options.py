"""Options that tell what lies between two sweeps, worded once."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from sweepkit.antennas.rungs import Rung

Kept = Annotated[bool, typer.Option("--kept", help="Nothing was taken down or apart between the sweeps.")]
Rejoined = Annotated[
    bool, typer.Option("--rejoined", help="It kept standing; pieces were taken apart and joined anew.")
]
PutUpAgain = Annotated[
    bool, typer.Option("--put-up-again", help="It was taken down and put up again at the same site.")
]
SameSite = Annotated[
    bool, typer.Option("--same-site", help="All are from one site; it may have been put up again.")
]


def told_rung(*, kept: bool, rejoined: bool, put_up_again: bool, same_site: bool) -> Rung | None:
    """What lies between the sweeps; options that contradict each other are refused."""
    from sweepkit.errors import BadInput

    given: dict[str, Rung] = {}
    given |= {"--kept": "swept-again"} if kept else {}
    given |= {"--rejoined": "joined-anew"} if rejoined else {}
    given |= {"--put-up-again": "put-up-again"} if put_up_again else {}
    if len(given) > 1:
        raise BadInput(f"{' and '.join(given)} say different things of the same sweeps; give one of them")
    return next(iter(given.values()), "put-up-again" if same_site else None)
