"""A worse reading never speaks less for the fault that it speaks for: over every reading of the trees that ship."""

from __future__ import annotations

import math

import numpy as np
import pytest

from diagnose import Call
from diagnose.knowledge.distributions import Mixture, Outward, Shares, centre, mostly
from diagnose.knowledge.model import Check, Trees
from diagnose.reasoning.situation import make_situation, score_answer
from diagnose.review.worse import fall, sides
from tests.conftest import read_shipped


def readings(trees: Trees) -> list[Check]:
    return [check for check in trees.checks.values() if check.is_number and sides(check) and check.healthy is not None]


def outward(sign: object) -> list[Outward]:
    parts = [part for _, part in sign.parts] if isinstance(sign, Mixture) else [sign]
    return [part for part in parts if isinstance(part, Outward)]


def test_most_readings_are_of_degree() -> None:
    assert len(readings(read_shipped().trees)) > 200


@pytest.mark.parametrize("name", [check.id for check in readings(read_shipped().trees)])
def test_no_sign_falls_off_outward(name: str) -> None:
    trees = read_shipped().trees
    for cause in trees.causes.values():
        written = read_shipped().written("causes", cause.id).get("signs", {})
        if name in cause.signs and written[name].get("value") != "yes":
            assert fall(trees, trees.checks[name], cause.signs[name]) is None, cause.id


def test_a_worse_reading_never_lowers_the_cause_it_speaks_for() -> None:
    """Asked of every complaint, and of every suspect with a sign of this or worse: the odds of that suspect against
    each suspect that leaves the reading as in a sound door do not fall while the reading gets worse."""
    trees, tried = read_shipped().trees, 0
    for symptom in trees.symptoms:
        situation = make_situation(trees, {}, [symptom])
        for name in situation.tables:
            check = trees.checks[name]
            # A sound door of a mixture has states of its own far out, such as the current of a motor that stands.
            if check.answers or isinstance(check.healthy, (Shares, Mixture)) or not check.plausible:
                continue
            leave = [i for i, cause in enumerate(situation.causes[:-1]) if name not in trees.causes[cause].signs]
            if not leave:
                continue
            for index, cause in enumerate(situation.causes[:-1]):
                sign = trees.causes[cause].signs.get(name)
                if not isinstance(sign, Outward):
                    continue
                start, end = (sign.scale.place(value) for value in (sign.full, sign.end))
                values = [sign.scale.reading(start + (end - start) * part / 12) for part in range(12)]
                odds = []
                for value in values:
                    scored = score_answer(situation, check, value)
                    assert scored is not None
                    odds.append(math.log(scored.known[index] / scored.known[leave[0]]))
                tried += 1
                assert odds[-1] > 0, (symptom, name, cause)
                assert np.diff(odds).min() > -0.4 and odds[-1] > max(odds) - 0.5, (symptom, name, cause, odds)
    assert tried > 500


@pytest.mark.parametrize(
    ("symptom", "cause", "check", "near", "far"),
    [
        ("chain-slaps", "header-bracket-loose", "header-travel", "0.3 in", ["0.6 in", "1 in", "3 in"]),
        ("chain-slaps", "operator-mounting-loose", "mounting-travel", "0.4 in", ["1 in", "2 in", "5 in"]),
        ("limits-drift", "brake-worn", "brake-gap", "0.06 in", ["0.08 in", "0.1 in", "0.2 in"]),
        ("limits-drift", "limit-coupling-slipped", "limit-shaft-lag", "90 deg", ["200 deg", "350 deg"]),
    ],
)
def test_how_a_call_goes_on_as_it_gets_worse(symptom: str, cause: str, check: str, near: str, far: list[str]) -> None:
    def chance(reading: str) -> float:
        call = Call(read_shipped().trees, {}, [symptom])
        call.answer(check, reading)
        return {item.cause: item.probability for item in call.likely()}[cause]

    before = chance(near)
    for reading in far:
        assert chance(reading) > before - 0.02
        before = max(before, chance(reading))


def test_an_open_circuit_is_more_than_anything() -> None:
    """For every resistance whose fault is a higher one, an overload speaks for the fault as a high reading does."""
    trees, tried = read_shipped().trees, 0
    for check in readings(trees):
        if not check.unit.endswith("ohm") or 1 not in sides(check) or math.isinf(centre(mostly(check.healthy))):
            continue
        for cause in trees.causes.values():
            high = [part for part in outward(cause.signs.get(check.id)) if part.end > part.full]
            if not high:
                continue
            raised = [symptom for symptom, entry in trees.symptoms.items() if cause.id in entry.causes]
            situation = make_situation(trees, {}, raised[:1])
            index = situation.causes.index(cause.id)
            scored = score_answer(situation, check, math.inf)
            assert scored is not None
            assert scored.known[index] > 2 * scored.sound, (check.id, cause.id)
            tried += 1
    assert tried > 20


@pytest.mark.parametrize("symptom", ["hums-does-not-move", "coasts-past-stop", "noisy-operator"])
def test_the_bands_of_a_reading_hold_all_of_its_chance(shipped_trees: Trees, symptom: str) -> None:
    """What is lost between them makes a check that tells nothing look worth its minutes."""
    facts = {"drive": "hoist", "construction": "sectional", "supply": "three-phase"}
    for check, table in make_situation(shipped_trees, facts, [symptom]).tables.items():
        assert table.likelihood.sum(axis=0) == pytest.approx(1.0), check
