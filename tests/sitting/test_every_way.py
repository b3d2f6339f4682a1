"""Every step of the trees that ship, by every way it is handed out: suggested, chosen, or known already."""

from __future__ import annotations

import pytest

from diagnose.calls.call import Call, CallError, Step
from diagnose.knowledge.model import ANY, Trees
from diagnose.sitting.course import COME, Named, _somebody_first, step_to
from diagnose.sitting.say import Answer, Choose, GoTo
from diagnose.sitting.sitting import Sitting

FACTS = {
    "drive": "trolley",
    "construction": "sectional",
    "supply": "single-phase",
    "devices": ("photo-eye", "sensing-edge", "wall-station", "timer"),
}
TECHNICIAN = ("anyone", "technician")


def a_call(trees: Trees, energy: str, people: tuple[str, ...]) -> tuple[Call, Step]:
    call = Call(trees, FACTS, ["will-not-close-on-timer"], people=people)
    if energy != ANY:
        call.enter(energy)
    return call, call.next_step(quick=True)


def every_step(trees: Trees) -> list[Named]:
    kinds = (("check", trees.checks), ("remedy", trees.remedies), ("proof", trees.proofs))
    return [(kind, name) for kind, entries in kinds for name in entries]


@pytest.mark.parametrize("energy", ["powered, covers on", "powered, cover open", "off, locked and tagged", "door held"])
def test_each_is_handed_out_in_its_own_state_and_no_other(shipped_trees: Trees, energy: str) -> None:
    call, best = a_call(shipped_trees, energy, tuple(shipped_trees.people))
    homes = {"check": shipped_trees.checks, "remedy": shipped_trees.remedies, "proof": shipped_trees.proofs}
    handed = 0
    for named in every_step(shipped_trees):
        step = step_to(call, named, best, "")
        if step is None:
            continue
        handed += 1
        if step.kind == "energy":
            # The way there is a step of its own, and leads to what was chosen.
            assert step.id != energy and (step.goal_kind, step.goal) == named, named
            continue
        assert homes[step.kind][step.id].energy in (energy, ANY), (named, step.id)
    assert handed > 500


def test_what_is_for_somebody_absent_calls_for_them_first(shipped_trees: Trees) -> None:
    call, best = a_call(shipped_trees, "powered, covers on", TECHNICIAN)
    homes = {"remedy": shipped_trees.remedies, "proof": shipped_trees.proofs}
    met = 0
    for kind, name in every_step(shipped_trees):
        if kind == "check" or homes[kind][name].who in TECHNICIAN:
            continue
        step = step_to(call, (kind, name), best, "")
        assert step is not None
        first = _somebody_first(call, step)
        assert (first.kind, first.id, first.goal) == ("stop", COME, name)
        met += 1
    assert met > 20


def test_nobody_absent_did_or_passed_anything(shipped_trees: Trees) -> None:
    """Whatever is said of a step for somebody who is not here: it is not taken down."""
    call, _ = a_call(shipped_trees, "powered, covers on", TECHNICIAN)
    sitting, before = Sitting(call), len(call.events)
    for kind, name in every_step(shipped_trees):
        entries = {"check": shipped_trees.checks, "remedy": shipped_trees.remedies, "proof": shipped_trees.proofs}
        entry = entries[kind][name]
        if entry.who in TECHNICIAN or kind == "check":
            continue
        said = {"remedy": "done", "proof": "passed"}[kind]
        with pytest.raises(CallError, match=r"is for a .*none is here"):
            sitting.do(Choose(kind=kind, step=name, name=said))
    assert len(call.events) == before


@pytest.mark.parametrize("named", [("remedy", "replace-springs"), ("proof", "springs-whole")])
def test_chosen_from_a_list_it_is_the_same_as_suggested(shipped_trees: Trees, named: Named) -> None:
    call, _ = a_call(shipped_trees, "powered, covers on", tuple(shipped_trees.people))
    sitting = Sitting(call)
    sitting.do(GoTo(kind=named[0], step=named[1]))
    step = sitting.put().planned.step
    assert step.kind == "energy" and (step.goal_kind, step.goal) == named


def test_known_already_counts_as_seen_and_moves_nothing_else(shipped_trees: Trees) -> None:
    call, _ = a_call(shipped_trees, "off, locked and tagged", TECHNICIAN)
    Sitting(call).do(Answer(check="springs-look", text="gap in a coil"))
    assert call.energy == "off, locked and tagged"
    assert "springs-whole" in {proof.id for proof in call.open_proofs()}
