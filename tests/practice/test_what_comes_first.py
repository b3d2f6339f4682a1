"""What stands above the plan's optimum, held on doors from life: nothing asked that changes nothing, no dear guess."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose import Call
from diagnose.knowledge.model import UNLISTED, Trees
from diagnose.practice.from_life import LifeDoor, load_doors
from diagnose.reasoning.plan import LIKELY

DOORS = Path(__file__).parents[1] / "from_life"
SURE, DEAR = 0.80, 20.0


@pytest.fixture(scope="module")
def doors(shipped_trees: Trees) -> dict[str, LifeDoor]:
    return {door.id: door for file in load_doors(shipped_trees, [DOORS]) for door in file.doors}


def answer(call: Call, door: LifeDoor, check: str) -> None:
    again = check in call.state.answers
    call.answer(check, door.shows(call.trees.checks[check]), mode="again" if again else "new")


@pytest.mark.parametrize("name", ["e26", "m02", "m29", "s10", "s13"])
def test_what_is_put_may_change_something_and_no_dear_guess_comes_first(
    shipped_trees: Trees, doors: dict[str, LifeDoor], name: str
) -> None:
    door, trees = doors[name], shipped_trees
    call = Call(trees, door.facts, [door.complaint], people=tuple(trees.people))
    for _ in range(60):
        # Three repairs in vain say enough.
        if len(call.state.tries) == 3:
            break
        step, planner = call.next_step(), call.planner
        likely = [each for each in call.likely() if each.cause != UNLISTED]
        deciding = {planner.candidates[place].way.goal for place in planner.deciding}
        best = planner.best()
        if step.kind == "check":
            if best.kind == "check" and planner.standing.belief.causes()[:-1].max() >= SURE and planner.remedies:
                assert step.goal in deciding, (step.id, likely[0])
            answer(call, door, step.id)
        elif step.kind == "energy":
            call.enter(step.id)
        elif step.kind == "remedy":
            repair = next(each for each in planner.remedies if each.remedy.id == step.id)
            asked = {name for kind, name in planner.plan.costs_of_first() if kind == "question"}
            if repair.fixes < LIKELY and repair.cost + repair.entry > DEAR:
                assert not asked & deciding, step.id
                assert "This is a try" in step.why
            call.tried(step.id, worked=False)
        else:
            break
    assert call.state.tries or step.kind == "stop"


def test_no_energy_state_is_changed_back_and_forth_for_nothing(
    shipped_trees: Trees, doors: dict[str, LifeDoor]
) -> None:
    """Two changes of state never follow each other: something is done in each."""
    for name in ("s46", "e04"):
        door, trees, before = doors[name], shipped_trees, ""
        call = Call(trees, door.facts, [door.complaint], people=tuple(trees.people))
        for _ in range(25):
            step = call.next_step()
            assert not (step.kind == "energy" and before == "energy" and step.goal_kind == "check"), name
            before = step.kind
            if step.kind == "energy":
                call.enter(step.id)
            elif step.kind == "check":
                answer(call, door, step.id)
            elif step.kind == "remedy":
                call.tried(step.id, worked=False)
            else:
                break
