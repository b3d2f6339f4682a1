"""Each row of the table of checks, and the rule that every formula has enough of them."""

from __future__ import annotations

from collections import Counter

import pytest
from formula_checks import CHECKS, Check

from diagnose.formulas import all_formulas, find

LEAST = 3
"""Checks every formula must have against somebody else: not from memory, not our own sum by hand."""


WORDS = {"verdict", "why"}
"""Outputs that only put a checked number into words; the words have tests of their own."""


def _name(check: Check) -> str:
    return f"{check.formula}-{check.output}: {check.source}"


def _counts(check: Check) -> bool:
    return not check.memory and "by hand" not in check.source


@pytest.mark.parametrize("check", CHECKS, ids=_name)
def test_a_formula_gives_what_its_source_says(check: Check) -> None:
    value = find(check.formula).evaluate(check.inputs).values[check.output]
    if check.tolerance is None:
        assert value == check.expected
    else:
        assert isinstance(value, float)
        assert value == pytest.approx(check.expected, rel=0, abs=check.tolerance)


def test_every_formula_has_enough_checks_against_the_outside() -> None:
    counted = Counter(check.formula for check in CHECKS if _counts(check))
    short = {each.name: counted[each.name] for each in all_formulas() if counted[each.name] < LEAST}
    assert not short, f"fewer than {LEAST} checks against a published or library figure: {short}"


def test_every_number_a_formula_gives_is_checked() -> None:
    checked = {(check.formula, check.output) for check in CHECKS}
    given = {(each.name, output.name) for each in all_formulas() for output in each.outputs}
    assert {pair for pair in given - checked if pair[1] not in WORDS} == set()


def test_every_check_is_of_a_registered_formula_and_names_its_source() -> None:
    known = {each.name for each in all_formulas()}
    assert {check.formula for check in CHECKS} == known
    assert all(len(check.source) >= 7 for check in CHECKS)


def test_the_count_can_fail() -> None:
    """A row from memory and a row by hand must not count."""
    assert not _counts(Check("duty", {}, "percent", 1, 0, "recalled", memory=True))
    assert not _counts(Check("duty", {}, "percent", 1, 0, "worked by hand"))
    assert _counts(Check("duty", {}, "percent", 1, 0, "IEC 60034-1"))
