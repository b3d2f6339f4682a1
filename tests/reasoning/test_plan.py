"""What is promised: the minutes of the closing proofs, and the middle of what may come before them."""

from __future__ import annotations

import numpy as np
import pytest

from diagnose.calls.call import Call
from diagnose.knowledge.model import Trees, can_do
from diagnose.reasoning.plan import PACE, Planner, Prospect, closing_minutes, proofs_needed
from tests.doors import TROLLEY_DOOR


def test_closing_holds_the_proofs_the_way_there_and_back_and_whoever_has_to_be_called(shipped_trees: Trees) -> None:
    trees = shipped_trees
    here = can_do(trees, ["technician"])
    proofs = proofs_needed(trees, TROLLEY_DOOR, ())
    locked, power = trees.energy["off, locked and tagged"], trees.energy["powered, covers on"]
    assert {proof.energy for proof in proofs} == {"any", locked.id, power.id}
    own = sum(proof.minutes for proof in proofs)
    states = locked.minutes_from(power.id) + power.minutes_from(locked.id)
    assert closing_minutes(trees, proofs, TROLLEY_DOOR, here) == own + states
    rated = {**TROLLEY_DOOR, "fire-rated": "yes"}
    drop, inspector = trees.proofs["fire-door-drop"], trees.people["fire-door inspector"]
    more = drop.minutes + inspector.call_out
    assert closing_minutes(trees, proofs_needed(trees, rated, ()), rated, here) == own + states + more
    there = here | {inspector.id}
    assert closing_minutes(trees, proofs_needed(trees, rated, ()), rated, there) == own + states + drop.minutes


def test_what_is_not_known_of_the_door_counts_by_its_chance(shipped_trees: Trees) -> None:
    trees, here = shipped_trees, can_do(shipped_trees, ["technician"])
    unknown = {fact: value for fact, value in TROLLEY_DOOR.items() if fact != "fire-rated"}
    known = [
        closing_minutes(trees, proofs_needed(trees, facts, ()), facts, here)
        for facts in ({**TROLLEY_DOOR, "fire-rated": "yes"}, TROLLEY_DOOR)
    ]
    assert closing_minutes(trees, proofs_needed(trees, unknown, ()), unknown, here) == pytest.approx(np.mean(known))


def test_the_middle_of_a_prospect_widens_with_the_pace_of_people() -> None:
    certain = Prospect(np.array([60.0]), np.ones(1))
    low, high = certain.after(40.0).middle()
    assert certain.after(40.0).mean == 100 and low < 100 < high
    assert low == pytest.approx(100 / PACE**1.593) and high == pytest.approx(100 * PACE**1.593)
    two = Prospect(np.array([10.0, 1000.0]), np.array([0.95, 0.05]))
    assert two.middle()[1] < 20 < two.mean, "what happens once in twenty calls moves the mean and not the middle"


def test_calling_somebody_is_promised_once_they_are_needed(shipped_trees: Trees) -> None:
    """The same door with and without whoever may do the likeliest repairs."""
    alone = Call(shipped_trees, TROLLEY_DOOR, ["heavy-by-hand"], people=["technician"])
    helped = Call(shipped_trees, TROLLEY_DOOR, ["heavy-by-hand"], people=["technician", "door technician"])
    more = alone.next_step().expected_minutes_left - helped.next_step().expected_minutes_left
    assert 0 < more <= 2 * shipped_trees.people["door technician"].call_out


def test_a_stay_under_live_terminals_is_dreaded_once_however_many_readings_it_is_for(shipped_trees: Trees) -> None:
    call = Call(shipped_trees, TROLLEY_DOOR, ["hums-does-not-move"], people=["technician"])
    scale = Planner(call.standing).scale
    readings = ("supply-volts-idle", "supply-volts-second-pair", "supply-volts-third-pair")
    checks = [shipped_trees.checks[name] for name in readings]
    costs = shipped_trees.costs
    live = costs.discomfort[checks[0].energy] + costs.discomfort.get(checks[0].access, 0.0)
    assert live > 0 and len({(check.energy, check.access) for check in checks}) == 1
    minutes = sum(check.minutes for check in checks)
    assert scale.done(readings).cost == pytest.approx(minutes + live + 3 * costs.asking)
    apart = sum(scale.done((name,)).cost for name in readings)
    assert apart == pytest.approx(minutes + 3 * live + 3 * costs.asking)
