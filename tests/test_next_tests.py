"""Codes of tests, and what may be given back."""

import re

import pytest

from sweepkit.errors import BadInput
from sweepkit.next_tests import TESTS, check_told_test, step_of_test


def test_codes_are_words_and_every_step_starts_with_the_radio_off():
    for code in TESTS:
        assert re.fullmatch(r"[a-z]+(-[a-z]+)*", code)
        assert step_of_test(code).startswith("radio off and disconnected: ")


def test_both_options_or_none():
    check_told_test(None, has_sweep=False)
    check_told_test("antenna-unplugged", has_sweep=True)
    with pytest.raises(BadInput, match="without --test-sweep"):
        check_told_test("antenna-unplugged", has_sweep=False)
    with pytest.raises(BadInput, match="without --test;"):
        check_told_test(None, has_sweep=True)


def test_an_unknown_code_names_the_near_ones():
    with pytest.raises(BadInput, match="the nearest is antenna-unplugged"):
        check_told_test("antenna-unpluged", has_sweep=True)
    with pytest.raises(BadInput, match="the nearest are tap-moved, "):
        check_told_test("ap-moved", has_sweep=True)
    with pytest.raises(BadInput, match="known are antenna-unplugged"):
        check_told_test("coax-moved", has_sweep=True, known=("antenna-unplugged",))
