"""The proof of safety over the trees that ship: every state, none broken."""

from __future__ import annotations

import pytest

from diagnose.knowledge.checker import Book
from diagnose.knowledge.doors import all_doors
from diagnose.safety import INVARIANTS, prove
from diagnose.safety.hazards import steps, touches
from diagnose.safety.invariant import Outcome, in_words


@pytest.fixture
def shipped(shipped_book: Book) -> Book:
    return shipped_book


@pytest.fixture(scope="module")
def outcomes(shipped_book: Book) -> tuple[Outcome, ...]:
    return prove(shipped_book)


@pytest.mark.parametrize("name", [invariant.name for invariant in INVARIANTS])
def test_holds_in_every_state(outcomes: tuple[Outcome, ...], name: str) -> None:
    outcome = next(each for each in outcomes if each.name == name)
    assert [str(problem) for problem in outcome.violations] == []
    assert outcome.visited > 1000


def test_every_step_is_asked_for_in_every_state_of_the_door(shipped: Book, outcomes: tuple[Outcome, ...]) -> None:
    """Counted apart: the states are what the product of steps, doors and energy states says they are."""
    visited = {outcome.name: outcome.visited for outcome in outcomes}
    energies = len(shipped.trees.energy)
    done = list(steps(shipped.trees))
    assert visited["energy-order"] == len(done) * energies
    doors = sum(int(all_doors(shipped.trees, [s.applies]).fit(s.applies).sum()) for _, s in done)
    assert visited["caution-missing"] == visited["not-for-this-person"] == doors * energies


def test_no_hazard_stands_there_for_nothing(shipped: Book) -> None:
    """Each hazard is one of some step, each phrase and assurance says something: the proof is not empty."""
    trees = shipped.trees
    for hazard in trees.hazards.values():
        assert any(touches(hazard, kind, step) is not None for kind, step in steps(trees)), hazard.id
        assert hazard.cautions or hazard.one_of or hazard.only_by or hazard.only_in
    assert all(phrase.words for phrase in trees.phrases.values())
    doors = all_doors(trees, [assurance.applies for assurance in trees.assurances.values()])
    assert all(doors.fit(assurance.applies).any() for assurance in trees.assurances.values())


def test_springs_and_cables_are_nobodys_but_a_door_technicians(shipped: Book) -> None:
    """Said once more without the table of hazards."""
    trees = shipped.trees
    for _, step in steps(trees):
        if "spring-tension" in step.cautions and step.energy == "door held":
            assert step.who == "door technician", step.id
        if step.energy == "door held":
            assert step.who == "door technician", step.id
    for check in trees.checks.values():
        if check.caller is not None:
            assert not trees.people[check.who].includes and check.access == "floor", check.id
            assert check.energy == "any" or trees.energy[check.energy].cover == "on", check.id


def test_a_fire_door_is_known_from_the_start_and_handed_to_an_inspector(shipped: Book) -> None:
    from diagnose import Call

    trees = shipped.trees
    assert trees.facts["fire-rated"].first == "yes"
    needed = [proof.id for proof in Call(trees, {"fire-rated": "yes"}).needed_proofs()]
    assert "fire-door-drop" in needed
    assert trees.proofs["fire-door-drop"].who == "fire-door inspector"
    # Whoever does not know takes it for one.
    assert "fire-door-drop" in [proof.id for proof in Call(trees).needed_proofs()]
    assert "fire-door-drop" not in [proof.id for proof in Call(trees, {"fire-rated": "no"}).needed_proofs()]


def test_what_counts_as_shown_is_shown(shipped: Book) -> None:
    """The screens and the plain interview put above a step what the proof takes to stand there."""
    from diagnose.calls.words import cautions_of

    trees = shipped.trees
    for _, step in steps(trees):
        counted = {*step.cautions, *trees.access[step.access].cautions}
        assert {caution.id for caution in cautions_of(trees, step)} >= counted


def test_a_line_for_the_summary(outcomes: tuple[Outcome, ...]) -> None:
    said = in_words(outcomes)
    assert said.startswith(f"safety: {len(INVARIANTS)} invariants, ")
    assert f"{sum(each.visited for each in outcomes)} states visited" in said
