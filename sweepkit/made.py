"""Sequences whose members are made when they are asked for: each by itself, or all of them at once."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cached_property
from typing import Generic, TypeVar, overload

T_co = TypeVar("T_co", covariant=True)


class _AsTuple(Sequence[T_co], Generic[T_co]):
    """Equal to any sequence with the same members."""

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Sequence) and not isinstance(other, str) and tuple(self) == tuple(other)

    def __hash__(self) -> int:
        return hash(tuple(self))


class Made(_AsTuple[T_co]):
    """As a tuple of ``count`` members, each made by its number, but that nothing is computed of one nobody looks at."""

    def __init__(self, count: int, make: Callable[[int], T_co]) -> None:
        self._make = make
        self._made: list[T_co | None] = [None] * count

    def __len__(self) -> int:
        return len(self._made)

    @overload
    def __getitem__(self, number: int) -> T_co: ...
    @overload
    def __getitem__(self, number: slice) -> tuple[T_co, ...]: ...
    def __getitem__(self, number: int | slice) -> T_co | tuple[T_co, ...]:
        if isinstance(number, slice):
            return tuple(self[k] for k in range(len(self))[number])
        found = self._made[number]
        if found is None:
            found = self._made[number] = self._make(range(len(self))[number])
        return found


class MadeTogether(_AsTuple[T_co]):
    """As a tuple, which nobody makes until something of it is asked for."""

    def __init__(self, make: Callable[[], Sequence[T_co]]) -> None:
        self._make = make

    @cached_property
    def _members(self) -> tuple[T_co, ...]:
        return tuple(self._make())

    def __len__(self) -> int:
        return len(self._members)

    @overload
    def __getitem__(self, number: int) -> T_co: ...
    @overload
    def __getitem__(self, number: slice) -> tuple[T_co, ...]: ...
    def __getitem__(self, number: int | slice) -> T_co | tuple[T_co, ...]:
        return self._members[number]
