"""Computed checks that cannot be computed: every way of feeding a formula wrongly is named at its line."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

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
        ({"formula": "voltage-dropp"}, "There is no formula called 'voltage-dropp'"),
        ({"formula": "voltage-drop.fall"}, "gives no 'fall'"),
        ({"inputs": {"run": None}}, "still needs run"),
        ({"inputs": {"length": "run"}}, "takes no 'length'"),
        ({"inputs": {"amps": "run"}}, "'amps' is in A; 'run' is in ft"),
        ({"inputs": {"amps": "glass-looks"}}, "answered in words"),
        ({"inputs": {"amps": "stops"}}, "'amps' is in A; 'stops' is in in"),
        ({"inputs": {"run": "stops"}}, "takes one value, and 'stops' is a series"),
        ({"inputs": {"gauge": "wires"}}, "may have several values at once"),
        ({"inputs": {"gauge": "mounting"}}, "'gauge' is in AWG; 'mounting' is in no unit"),
        ({"inputs": {"volts": "24 ft"}}, "'24 ft' is no value for 'volts'"),
        ({"inputs": {"volts": "-3 V"}}, "-3"),
        ({"unit": "ft", "plausible": "0 to 50 ft"}, "does not turn into ft"),
        ({"unit": None, "plausible": None, "answers": ["low", "high"]}, "has words for answers"),
        ({"measured": "glass-looks"}, "is no reading to take a result from"),
        ({"measured": "run"}, "from which V cannot be taken"),
        ({"measured": "nothing"}, "is no reading to take a result from"),
    ],
)
def test_names_what_is_wrong(tmp_path: Path, change: dict[str, Any], says: str) -> None:
    found = faults(tmp_path, change)
    assert any(says in wrong for wrong in found), found


def test_a_word_a_formula_does_not_know(tmp_path: Path) -> None:
    drop = {
        "compute": "Kind of drift",
        "answers": ["slip", "jump"],
        "formula": "channel-overlap.percent",
        "inputs": {},
        "minutes": 0,
        "energy": "any",
    }
    book = overlay.book(tmp_path, {"checks": {"kind": drop}})
    found = [problem.wrong for problem in formula_inputs.problems(book)]
    assert any("still needs" in wrong for wrong in found)
    assert any("words for answers" in wrong for wrong in found)
