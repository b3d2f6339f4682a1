"""Every step of the trees that ship, by every way it is handed out: suggested, chosen, or known already."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import replace
from types import SimpleNamespace

import pytest

from diagnose.calls import known as known_module
from diagnose.calls.call import Call, CallError
from diagnose.calls.document import text_of
from diagnose.calls.events import AnyEvent
from diagnose.calls.next_step import HAND_OVER, Step, in_its_state
from diagnose.calls.report import record
from diagnose.calls.store import decode, encode
from diagnose.knowledge.doors import all_doors
from diagnose.knowledge.fitting import fitting
from diagnose.knowledge.model import ANY, Facts, Trees, can_do
from diagnose.reasoning.walk import way_to
from diagnose.safety.walking import _nothing_known as nothing_known
from diagnose.safety.walking import chain
from diagnose.sitting import course
from diagnose.sitting.course import COME, Named, _somebody_first, plan, step_to
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


class Cells:
    """Calls at every kind of door that the trees tell apart for a step, in every state, with every crew.

    Nothing is planned: what the reasoning would put first is stood in for, so that each step can be.
    """

    def __init__(self, trees: Trees) -> None:
        self.trees = trees
        self.homes = {"check": trees.checks, "remedy": trees.remedies, "proof": trees.proofs}
        people = [(person.id, *person.includes) for person in trees.people.values()]
        self.crews = [(), *people, tuple(trees.people)]
        self.first: Named | None = None
        self.begun: dict[tuple[str, str, tuple[str, ...], Named], tuple[AnyEvent, ...]] = {}

    def doors(self, named: Named) -> list[Facts]:
        kind, name = named
        on_the_way = chain(self.trees, name) if kind == "check" else ()
        conditions = [self.trees.checks[check].applies for check in on_the_way]
        doors = all_doors(self.trees, [*conditions, self.homes[kind][name].applies])
        return [fitting(self.trees.facts, doors.facts(number)) for number in range(doors.count)]

    def each(self, named: Named) -> Iterator[tuple[Facts, str, tuple[str, ...]]]:
        states = [state for state in self.trees.energy if state != ANY]
        yield from itertools.product(self.doors(named), states, self.crews)

    def call(self, facts: Facts, energy: str, people: tuple[str, ...], goal: Named = ("", "")) -> Call:
        """A call begun like that; the same one goes on from its record each time."""
        key = (str(facts), energy, people, goal)
        if key not in self.begun:
            call = Call(self.trees, facts, ["will-not-close-on-timer"], people=people)
            call.enter(energy, goal)
            self.begun[key] = tuple(decode(encode(event)) for event in call.events)
        return Call(self.trees, history=self.begun[key])

    def look_at(self, call: Call, named: Named, step: Step) -> str:
        """What is wrong with handing this step out; empty where nothing is."""
        here = can_do(self.trees, call.state.people)
        if step.kind == "stop" and step.id == HAND_OVER:
            return "" if named[0] == "check" else "hands over"
        goal = self.homes[step.goal_kind][step.goal]
        if named != (step.goal_kind, step.goal) and not (
            named[0] == "check" and goal.id in chain(self.trees, named[1])
        ):
            return f"leads to {goal.id}"
        if step.kind == "stop":
            return "" if step.id == COME and goal.who not in here else f"stops with {step.id}"
        if goal.who not in here:
            return f"needs a {goal.who}, and none is here"
        if step.kind == "energy":
            if step.id == call.energy:
                return "enters the state it is in"
            after = self.call(call.state.facts, step.id, call.state.people, named)
            after.take_up(*named)
            then = plan(after, quick=True).step
            return f"enters {step.id} and then another" if then.kind == "energy" else self.look_at(after, named, then)
        handed = self.homes[step.kind][step.id]
        if handed.energy not in (call.energy, ANY):
            return f"hands out {step.id}, done in {handed.energy}, in {call.energy}"
        return "" if handed.who in here else f"hands out {step.id} to {call.state.people}"


Way = Callable[["Cells", Named, Call], Call]


def suggested(cells: Cells, named: Named, call: Call) -> Call:
    cells.first = named
    return call


def chosen(cells: Cells, named: Named, call: Call) -> Call:
    call.take_up(*named)
    return call


def from_the_record(cells: Cells, named: Named, call: Call) -> Call:
    # The beginning of every call here was read from its record.
    *begun, last = chosen(cells, named, call).events
    return Call(cells.trees, history=[*begun, decode(encode(last))])


@pytest.fixture
def cells(shipped_trees: Trees, monkeypatch: pytest.MonkeyPatch) -> Cells:
    """A course whose reasoning says at once what it is told to."""
    cells = Cells(shipped_trees)

    def first(call: Call, quick: bool = False) -> Step:
        if cells.first is None:
            return Step("stop", HAND_OVER, "", 0.0, 0.0)
        kind, name = cells.first
        first = name
        if kind == "check":
            way = way_to(call.situation, name, {}, can_do(cells.trees, call.state.people))
            asked = [step for step in way.steps if cells.trees.checks[step].kind != "computed"] if way else []
            if not asked:
                return Step("stop", HAND_OVER, "", 0.0, 0.0)
            first = asked[0]
        return in_its_state(call, kind, first, "", 0.0, (0.0, 0.0), name)  # type: ignore[arg-type]

    monkeypatch.setattr(Call, "next_step", first)
    monkeypatch.setattr(known_module, "_situation", lambda held, facts, *_: nothing_known(held.trees, dict(facts)))
    monkeypatch.setattr(known_module, "infer", lambda situation, state: SimpleNamespace(known={}))
    monkeypatch.setattr(course, "why_of", lambda call, goal: "")
    monkeypatch.setattr(course, "_not_the_unlikely", lambda call, best: best)
    monkeypatch.setattr(course, "_by_those_here", lambda call, best: best)
    return cells


def walk(cells: Cells, way: Way, steps: list[Named]) -> tuple[list[object], Counter[str]]:
    """What was handed out wrongly, and how often each kind of step was handed out."""
    wrong: list[object] = []
    met = Counter[str]()
    for named in steps:
        for facts, energy, people in cells.each(named):
            cells.first = None
            call = way(cells, named, cells.call(facts, energy, people))
            step = plan(call, quick=True).step
            met[step.id if step.kind == "stop" else step.kind] += 1
            if said := cells.look_at(call, named, step):
                wrong.append((named, facts, energy, people, said))
    return wrong, met


_PARTS = 12


@pytest.mark.parametrize("way", [chosen, from_the_record, suggested])
@pytest.mark.parametrize("part", [0, *(pytest.param(n, marks=pytest.mark.long) for n in range(1, _PARTS))])
def test_each_step_is_handed_out_in_its_state_and_to_whom_it_may(cells: Cells, way: Way, part: int) -> None:
    """Over every kind of door, state and crew that make a difference to the step."""
    wrong, met = walk(cells, way, every_step(cells.trees)[part::_PARTS])
    assert not wrong, (len(wrong), wrong[:10])
    assert min(met[kind] for kind in ("check", "remedy", "proof", "energy", COME)) > 20, met


@pytest.mark.parametrize(
    ("name", "instead"),
    [
        ("_in_its_state", lambda call, entry, step, goal: replace(step, goal=goal[1], goal_kind=goal[0])),
        ("_somebody_first", lambda call, step: step),
    ],
)
def test_a_course_that_forgets_state_or_person_is_seen(
    cells: Cells, monkeypatch: pytest.MonkeyPatch, name: str, instead: Callable[..., Step]
) -> None:
    monkeypatch.setattr(course, name, instead)
    for way in (chosen, from_the_record):
        assert walk(cells, way, every_step(cells.trees)[::60])[0]


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


def test_a_call_waits_for_whom_it_names_and_goes_on_when_they_are_here(shipped_trees: Trees) -> None:
    call, _ = a_call(shipped_trees, "powered, covers on", TECHNICIAN)
    sitting = Sitting(call)
    sitting.do(GoTo(kind="remedy", step="replace-springs"))
    card = sitting.put().card
    with pytest.raises(CallError, match="Say when they come"):
        sitting.choose(card, "wait-for", " ")
    assert sitting.choose(card, "wait-for", "tomorrow at nine").endswith("tomorrow at nine. Nobody uses the door.")
    assert call.state.outcome is None
    assert call.state.waiting == "waiting for: door technician, tomorrow at nine"
    again = Sitting(Call(shipped_trees, history=[decode(encode(event)) for event in call.events]))
    card = again.put().card
    assert ("Comes", "tomorrow at nine") in card.lines
    assert "To come: " in text_of(record(again.call))
    again.choose(card, "here")
    assert again.call.state.waiting == ""
    assert again.put().planned.goal == ("remedy", "replace-springs")
