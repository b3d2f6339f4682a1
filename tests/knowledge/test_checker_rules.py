"""Every rule can speak and can be silent: each has a change to good trees that it finds, and a like one it does not."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose.commands.trees import all_rules
from diagnose.knowledge.checker import Rule, check
from tests.knowledge import overlay

# No small tree can make these speak: two try the program, and ``tests/safety`` breaks it for them; one reads the
# practice calls that ship, which only the trees that ship can play: ``tests/review`` takes it through.
OF_THE_PROGRAM = {"offered-to-whom", "returned-around-proofs", "system-unpractised"}
RULES = {rule.name: rule for rule in all_rules() if rule.name not in OF_THE_PROGRAM}


@pytest.mark.parametrize("rule", RULES.values(), ids=RULES)
def test_finds_what_is_wrong_at_its_line(rule: Rule, tmp_path: Path) -> None:
    case = overlay.read(rule.name)
    book = overlay.book(tmp_path, case["fails"])
    found = list(rule.problems(book))
    named = [problem for problem in found if case["says"] in problem.wrong]
    assert named, [str(problem) for problem in found]
    lines = (tmp_path / "trees.yaml").read_text(encoding="utf-8").splitlines()
    assert any(case["at"] in lines[problem.place.line - 1] for problem in named)
    assert all(problem.severity == rule.severity and problem.mend for problem in found)


@pytest.mark.parametrize("rule", RULES.values(), ids=RULES)
def test_is_silent_when_it_is_mended(rule: Rule, tmp_path: Path) -> None:
    book = overlay.book(tmp_path, overlay.read(rule.name)["passes"])
    assert [str(problem) for problem in rule.problems(book)] == []


def test_good_trees_are_good(tmp_path: Path) -> None:
    book = overlay.book(tmp_path, {})
    assert [str(problem) for problem in check(book, RULES.values())] == []


def test_no_case_is_left_over() -> None:
    cases = {path.stem for path in overlay.FOLDER.glob("*.yaml")} - {"good"}
    assert cases == set(RULES)


@pytest.mark.parametrize("rule", all_rules(), ids=lambda rule: rule.name)
def test_every_rule_has_its_page(rule: Rule) -> None:
    assert "Passes:" in rule.page and "Fails:" in rule.page
    assert rule.line.endswith(".") and len(rule.line) <= 120
    assert rule.name == rule.name.lower() and " " not in rule.name


def test_names_are_unique() -> None:
    names = [rule.name for rule in all_rules()]
    assert len(names) == len(set(names))
