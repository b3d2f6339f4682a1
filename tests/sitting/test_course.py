"""The course of a call and its cards: what comes next, what may be chosen instead, what is put off and undone."""

from __future__ import annotations

import pytest

from diagnose.calls.call import CallError
from diagnose.calls.verdict import Suspect
from diagnose.calls.words import cautions_of
from diagnose.knowledge.model import UNLISTED, Trees
from diagnose.sitting import cards
from diagnose.sitting.course import alternatives, decided, plan, whom_to_call
from diagnose.sitting.say import GoTo, Undo, later_of
from diagnose.sitting.sitting import Sitting
from diagnose.sitting.view import clock_time, top_suspects, view_of

from .conftest import a_call

# --- cards ---------------------------------------------------------------------------------------------------


def test_cautions_of_place_and_step_come_worst_first_and_once(trees: Trees) -> None:
    words = [caution.word for caution in cautions_of(trees, trees.checks["aim"])]
    assert words == ["WARNING", "CAUTION", "NOTICE"]


def test_a_step_for_somebody_who_is_not_here_says_so(trees: Trees) -> None:
    call = a_call(trees)
    assert "needs a door technician, who is not here" in cards.facts_of(call, trees.remedies["heavier-wire"])
    call.state_people(["anyone", "technician", "door technician"])
    assert "door technician" in cards.facts_of(call, trees.remedies["heavier-wire"])
    assert "2 people" in cards.facts_of(call, trees.remedies["heavier-wire"])


def test_whom_to_call_names_who_can_do_the_likely_repair(trees: Trees) -> None:
    call = a_call(trees, ("near-volts", "24"), ("lamp", "blinking"), ("eye-volts", "17.5"))
    assert any(name.startswith("door technician, for: Wire to the eye too thin") for name in whom_to_call(call))


def test_a_closed_card_is_the_only_one_of_a_closed_call(trees: Trees) -> None:
    call = a_call(trees)
    call.close("left out of service", "no [part]")
    planned = plan(call)
    card = cards.card_of(call, planned)
    assert card.id == "closed"
    assert ("Reason", "no [part]") in card.lines


def test_return_is_offered_only_when_every_proof_has_passed(trees: Trees) -> None:
    call = a_call(trees)
    call.tried("realign", worked=True)
    while call.open_proofs():
        planned = plan(call)
        names = {choice.name for choice in cards.card_of(call, planned).choices}
        assert "return" not in names
        if planned.step.kind == "energy":
            call.enter(planned.step.id)
        else:
            call.proved(planned.step.id, passed=True)
    planned = plan(call)
    assert "return" in {choice.name for choice in cards.card_of(call, planned).choices}


# --- the technician's own course -----------------------------------------------------------------------------


def test_a_choice_lasts_until_it_is_done(trees: Trees) -> None:
    sitting = Sitting(a_call(trees))
    sitting.do(GoTo(kind="check", step="aim"))
    planned = sitting.put().planned
    assert planned.step.id == "aim"
    assert planned.step.why.startswith("You chose it.")
    sitting.call.answer("lens", "clean")
    assert decided(sitting.call).chosen == ("check", "aim")
    sitting.call.answer("aim", "off")
    assert decided(sitting.call).chosen is None


def test_what_is_put_off_is_what_a_step_leads_to(trees: Trees) -> None:
    call = a_call(trees, ("lamp", "dark"))
    sitting = Sitting(call)
    planned = sitting.put().planned
    assert (planned.step.kind, planned.step.goal_kind) == ("energy", "remedy")
    sitting.do(later_of(planned))
    with pytest.raises(CallError, match="put off before"):
        sitting.do(later_of(planned))
    assert call.state.put_off == (("remedy", planned.step.goal),)
    others = {other.id: other.remarks for other in alternatives(call)}
    assert "put off" in others[planned.step.goal]
    assert sitting.put().planned.goal != ("remedy", planned.step.goal)


def test_choosing_instead_is_undone_as_one(trees: Trees) -> None:
    call = a_call(trees)
    sitting = Sitting(call)
    first = sitting.put().planned
    sitting.do(GoTo(kind="check", step="lens", instead_of=first.goal))
    assert sitting.put().planned.step.id == "lens" and call.state.put_off == (first.goal,)
    sitting.do(Undo())
    assert call.state.put_off == () and decided(call).chosen is None
    assert sitting.put().planned.goal == first.goal
    with pytest.raises(CallError, match="nothing to undo"):
        sitting.do(Undo())


def test_a_step_put_off_is_taken_up_by_choosing_it(trees: Trees) -> None:
    sitting = Sitting(a_call(trees))
    first = sitting.put().planned
    sitting.do(later_of(first))
    sitting.do(GoTo(kind=first.goal[0], step=first.goal[1]))  # type: ignore[arg-type]
    assert sitting.call.state.put_off == () and sitting.put().planned.goal == first.goal


def test_alternatives_cost_no_less_than_the_best(trees: Trees) -> None:
    others = alternatives(a_call(trees))
    assert others[0].more == 0.0
    assert [other.more for other in others] == sorted(other.more for other in others)
    assert len([other for other in others if other.kind == "stop"]) == 1


def test_a_repair_without_power_is_tried_with_power(trees: Trees) -> None:
    call = a_call(trees, ("lamp", "dark"))
    call.enter("off, locked and tagged")
    sitting = Sitting(call)
    call.done("remake-splice")
    first = sitting.put()
    assert (first.planned.step.kind, first.planned.step.id) == ("energy", "powered, covers on")
    assert [choice.name for choice in first.card.choices] == ["entered", "unfinished"]
    sitting.choose(first.card, "entered")
    second = sitting.put()
    assert second.card.heading == "Try the door"
    sitting.choose(second.card, "gone")
    assert call.state.tries[-1].worked and call.state.proving


def test_a_repair_that_is_not_finished_is_gone_back_to(trees: Trees) -> None:
    call = a_call(trees, ("lamp", "dark"))
    sitting = Sitting(call)
    sitting.choose(sitting.put().card, "entered")
    assert sitting.put().card.id == "remake-splice", "what was announced follows"
    sitting.choose(sitting.put().card, "done")
    sitting.choose(sitting.put().card, "entered")
    sitting.choose(sitting.put().card, "unfinished")
    assert call.state.tries == ()
    assert sitting.put().planned.goal == ("remedy", "remake-splice")


def test_the_twin_changes_nothing(trees: Trees) -> None:
    sitting = Sitting(a_call(trees))
    sitting.twin().call.answer("lamp", "dark")
    assert "lamp" not in sitting.call.state.answers


def test_what_comes_next_in_a_call_is_not_what_came_in_its_twin(trees: Trees) -> None:
    alone, call = a_call(trees), a_call(trees)
    twin = call.twin()
    twin.answer("lamp", "dark")
    other = twin.next_step()
    for each in (alone, call):
        each.answer("lamp", "steady")
    assert call.next_step() == alone.next_step() != other
    later = call.twin()
    later.answer("lamp", "dark", mode="correction")
    assert later.next_step() == twin.next_step()


def test_a_state_is_entered_for_a_step_and_that_step_follows(trees: Trees) -> None:
    call = a_call(trees, ("lamp", "dark"))
    sitting = Sitting(call)
    card = sitting.put().card
    assert card.kind == "energy" and card.goal == ("remedy", "remake-splice")
    assert ("For", trees.remedies["remake-splice"].title) in card.lines
    sitting.choose(card, "entered")
    assert decided(call).announced == ("remedy", "remake-splice")
    assert sitting.put().planned.goal == card.goal


def test_where_something_new_changed_the_plan_it_says_so(trees: Trees) -> None:
    call = a_call(trees, ("lamp", "dark"))
    sitting = Sitting(call)
    sitting.choose(sitting.put().card, "entered")
    call.answer("lamp", "blinking", mode="correction")
    put = sitting.put()
    assert put.planned.goal != ("remedy", "remake-splice")
    assert dict(put.card.lines)["Changed"].startswith("This was to come next: ")
    assert "changed the plan" in put.planned.changed


# --- views ---------------------------------------------------------------------------------------------------


def test_trend_is_what_the_last_answer_moved(trees: Trees) -> None:
    call = a_call(trees)
    before = {suspect.cause: suspect.probability for suspect in view_of(call).suspects}
    assert all(suspect.moved is None for suspect in view_of(call).suspects)
    call.answer("lamp", "dark")
    for suspect in view_of(call).suspects:
        assert suspect.moved == pytest.approx(suspect.probability - before[suspect.cause])


def test_unlisted_is_always_shown() -> None:
    many = [Suspect(str(i), str(i), 0.1) for i in range(9)] + [Suspect(UNLISTED, "not", 0.01)]
    for most in range(1, 12):
        shown = top_suspects(many, most)
        assert len(shown) == min(most, 10)
        assert UNLISTED in {suspect.cause for suspect in shown}


def test_answers_sit_ill_together(trees: Trees) -> None:
    assert view_of(a_call(trees, ("lamp", "dark"))).doubtful == ""
    odd = a_call(trees, ("lamp", "dark"), ("aim", "off"), ("lens", "dirty"), ("eye-volts", "24"))
    assert view_of(odd).doubtful in odd.state.answers


def test_times_that_are_no_times_are_shown_as_they_are() -> None:
    assert clock_time("[soon]") == "[soon]"
    assert clock_time("2026-03-02T12:00:00+00:00").count(":") == 1
