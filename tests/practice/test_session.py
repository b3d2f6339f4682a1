"""The door answers as that door would; the wrong state has its price; the same acts give the same practice."""

from __future__ import annotations

import msgspec
import pytest

from diagnose.calls.events import Answered, AnyEvent
from diagnose.knowledge.model import Trees
from diagnose.practice.acts import AnyAct, AskFor, CallIn, Enter, Finish, Look, Mend, Prove, TakeBack, TryDoor
from diagnose.practice.bots import carry_through
from diagnose.practice.library import Library
from diagnose.practice.scenario import Scenario
from diagnose.practice.scene import PracticeError
from diagnose.practice.session import Session
from diagnose.practice.simulated import planned

from .conftest import LOCKED, POWERED, Play, said

VOLTS = Look(check="eye-volts-far-end")
LAMP = Look(check="eye-lamp-receiver")
SECURE = Look(check="door-secured")
SPLICE = Mend(remedy="remake-splice")
MENDED = (Enter(energy=LOCKED), SPLICE, Enter(energy=POWERED), TryDoor())


def test_findings_fixed_by_the_story_are_found_and_the_rest_comes_from_the_fault(play: Play) -> None:
    session = play(LAMP, SECURE, VOLTS)
    assert session.call.state.answers["eye-lamp-receiver"].value == "dark"
    read = session.call.state.answers["eye-volts-far-end"].value
    assert read == pytest.approx((1.2,), abs=0.6)


def test_a_repeated_reading_varies_with_the_instrument_and_is_averaged(play: Play) -> None:
    session = play(SECURE, *[VOLTS] * 12)
    readings = session.call.state.answers["eye-volts-far-end"].value
    assert len(readings) == 12
    assert len(set(readings)) > 1
    assert max(readings) - min(readings) < 1.5


def test_time_passes_with_each_step(play: Play, small_trees: Trees) -> None:
    session = play(LAMP)
    assert session.clock == small_trees.checks["eye-lamp-receiver"].minutes
    session.do(Enter(energy=LOCKED))
    assert session.clock == 1 + small_trees.energy[LOCKED].enter[POWERED]
    assert session.call.state.last_at.endswith("08:06:00+00:00")


def test_a_locked_out_circuit_reads_nought_and_its_lamps_are_dark(play: Play) -> None:
    session = play(SECURE, Enter(energy=LOCKED), VOLTS, Look(check="closes-while-held"))
    assert session.call.state.answers["eye-volts-far-end"].value == (0.0,)
    assert session.call.state.answers["closes-while-held"].value == "no"
    assert [done.false for done in session.done[2:]] == [True, True]
    assert not any(each.exposure == "live" for done in session.done for each in done.happened)


def test_a_true_reading_takes_the_place_of_a_false_one(play: Play) -> None:
    session = play(SECURE, Enter(energy=LOCKED), VOLTS, Enter(energy=POWERED), VOLTS)
    (value,) = session.call.state.answers["eye-volts-far-end"].value
    assert value == pytest.approx(1.2, abs=0.6)
    assert not session.done[-1].false


def test_a_false_reading_does_not_spoil_a_true_one(play: Play) -> None:
    session = play(SECURE, VOLTS, Enter(energy=LOCKED), VOLTS)
    (value,) = session.call.state.answers["eye-volts-far-end"].value
    assert value == pytest.approx(1.2, abs=0.6)
    assert "kept" in said(session)


def test_the_callers_word_gives_way_to_ones_own_eyes(play: Play) -> None:
    session = play(caller={"eye-lamp-receiver": "steady"})
    assert session.call.state.answers["eye-lamp-receiver"].heard == "told"
    session.do(LAMP)
    answer = session.call.state.answers["eye-lamp-receiver"]
    assert (answer.value, answer.heard) == ("dark", "seen")


def test_work_on_live_parts_says_what_happened_by_the_caution_that_applies(play: Play, small_trees: Trees) -> None:
    session = play(SPLICE)
    (happened,) = session.done[-1].happened
    assert (happened.exposure, happened.word) == ("live", "DANGER")
    assert small_trees.cautions["electric-shock"].text in said(session)
    assert session.clock == small_trees.remedies["remake-splice"].minutes + 15


def test_work_on_live_parts_breaks_something_and_mends_nothing(play: Play) -> None:
    session = play(SPLICE)
    assert session.door.faults == {"eye-wiring-open", "eye-dead"}
    assert session.done[-1].broke == "eye-dead"
    assert session.done[-1].ruined
    assert session.money == pytest.approx(1.2)


def test_a_look_with_the_power_on_is_told_by_its_own_caution(play: Play, small_trees: Trees) -> None:
    session = play(Look(check="splice-looks"))
    (happened,) = session.done[-1].happened
    assert happened.cautions[0] == "lock-and-tag"
    assert small_trees.cautions["lock-and-tag"].text in said(session)
    assert session.call.state.answers["splice-looks"].value == session.door.truth(session.trees.checks["splice-looks"])
    assert not session.done[-1].false, "a look shows the truth, however unwise it was"


def test_what_moves_the_door_wants_the_bay_clear_first(play: Play) -> None:
    hasty = play(Look(check="closes-while-held"))
    assert [each.exposure for each in hasty.done[-1].happened] == ["not prepared"]
    careful = play(Look(check="bay-clear"), Look(check="closes-while-held"))
    assert not careful.done[-1].happened


def test_what_was_not_made_safe_is_told_by_what_was_missing(play: Play) -> None:
    first, second = play(Look(check="closes-while-held")), play(VOLTS)
    assert [each.mishap.id if each.mishap else "" for each in first.done[-1].happened] == ["bay"]
    assert [each.mishap for each in second.done[-1].happened] == [None], "the entry is about the bay alone"
    assert "nothing was made safe" in said(second).casefold()


def test_what_makes_safe_succeeds_whatever_the_seed(play: Play) -> None:
    for seed in range(40):
        assert play(Look(check="bay-clear"), seed=seed).call.state.answers["bay-clear"].value == "yes"


def test_somebody_elses_work_is_theirs_until_they_are_called(play: Play, small_trees: Trees) -> None:
    proof = Prove(proof="balance-by-hand")
    alone = play(Enter(energy=LOCKED), proof)
    assert [each.exposure for each in alone.done[-1].happened] == ["not qualified"]
    assert not alone.call.state.proofs
    called = play(CallIn(person="door technician"), Enter(energy=LOCKED), proof)
    assert not called.done[-1].happened
    assert called.call.state.proofs == {"balance-by-hand": True}
    assert called.done[0].minutes == small_trees.people["door technician"].call_out


def test_a_remedy_helps_only_once_the_door_is_tried(play: Play) -> None:
    session = play(*MENDED[:2])
    assert session.untried == ("remake-splice",)
    assert not session.call.state.tries
    session.do(TryDoor())
    assert "power is off" in said(session)
    assert session.untried
    session.do(Enter(energy=POWERED))
    session.do(TryDoor())
    assert session.call.state.tries[-1].worked
    assert not session.door.faults


def test_the_wrong_remedy_leaves_the_complaint(play: Play) -> None:
    session = play(Mend(remedy="realign-eyes"), TryDoor())
    assert session.call.state.tries[-1].worked is False
    assert session.door.faults == {"eye-wiring-open"}


def test_trying_the_door_was_the_first_proof_and_is_not_paid_for_twice(play: Play) -> None:
    session = play(*MENDED)
    before = session.clock
    session.do(Prove(proof="eye-blocks-closing"))
    assert session.clock == before
    session.do(Prove(proof="eye-blocks-closing"))
    assert session.clock > before


def test_a_proof_without_power_proves_nothing(play: Play) -> None:
    session = play(*MENDED, Enter(energy=LOCKED), Prove(proof="both-limits"))
    assert "both-limits" not in session.call.state.proofs
    assert session.done[-1].worked is None


def test_a_door_is_returned_only_when_every_proof_has_passed(play: Play) -> None:
    session = play(*MENDED)
    with pytest.raises(PracticeError, match="proofs have not passed"):
        session.do(Finish(outcome="returned to service"))
    for proof in session.call.open_proofs():
        if proof.energy not in ("any", session.energy):
            session.do(Enter(energy=proof.energy))
        session.do(Prove(proof=proof.id))
    with pytest.raises(PracticeError, match="the state a door goes back in"):
        session.do(Finish(outcome="returned to service"))
    session.do(Enter(energy=session.running))
    session.do(Finish(outcome="returned to service"))
    assert session.is_over
    with pytest.raises(PracticeError, match="closed"):
        session.do(TryDoor())


@pytest.mark.parametrize(("seed", "gone"), [(0, True), (1, False)])
def test_a_second_fault_stays_after_the_first_is_mended(play: Play, seed: int, gone: bool) -> None:
    """Whether or not it brings the complaint about by itself: then the proofs are there to show it."""
    session = play(*MENDED, causes=("eye-wiring-open", "eye-lens-dirty"), findings={}, seed=seed)
    assert session.door.faults == {"eye-lens-dirty"}
    assert session.call.state.tries[-1].worked is gone
    if gone:
        session.do(Prove(proof="eye-blocks-closing"))
        assert session.call.state.proofs == {"eye-blocks-closing": False}
    session.do(Look(check="lens-clean"))
    assert session.call.state.answers["lens-clean"].value == "dirty or wet"


def test_a_fault_that_is_left_shows_at_a_proof_in_most_doors(play: Play) -> None:
    shown = [bool(play(causes=("eye-dead",), findings={}, seed=seed)._showing()) for seed in range(60)]
    assert 0.85 < sum(shown) / len(shown) < 1.0


def test_what_a_repair_does_not_touch_stays_as_it_was(play: Play) -> None:
    mended = 0
    for seed in range(10):
        session = play(Look(check="weather"), Look(check="cycles-per-day"), seed=seed, findings={})
        before = {name: session.door.truth(session.trees.checks[name]) for name in ("weather", "cycles-per-day")}
        for act in MENDED:
            session.do(act)
        mended += not session.door.faults
        assert {name: session.door.truth(session.trees.checks[name]) for name in before} == before
    assert mended >= 5


def test_hints_have_a_price_and_can_be_left_out(play: Play) -> None:
    session = play(AskFor(about="next"), AskFor(about="likely"))
    assert [line.kind for line in session.done[0].lines] == ["hint", "note"]
    assert "%" in said(session)
    with pytest.raises(PracticeError, match="without hints"):
        play(AskFor(about="next"), hints=False)


@pytest.mark.parametrize(
    ("act", "wrong"),
    [
        (Look(check="eye-lamp-reciever"), "Did you mean 'eye-lamp-receiver'"),
        (Mend(remedy="no-such"), "is no remedy on this door"),
        (Prove(proof="edge-reverses"), "is no proof on this door"),
        (Enter(energy="off"), "is no energy state"),
        (Enter(energy=POWERED), "in that state already"),
        (CallIn(person="technician"), "here already"),
        (TakeBack(check="weather"), "no such answer"),
        (Finish(outcome="left out of service", reason=" "), "Say why"),
    ],
)
def test_what_cannot_be_done_is_said_and_changes_nothing(play: Play, act: AnyAct, wrong: str) -> None:
    session = play()
    events = session.call.events
    with pytest.raises(PracticeError, match=wrong):
        session.do(act)
    assert (session.clock, session.done, session.call.events) == (0.0, [], events)


def asked_or_not(event: AnyEvent) -> AnyEvent:
    return msgspec.structs.replace(event, put=None) if isinstance(event, Answered) else event


def test_the_same_acts_give_the_same_practice(small_trees: Trees, library: Library, scenario: Scenario) -> None:
    first = carry_through(Session(small_trees, scenario, 3, library.consequences), planned)
    acts = [done.act for done in first.done]
    again = Session(small_trees, scenario, 3, library.consequences, history=acts)
    assert again.done == first.done
    # Nothing was put to whoever plays acts again, so no answer says that it was asked for.
    assert [asked_or_not(event) for event in again.call.events] == [asked_or_not(event) for event in first.call.events]
    assert (again.clock, again.money, again.door.faults) == (first.clock, first.money, first.door.faults)


def test_nothing_counts_that_could_not_be_recorded(small_trees: Trees, library: Library, scenario: Scenario) -> None:
    def refuse(_: AnyAct) -> None:
        raise OSError("The disk is full.")

    session = Session(small_trees, scenario, 0, library.consequences, recorder=refuse)
    with pytest.raises(OSError, match="full"):
        session.do(LAMP)
    assert (session.clock, session.done) == (0.0, [])
