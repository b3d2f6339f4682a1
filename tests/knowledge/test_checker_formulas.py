"""Computed checks that cannot be computed: every way of feeding a formula wrongly is named at its line."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from diagnose.knowledge.problems import TreeError
from diagnose.knowledge.rules.formulas import formula_inputs
from tests.knowledge import overlay

READINGS: dict[str, Any] = {
    "run": {"measure": "Length of the wire", "unit": "ft", "plausible": "1 to 900 ft", "minutes": 2, "energy": "any"},
    "amps": {"measure": "Current", "unit": "A", "plausible": "0 to 30 A", "minutes": 2, "energy": "any"},
    "stops": {
        "measure": "Where it stops, once a cycle",
        "unit": "in",
        "plausible": "-9 to 9 in",
        "series": "yes",
        "minutes": 9,
        "energy": "any",
    },
}
FACTS: dict[str, Any] = {
    "gauge": {"title": "Gauge", "ask": "Which gauge?", "answers": ["14 AWG", "12 AWG"], "unit": "AWG"},
    "wires": {"title": "Wires", "ask": "Which?", "answers": ["14 AWG", "12 AWG"], "unit": "AWG", "many": "yes"},
}
GOOD: dict[str, Any] = {
    "compute": "Drop over the wire",
    "unit": "V",
    "plausible": "0 to 50 V",
    "formula": "voltage-drop.drop",
    "inputs": {"volts": "24 V", "amps": "amps", "run": "run", "gauge": "gauge"},
    "minutes": 0,
    "energy": "any",
}


def faults(folder: Path, change: dict[str, Any]) -> list[str]:
    drop = overlay.laid_over(GOOD, change)
    book = overlay.book(folder, {"facts": FACTS, "checks": {**READINGS, "drop": drop}})
    return [problem.wrong for problem in formula_inputs.problems(book)]


def test_what_is_right_is_silent(tmp_path: Path) -> None:
    assert faults(tmp_path, {}) == []


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"inputs": {"amps": "run"}}, "'amps' is in A; 'run' is in ft"),
        ({"inputs": {"amps": "glass-looks"}}, "answered in words"),
        ({"inputs": {"amps": "stops"}}, "'amps' is in A; 'stops' is in in"),
        ({"inputs": {"run": "stops"}}, "takes one value, and 'stops' is a series"),
        ({"inputs": {"gauge": "wires"}}, "may have several values at once"),
        ({"inputs": {"gauge": "mounting"}}, "'gauge' is in AWG; 'mounting' is in no unit"),
        ({"inputs": {"volts": "-3 V"}}, "-3"),
        ({"unit": "ft", "plausible": "0 to 50 ft"}, "does not turn into ft"),
        ({"unit": None, "plausible": None, "answers": ["low", "high"]}, "has words for answers"),
        ({"measured": "glass-looks"}, "is no reading to take a result from"),
        ({"measured": "run"}, "from which V cannot be taken"),
    ],
)
def test_names_what_is_wrong(tmp_path: Path, change: dict[str, Any], says: str) -> None:
    found = faults(tmp_path, change)
    assert any(says in wrong for wrong in found), found


@pytest.mark.parametrize(
    ("change", "at", "says"),
    [
        ({"formula": "voltage-dropp"}, "formula:", "There is no formula 'voltage-dropp'. Did you mean 'voltage-drop'?"),
        ({"formula": "nothing-like-it"}, "formula:", "There is no formula 'nothing-like-it'. Known: "),
        ({"formula": "voltage-drop.drops"}, "formula:", "gives no 'drops'. Did you mean 'drop'?"),
        ({"formula": "voltage-drop.far-volts"}, "formula:", "gives no 'far-volts'. Did you mean 'far_volts'?"),
        ({"formula": "voltage-drop."}, "formula:", "gives no ''."),
        ({"inputs": {"run": None}}, "inputs:", "still needs run"),
        ({"inputs": {"runs": "run"}}, "runs:", "takes no 'runs'. Did you mean 'run'?"),
        ({"inputs": {"volts": "24 ft"}}, "volts:", "'24 ft', which is no check, no fact, and no number in V."),
        ({"inputs": {"volts": "glass-look"}}, "volts:", "no number in V. Did you mean 'glass-looks'?"),
        ({"inputs": {"phase": "singel"}}, "phase:", "and no choice. Did you mean 'single'?"),
        ({"measured": "rum"}, "measured:", "'rum' is not among the checks. Did you mean 'run'?"),
    ],
)
def test_names_that_a_formula_does_not_know_are_refused_when_the_trees_are_loaded(
    tmp_path: Path, change: dict[str, Any], at: str, says: str
) -> None:
    drop = overlay.laid_over(GOOD, change)
    with pytest.raises(TreeError) as refused:
        overlay.book(tmp_path, {"facts": FACTS, "checks": {**READINGS, "drop": drop}})
    (said,) = str(refused.value).splitlines()
    assert says in said
    lines = (tmp_path / "trees.yaml").read_text(encoding="utf-8").splitlines()
    assert said.startswith("trees.yaml:")
    assert at in lines[int(said.split(":")[1]) - 1]


def test_words_and_numbers_are_not_taken_for_each_other(tmp_path: Path) -> None:
    overlap = {
        "compute": "Kind of drift",
        "answers": ["slip", "jump"],
        "formula": "channel-overlap.percent",
        "inputs": {"first": "1", "second": "6"},
        "minutes": 0,
        "energy": "any",
    }
    book = overlay.book(tmp_path, {"checks": {"kind": overlap}})
    found = [problem.wrong for problem in formula_inputs.problems(book)]
    assert any("words for answers" in wrong for wrong in found)
