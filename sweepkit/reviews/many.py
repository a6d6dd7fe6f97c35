"""Reviews of many sweeps as a stream: those on one grid go through together, answers come in the order given."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from typing import TypeVar

from sweepkit.reviews.asked import Asked, alike
from sweepkit.reviews.review import Review, review_alike
from sweepkit.sweep import Sweep

TOGETHER = 256  # sweeps that are held at once ...
MOST_POINTS = 100_000  # ... or so many points of them, so that memory stays flat

Item = TypeVar("Item")
Told = tuple[Sweep, Asked]


def review_many(
    items: Iterable[Item], told_of: Callable[[Item], Told | Exception | None]
) -> Iterator[tuple[Item, Review | Exception | None]]:
    """Answer items one after the other; they are taken as answers are asked for, some ahead.

    ``told_of`` gives the sweep of an item and what is told of it, or why nothing can be; ``None`` where it has none.
    What it raises ends the stream, after the answers of all items before.
    """
    for some in _portions(items, told_of):
        answers: list[Review | Exception | None] = [None] * len(some)
        groups: dict[Hashable, list[tuple[int, Told]]] = {}
        for k, (_, told) in enumerate(some):
            if isinstance(told, tuple):
                groups.setdefault((id(told[1]), alike(told[0])), []).append((k, told))
            else:
                answers[k] = told
        for members in groups.values():
            for (k, _), answer in zip(members, _answers([told for _, told in members]), strict=True):
                answers[k] = answer
        yield from zip((item for item, _ in some), answers, strict=True)


def _portions(
    items: Iterable[Item], told_of: Callable[[Item], Told | Exception | None]
) -> Iterator[list[tuple[Item, Told | Exception | None]]]:
    """As many as are held at once; an ensemble of draws is held alone."""
    held: list[tuple[Item, Told | Exception | None]] = []
    points = 0
    try:
        for item in items:
            told = told_of(item)
            held.append((item, told))
            points += told[0].f_hz.size if isinstance(told, tuple) else 0
            if len(held) >= TOGETHER or points >= MOST_POINTS or (isinstance(told, tuple) and told[1].draws):
                yield held
                held, points = [], 0
    except Exception:
        if held:
            yield held
        raise
    if held:
        yield held


def _answers(group: Sequence[Told]) -> Sequence[Review | Exception]:
    """The reviews of sweeps that are alike; one by one where a stack of them fails, so that the others are answered."""
    try:
        return review_alike([sweep for sweep, _ in group], group[0][1])
    except Exception as error:
        if len(group) == 1:
            return [error]
        return [answer for each in group for answer in _answers([each])]
