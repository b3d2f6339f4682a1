"""What doors answer, counted over many of them, is what the model says of such doors: Pearson's chi-squared, by SciPy.

A hundred (cause, check) pairs and more are counted: questions by their answers, slips of the reader included, and
readings by bands of whole displays, with the instrument's error. Under the model the p-values are spread evenly: the
least of n is then seldom below 0.001/n, and a tenth of them lie below 0.1.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterator
from itertools import pairwise
from math import inf

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from diagnose.knowledge.distributions import centre, probability
from diagnose.knowledge.model import Check, Trees
from diagnose.practice.hidden_door import HiddenDoor
from diagnose.practice.simulated import draw_door
from diagnose.reasoning.situation import Situation, Table, instrument_error, make_situation

Counts = NDArray[np.float64]

DOORS = 250
# Cells with fewer expected than this are counted together (Cochran's rule of thumb).
LEAST = 5.0


def counted(
    trees: Trees, situation: Situation, cause: str, check: Check, table: Table, slips: bool
) -> tuple[Counts, Counts]:
    """How often each answer was found in doors with the cause, and how often the model expects it."""
    slips = slips and not check.is_number
    edges = _on_half_steps(check, table.edges)
    seen = np.zeros(len(edges) + 1 if check.is_number else len(table.answers))
    for number in range(DOORS):
        seed = zlib.crc32(f"{cause} {check.id} {number}".encode())
        found = HiddenDoor(trees, situation.facts, {cause}, seed, slips).look(check)
        row = table.answers.index(found) if isinstance(found, str) else int(np.searchsorted(edges, found))
        seen[row] += 1
    if check.is_number:
        return seen, DOORS * np.array([_share(trees, cause, check, *band) for band in pairwise([-inf, *edges, inf])])
    column = table.likelihood[:, situation.causes.index(cause)]
    if not slips:
        column = (column - table.slip / len(column)) / (1 - table.slip)
    return seen, DOORS * column


def _share(trees: Trees, cause: str, check: Check, low: float, high: float) -> float:
    """P(a reading between the two), as a call scores it: the state's spread, widened by the instrument."""
    state = trees.causes[cause].signs[check.id]
    return probability(state, low, high, instrument_error(check, centre(state)))


def _on_half_steps(check: Check, edges: tuple[float, ...]) -> list[float]:
    """Edges where an instrument turns from one display to the next: between them lie whole displays."""
    step = check.instrument.step if check.instrument else 0.0
    return sorted({(np.floor(edge / step) + 0.5) * step if step else edge for edge in edges})


def p_value(seen: Counts, expected: Counts) -> float | None:
    order = np.argsort(expected)
    groups: list[list[int]] = [[]]
    for index in order:
        if groups[-1] and expected[groups[-1]].sum() >= LEAST:
            groups.append([])
        groups[-1].append(int(index))
    if len(groups) > 1 and expected[groups[-1]].sum() < LEAST:
        groups[-2] += groups.pop()
    if len(groups) < 2:
        return None
    observed = np.array([seen[group].sum() for group in groups])
    wanted = np.array([expected[group].sum() for group in groups])
    return float(stats.chisquare(observed, wanted * observed.sum() / wanted.sum()).pvalue)


def pairs(trees: Trees, symptoms: list[str], most: int) -> Iterator[tuple[Situation, str, Check, Table]]:
    """Causes with the checks they change, spread over symptoms; checks that a formula ties to others left aside."""
    fed = {name for check in trees.checks.values() for name in (*check.inputs.values(), check.measured)}
    given = 0
    for number, symptom in enumerate(symptoms):
        draw = draw_door(trees, np.random.default_rng(number), symptom)
        situation = make_situation(trees, draw.facts, [symptom])
        for cause in situation.causes[:-1]:
            for name in trees.causes[cause].signs:
                check = trees.checks[name]
                if name not in situation.tables or check.kind == "computed" or name in fed:
                    continue
                given += 1
                if given > most:
                    return
                yield situation, cause, check, situation.tables[name]


@pytest.mark.parametrize("slips", [False, True])
def test_small_trees_answer_as_often_as_the_model_says(small_trees: Trees, slips: bool) -> None:
    found = [
        p
        for situation, cause, check, table in pairs(small_trees, ["eye-lamp-wrong"], 40)
        if (p := p_value(*counted(small_trees, situation, cause, check, table, slips))) is not None
    ]
    assert len(found) >= 12
    assert min(found) > 0.001 / len(found)


def test_shipped_trees_answer_as_often_as_the_model_says(shipped_trees: Trees) -> None:
    symptoms = list(shipped_trees.symptoms)[::6]
    found: list[float] = []
    readings = 0
    for situation, cause, check, table in pairs(shipped_trees, symptoms, 120):
        p = p_value(*counted(shipped_trees, situation, cause, check, table, True))
        if p is not None:
            found.append(p)
            readings += check.is_number
    assert len(found) >= 60
    assert readings >= 5
    assert min(found) > 0.001 / len(found)
    assert sum(p < 0.1 for p in found) < 0.2 * len(found)


def test_a_door_that_answers_otherwise_is_noticed(small_trees: Trees) -> None:
    """The test itself can fail: doors of one cause do not pass for those of another."""
    draw = draw_door(small_trees, np.random.default_rng(0), "eye-lamp-wrong")
    situation = make_situation(small_trees, draw.facts, ["eye-lamp-wrong"])
    check = small_trees.checks["eye-lamp-receiver"]
    table = situation.tables[check.id]
    seen, _ = counted(small_trees, situation, "eye-wiring-open", check, table, False)
    expected = DOORS * table.likelihood[:, situation.causes.index("eye-lens-dirty")]
    p = p_value(seen, expected)
    assert p is not None
    assert p < 1e-12


@pytest.mark.parametrize("seed", range(8))
def test_a_tripped_motor_draws_no_current_with_or_without_its_door(shipped_trees: Trees, seed: int) -> None:
    """What a formula makes of a reading and what its cause says of the result agree, though 0 A has no share."""
    facts = {"drive": "jackshaft", "supply": "single-phase", "nominal-volts": "115 V", "construction": "sectional"}
    door = HiddenDoor(shipped_trees, facts, {"motor-overload-tripped"}, seed, slips=False)
    free, plate = (door.truth(shipped_trees.checks[name]) for name in ("motor-current-free", "plate-current"))
    assert isinstance(free, float) and isinstance(plate, float)
    assert free <= 0.1 * plate
