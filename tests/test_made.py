"""Sequences whose members are made when they are asked for."""

import pytest

from sweepkit.made import Made, MadeTogether

pytestmark = pytest.mark.identity


def test_each_is_made_once_and_only_when_it_is_looked_at():
    made = []
    sequence = Made(3, lambda number: made.append(number) or number * 10)
    assert (len(sequence), made) == (3, [])
    assert (sequence[1], sequence[1], made) == (10, 10, [1])
    assert sequence == (0, 10, 20)
    assert sorted(made) == [0, 1, 2]


def test_all_are_made_at_once_by_the_first_look_whatever_it_is():
    for look in (len, bool, list, lambda sequence: sequence[0], lambda sequence: sequence == (5, 6)):
        made = []
        sequence = MadeTogether(lambda made=made: made.append(1) or [5, 6])
        assert made == []
        look(sequence)
        look(sequence)
        assert made == [1]
        assert list(sequence) == [5, 6]
