"""Choices are judged beside the planner's, by what was known: it loses nothing, bad habits do, and luck is no merit."""

from __future__ import annotations

from statistics import fmean

import numpy as np
import pytest

from diagnose.calls.call import Call
from diagnose.knowledge.model import Trees
from diagnose.practice.acts import AskFor, CallIn, Enter, Finish, Look, Mend, Prove, TryDoor
from diagnose.practice.bots import TRAINEES, carry_through
from diagnose.practice.debrief import debrief
from diagnose.practice.judging import judge
from diagnose.practice.library import Library, load_library
from diagnose.practice.scenario import Scenario
from diagnose.practice.scene import PracticeError
from diagnose.practice.score import CAUTION_POINTS, MOST, is_solved, score, wasted_parts
from diagnose.practice.session import Session
from diagnose.practice.simulated import planned

from .conftest import LOCKED, POWERED, Play

LEAVE = Finish(outcome="left out of service", reason="Enough for today.")


def played(trees: Trees, library: Library, scenario: Scenario, name: str, seed: int, careful: bool = True) -> Session:
    session = Session(trees, scenario, seed, library.consequences)
    return carry_through(session, TRAINEES[name], careful=careful)


@pytest.mark.parametrize("seed", range(8))
def test_the_planners_own_way_loses_nothing(
    small_trees: Trees, library: Library, scenario: Scenario, seed: int
) -> None:
    session = played(small_trees, library, scenario, "planner", seed)
    judged = judge(session)
    assert sum(item.loss for item in judged) == 0
    assert not any(item.is_wrong for item in judged)
    assert score(session, judged).total == 100


def test_the_best_step_named_is_the_planners(play: Play) -> None:
    """At every choice that lost something, the better step is the one a call of the same knowledge would take next."""
    looks = (Look(check="weather"), Look(check="impact"))
    session = play(*looks, Mend(remedy="clean-lenses"), TryDoor(), Look(check="power-event"), LEAVE)
    judged = judge(session)
    marks = [session.opening, *(done.events for done in session.done)]
    better = 0
    for before, item in zip(marks, judged, strict=False):
        if not item.best:
            continue
        better += 1
        call = Call(session.trees, history=session.call.events[:before])
        step = call.next_step()
        name = step.goal if step.kind == "energy" else step.id
        kinds = {**session.trees.checks, **session.trees.remedies}
        assert item.best in (getattr(kinds[name], "text", ""), getattr(kinds[name], "title", ""))
        assert item.loss > 0
    assert better >= 2


def test_a_loss_is_what_the_plan_itself_says(play: Play) -> None:
    """For a step within the plan: the cost of beginning with it, less that of the best."""
    session = play()
    planner = session.call.planner
    best = planner.best()
    costs = {name: cost for kind, name, cost in best.alternatives if kind == "check" and name not in best.way}
    name = max(costs, key=lambda each: costs[each])
    candidate = next(c for c in planner.candidates if c.way.goal == name)
    session.do(Look(check=next(s for s in candidate.way.steps if session.trees.checks[s].kind != "computed")))
    (item,) = judge(session)
    assert item.loss == pytest.approx(costs[name] - best.expected_cost, abs=0.51)


def test_a_lucky_guess_is_judged_as_a_guess(play: Play) -> None:
    session = play(Enter(energy=LOCKED), Mend(remedy="remake-splice"), Enter(energy=POWERED), TryDoor())
    judged = judge(session)
    assert session.call.state.tries[-1].worked
    assert judged[1].loss > 5
    assert "chance that" in judged[1].fault
    assert judged[1].done.removed == ("eye-wiring-open",)


def test_what_could_tell_nothing_costs_all_of_it(play: Play) -> None:
    session = play(Look(check="age-of-operator"))
    (item,) = judge(session)
    assert item.loss == pytest.approx(session.trees.checks["age-of-operator"].minutes, abs=0.5)


def test_changing_states_for_nothing_is_charged_to_the_next_step(play: Play) -> None:
    straight = judge(play(Look(check="eye-lamp-receiver")))[-1]
    detour = judge(play(Enter(energy=LOCKED), Enter(energy=POWERED), Look(check="eye-lamp-receiver")))[-1]
    assert detour.loss == pytest.approx(straight.loss + 5 + 4)
    assert "not needed yet" in detour.fault


def test_looking_for_oneself_at_what_was_told_is_a_step_like_another(play: Play) -> None:
    told = play(Look(check="eye-lamp-receiver"), caller={"eye-lamp-receiver": "steady"})
    assert judge(told)[-1].loss < 5
    twice = play(Look(check="eye-lamp-receiver"), Look(check="eye-lamp-receiver"))
    assert judge(twice)[-1].loss >= 1


def test_bits_are_how_far_belief_in_the_truth_moved(play: Play) -> None:
    session = play(Look(check="eye-lamp-receiver"))
    (item,) = judge(session)
    before = Call(session.trees, history=session.call.events[: session.opening])
    held = {each.cause: each.probability for each in before.likely()}["eye-wiring-open"]
    now = {each.cause: each.probability for each in session.call.likely()}["eye-wiring-open"]
    assert item.gained == pytest.approx(np.log2(now / held))
    assert item.belief == {"eye-wiring-open": pytest.approx(now)}
    assert item.gained > 0


def test_a_gamble_that_the_plan_would_have_made_is_forgiven(
    small_trees: Trees, library: Library, scenario: Scenario
) -> None:
    """A part that failed to help costs no thrift where the best plan would have tried it."""
    gambles = 0
    for seed in range(30):
        session = played(small_trees, library, scenario, "planner", seed)
        judged = judge(session)
        wasted = wasted_parts(session, judged)
        gambles += len(wasted)
        assert all(item.forgiven for item in wasted)
        assert next(p for p in score(session, judged).parts if p.habit == "thrift").points == MOST["thrift"]
    assert gambles, "no door of these tempted anybody"


# --- a door that is left to somebody else ---------------------------------------------------------------------------


@pytest.fixture
def refused(shipped_trees: Trees) -> Session:
    library = load_library(shipped_trees)
    session = Session(shipped_trees, library.scenarios["windlethrop-gliderport"], 0, library.consequences)
    assert session.call.refusal()
    return session


def test_leaving_a_door_that_is_somebody_elses_is_the_whole_answer(refused: Session) -> None:
    carry_through(refused, planned)
    assert [type(done.act) for done in refused.done] == [Finish]
    judged = judge(refused)
    assert is_solved(refused) and score(refused, judged).total == 100
    assert not judged[-1].is_wrong
    assert debrief(refused, own=False).missing_proofs == ()


def test_looking_into_a_door_that_is_somebody_elses_loses_its_minutes(refused: Session) -> None:
    refused.do(Look(check="stop-repeats"))
    refused.do(LEAVE)
    first, last = judge(refused)
    assert first.loss == refused.trees.checks["stop-repeats"].minutes and first.why == refused.call.refusal()
    assert last.loss == 0 and is_solved(refused)


def test_mending_a_door_that_is_somebody_elses_is_no_result(refused: Session) -> None:
    carry_through(refused, TRAINEES["part-swapper"])
    assert any(isinstance(done.act, Mend) for done in refused.done)
    assert not is_solved(refused)
    judged = judge(refused)
    assert any("left to somebody" in item.fault for item in judged)
    result = next(part for part in score(refused, judged).parts if part.habit == "result")
    assert result.points is not None and result.points < MOST["result"]


# --- the score -----------------------------------------------------------------------------------------------------


def parts(session: Session) -> dict[str, float | None]:
    return {part.habit: part.points for part in score(session, judge(session)).parts}


def test_parts_bought_for_nothing_cost_thrift(play: Play) -> None:
    session = play(Enter(energy=LOCKED), Mend(remedy="replace-eye-pair"), LEAVE)
    (waste,) = wasted_parts(session, judge(session))
    assert waste.money == pytest.approx(97.4)
    assert parts(session)["thrift"] == pytest.approx(MOST["thrift"] * 0.5 ** (97.4 / 60))


def test_acting_against_cautions_costs_safety_by_the_signal_word(play: Play) -> None:
    warned = play(Look(check="closes-while-held"), LEAVE)
    assert parts(warned)["safety"] == MOST["safety"] - CAUTION_POINTS["WARNING"]
    in_danger = play(Mend(remedy="remake-splice"), LEAVE)
    assert parts(in_danger)["safety"] == 0, "what might have killed somebody leaves nothing of the part"


def test_a_reading_that_says_nothing_costs_the_instruments(play: Play) -> None:
    volts = Look(check="eye-volts-far-end")
    secure = Look(check="door-secured")
    assert parts(play(LEAVE))["instruments"] is None
    assert parts(play(secure, volts, LEAVE))["instruments"] == MOST["instruments"]
    assert parts(play(secure, Enter(energy=LOCKED), volts, LEAVE))["instruments"] == 0
    again = play(secure, Enter(energy=LOCKED), volts, Enter(energy=POWERED), volts, LEAVE)
    assert parts(again)["instruments"] == MOST["instruments"] / 2


def test_handing_over_where_the_plan_would_is_no_failure(play: Play) -> None:
    """Two honest tries of everything: then the best plan gives the door up too."""
    remedies = ("remake-splice", "heavier-eye-wire", "replace-eye-pair", "realign-eyes", "clean-lenses")
    session = play(causes=("eye-dead",))
    session.door.faults = {"unlisted"}
    for remedy in remedies * 2:
        energy = session.trees.remedies[remedy].energy
        for act in (Enter(energy=energy), Mend(remedy=remedy), Enter(energy=POWERED), TryDoor()):
            if not isinstance(act, Enter) or act.energy != session.energy:
                session.do(act)
    carry_through(session, planned)
    assert session.call.state.outcome == "left out of service"
    assert parts(session)["result"] == MOST["result"]


def test_how_it_ends_is_worth_what_it_is_worth(play: Play) -> None:
    assert parts(play(LEAVE))["result"] == 5
    mended = (Enter(energy=LOCKED), Mend(remedy="remake-splice"), Enter(energy=POWERED), TryDoor())
    assert parts(play(*mended, LEAVE))["result"] == 12
    session = play(*mended)
    for proof in session.call.open_proofs():
        if proof.energy not in ("any", session.energy):
            session.do(Enter(energy=proof.energy))
        session.do(Prove(proof=proof.id))
    locked = play(*(done.act for done in session.done))
    if locked.energy == POWERED:
        locked.do(Enter(energy=LOCKED))
    with pytest.raises(PracticeError, match="the state a door goes back in"):
        locked.do(Finish(outcome="returned to service"))
    if session.energy != POWERED:
        session.do(Enter(energy=POWERED))
    session.do(Finish(outcome="returned to service"))
    assert parts(session)["result"] == 20
    assert judge(session)[-1].loss == 0, "the way back to power is part of handing it back"


def test_hints_are_taken_off_at_their_price(play: Play) -> None:
    without, asked = play(LEAVE), play(AskFor(about="next"), AskFor(about="likely"), LEAVE)
    total = score(without, judge(without)).total
    found = score(asked, judge(asked))
    assert found.hints == 5
    assert found.total == pytest.approx(total - 5)


def test_a_proof_nobody_here_may_sign_is_said_to_prove_nothing(play: Play) -> None:
    session = play(Enter(energy=LOCKED), Prove(proof="balance-by-hand"), LEAVE)
    assert judge(session)[1].is_wrong
    called = play(CallIn(person="door technician"), Enter(energy=LOCKED), Prove(proof="balance-by-hand"), LEAVE)
    assert not any(item.done.happened for item in judge(called))


def test_trainees_of_bad_habits_score_in_order(small_trees: Trees, library: Library, scenario: Scenario) -> None:
    """On a fault whose part is not the one that is swapped first."""
    means = {}
    for name in TRAINEES:
        sessions = [played(small_trees, library, scenario, name, seed) for seed in range(8)]
        means[name] = fmean(score(session, judge(session)).total for session in sessions)
    assert means["planner"] > means["information-greedy"] > means["random"] > means["part-swapper"]


def test_haste_costs_safety(small_trees: Trees, library: Library, scenario: Scenario) -> None:
    hasty = Session(small_trees, scenario, 1, library.consequences)
    carry_through(hasty, planned, careful=False)
    careful = played(small_trees, library, scenario, "planner", 1)
    assert parts(hasty)["safety"] < parts(careful)["safety"] == MOST["safety"]


def test_the_score_is_the_same_by_seed(small_trees: Trees, library: Library, scenario: Scenario) -> None:
    for name in TRAINEES:
        first, second = (played(small_trees, library, scenario, name, 4) for _ in range(2))
        assert score(first, judge(first)) == score(second, judge(second))
