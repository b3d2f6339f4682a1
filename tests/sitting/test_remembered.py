"""What a call remembers, whatever happens between two acts: every act is followed by a restart."""

from __future__ import annotations

import io
from pathlib import Path

import msgspec
import pytest

from diagnose.calls import events as ev
from diagnose.calls.call import Call, CallError, WordNeeded
from diagnose.calls.store import Store
from diagnose.commands.console import Console, EndOfInput
from diagnose.commands.interview import Interview
from diagnose.knowledge.model import EnergyState, Source, Trees, isolation
from diagnose.sitting import cards, say, telling
from diagnose.sitting.choices import NOT_THERE
from diagnose.sitting.course import plan
from diagnose.sitting.sitting import Sitting
from diagnose.sitting.view import SOUND, suspects, view_of

from .conftest import a_call

SPLICE = "remake-splice"


def restarted(sitting: Sitting) -> Sitting:
    """The same call, taken up by another program from what is on the disk."""
    return Sitting(Call(sitting.call.trees, history=sitting.call.events))


def chosen(sitting: Sitting, name: str, text: str = "") -> Sitting:
    sitting.choose(sitting.put().card, name, text)
    return restarted(sitting)


def repaired(trees: Trees, *symptoms: str) -> Sitting:
    """The wire is spliced and the power is back: the door is to be tried."""
    sitting = Sitting(a_call(trees, ("lamp", "dark"), symptoms=symptoms or ("lamp-wrong",)))
    sitting.do(say.GoTo(kind="remedy", step=SPLICE))
    for name in ("entered", "done", "entered"):
        sitting = chosen(sitting, name)
    return sitting


def test_a_finished_repair_is_gone_on_with_at_trying_it(trees: Trees) -> None:
    sitting = repaired(trees)
    card = sitting.put().card
    assert (card.heading, card.complaint) == ("Try the door", "lamp-wrong")
    assert sitting.call.state.untried == SPLICE and view_of(sitting.call).phase == "Repaired, not yet tried"
    assert view_of(sitting.call).trail[-1].said == "done, not yet tried"


def test_each_complaint_has_its_own_outcome(trees: Trees) -> None:
    sitting = repaired(trees, "lamp-wrong", "stays-open")
    assert sitting.put().card.heading == "Try the door, 1 of 2"
    sitting = chosen(sitting, "gone")
    assert sitting.put().card.complaint == "stays-open" and sitting.put().card.heading == "Try the door, 2 of 2"
    sitting = chosen(sitting, "better")
    assert sitting.call.state.outcomes == {"lamp-wrong": "gone", "stays-open": "better"}
    assert not sitting.call.state.proving and sitting.put().card.kind != "proof"
    assert view_of(sitting.call).trail[-1].said == "done, better, not gone"


def test_too_early_waits_and_comes_back_to_the_question(trees: Trees, tmp_path: Path) -> None:
    sitting = repaired(trees)
    with pytest.raises(CallError, match="Say when"):
        sitting.choose(sitting.put().card, "too early")
    sitting = chosen(sitting, "too early", "after rain")
    card = sitting.put().card
    assert card.complaint == "lamp-wrong" and ("Look again", "after rain") in card.lines
    assert any(choice.name == "wait" for choice in card.choices)
    assert not any(item.worked is False for item in sitting.call.state.tries), "nothing pretends that it failed"
    store = Store.open(tmp_path / "calls.sqlite3")
    call_id = store.begin()
    store.append(call_id, *sitting.call.events)
    assert [call.waiting for call in store.calls()] == ["waiting: look again after rain"]
    store.append(
        call_id,
        ev.Judged(
            sequence=len(sitting.call.events) + 1, at="2026-03-02T12:00:00+00:00", outcomes={"lamp-wrong": "gone"}
        ),
    )
    assert [call.waiting for call in store.calls()] == [""]
    store.close()
    sitting = chosen(sitting, "gone")
    assert sitting.call.state.proving


def test_a_part_that_is_not_there_is_said_with_one_key_and_puts_the_repair_off(trees: Trees) -> None:
    sitting = Sitting(a_call(trees, ("lamp", "dark")))
    sitting.do(say.GoTo(kind="remedy", step=SPLICE))
    sitting = chosen(sitting, "entered")
    card = sitting.put().card
    part = trees.parts["connector"].title
    assert [(each.key, each.label) for each in card.choices][2:] == [("3", "A part is not there")]
    told = sitting.choose(card, card.choices[2].name)
    assert told == f"Put off: {trees.remedies[SPLICE].title} (not there: {part})."
    sitting = restarted(sitting)
    assert sitting.call.state.missing == {SPLICE: ("connector",)}
    way = next(each for each in sitting.instead(sitting.put().planned) if each.id == SPLICE)
    assert f"not there: {part}" in way.remarks
    assert part in sitting.do(say.Undo()) and not sitting.call.state.missing


def test_of_several_parts_those_that_are_not_there_are_named(trees: Trees) -> None:
    remedy = msgspec.structs.replace(trees.remedies[SPLICE], parts={"connector": 2, "tape": 1, "clip": 4})
    call = a_call(msgspec.structs.replace(trees, remedies={**trees.remedies, SPLICE: remedy}), ("lamp", "dark"))
    sitting = Sitting(call)
    for text in ("", "4", "tape", "1, x"):
        with pytest.raises(CallError, match="by number"):
            sitting.do(say.Choose(kind="remedy", step=SPLICE, name=NOT_THERE, text=text))
    sitting.do(say.Choose(kind="remedy", step=SPLICE, name=NOT_THERE, text="3, 1"))
    assert call.state.missing == {SPLICE: ("clip", "connector")}
    sitting.do(say.Choose(kind="remedy", step=SPLICE, name=NOT_THERE, text="2"))
    assert call.state.missing == {SPLICE: ("clip", "connector", "tape")}


def test_a_failed_remedy_is_put_again_only_with_the_reason_why(trees: Trees) -> None:
    sitting = chosen(repaired(trees), "still there")
    again = trees.remedies[SPLICE]
    assert "the complaint stayed" in cards.done_before(sitting.call, SPLICE)
    assert "is the part good" in cards.done_before(sitting.call, SPLICE)
    sitting.call.answer("eye-volts", "0.5 V")
    assert "What was found since" in cards.done_before(sitting.call, SPLICE)
    sitting.do(say.GoTo(kind="remedy", step=SPLICE))
    sitting.choose(sitting.put().card, "entered")
    assert dict(sitting.put().card.lines)["Done before"].startswith("It was done")
    assert again.title in [way.title for way in sitting.repairs() if "done, no change" in way.remarks]


def test_what_a_repair_changed_is_not_read_as_it_was_found_before(trees: Trees) -> None:
    call = a_call(trees, ("lens", "dirty"), ("lamp", "blinking"))
    assert {"lens", "lamp"} <= set(call.inference.known)
    dirty = next(each.probability for each in call.likely() if each.cause == "lens-dirty")
    call.tried("clean-lens", worked=False)
    now = {each.cause: each.probability for each in call.likely()}
    assert now["lens-dirty"] < dirty / 2, "it was seen before it was cleaned"
    assert "lamp" in call.inference.known, "what other causes show too still stands"
    assert all(each.way.goal != "lens" for each in call.planner.candidates), "nobody looks again for nothing"


def test_the_suspects_add_up_and_pairs_are_said_as_pairs(trees: Trees) -> None:
    call = a_call(trees, ("lamp", "blinking"), ("lens", "dirty"))
    call.tried("clean-lens", worked=False)
    found = view_of(call).suspects
    assert sum(each.probability for each in found) == pytest.approx(1.0)
    assert sorted((each.probability for each in found), reverse=True) == [each.probability for each in found]
    assert any(" + " in each.cause and each.title.startswith("Two at once: ") for each in found)
    assert "unlisted" in [each.cause for each in found]
    said = io.StringIO()
    with pytest.raises(EndOfInput):
        Interview(call, "x", Console(200, io.StringIO("\n\n\n\nlikely\n"), said)).run()
    assert "Two at once: " in said.getvalue()


def test_where_a_remedy_s_chance_is_not_its_cause_s_it_is_explained(trees: Trees) -> None:
    call = a_call(trees)
    for repair in call.planner.remedies:
        likely = {each.cause: each.probability for each in call.likely()}
        first = max(likely[c] for c in trees.causes if c in likely and repair.remedy.id in trees.causes[c].remedies)
        told = cards.chance_explained(call, repair.remedy)
        assert bool(told) == (abs(first - repair.fixes) > 0.03), repair.remedy.id


def test_undoing_a_failed_proof_asks_for_a_reason(trees: Trees) -> None:
    call = a_call(trees)
    call.tried("realign", worked=True)
    sitting = Sitting(call)
    while sitting.put().card.kind != "proof":
        sitting = chosen(sitting, "entered")
    sitting = chosen(sitting, "failed")
    with pytest.raises(WordNeeded) as wanted:
        sitting.do(say.Undo())
    (choice,) = say.words_for(wanted.value)
    assert choice.asks
    sitting.do(say.with_word(say.Undo(), choice.name, "it was another door"))
    assert sitting.call.state.proofs == {}
    assert sitting.call.events[-1].reason == "it was another door"


def test_taking_a_device_off_asks_what_became_of_it(shipped_trees: Trees) -> None:
    call = Call(shipped_trees, {"drive": "trolley", "devices": ("photo-eye", "timer")}, ["stops-short"])
    call.tried("set-limits", worked=False)
    act = say.StateFact(fact="devices", value=("timer",))
    sitting = Sitting(call)
    with pytest.raises(WordNeeded) as wanted:
        sitting.do(act)
    names = [choice.name for choice in say.words_for(wanted.value)]
    assert names == ["never there", "taken off"]
    sitting.do(say.with_word(act, "taken off"))
    stated = call.events[-1]
    assert isinstance(stated, ev.FactStated) and stated.became == "taken off"


def test_what_is_missing_is_said_where_closing_is_refused(trees: Trees) -> None:
    call = a_call(trees)
    with pytest.raises(CallError) as refused:
        Sitting(call).do(say.Close(outcome="returned to service"))
    assert all(each.title in str(refused.value) for each in call.missing()[:3])


def test_every_other_source_of_energy_stands_on_the_card_of_a_change_of_state(
    shipped_trees: Trees, monkeypatch: pytest.MonkeyPatch
) -> None:
    state = shipped_trees.energy["off, locked and tagged"]
    assert isinstance(state, EnergyState)
    call = Call(shipped_trees, {"drive": "trolley"}, ["stops-short"])
    call.take_up("remedy", "set-limits")
    planned = plan(call)
    assert planned.step.kind == "energy"
    sources = {"battery": Source(how="Unplug the battery.")}
    other = msgspec.structs.replace(state, sources=sources)
    changed = msgspec.structs.replace(shipped_trees, energy={**shipped_trees.energy, state.id: other})
    monkeypatch.setattr(call, "trees", changed)
    assert ("Before you touch it", "Unplug the battery.") in cards.card_of(call, planned).lines
    assert isolation(changed.energy[state.id], call.state.facts) == ("Unplug the battery.",)


def test_between_a_repair_and_its_trial_nothing_is_said_that_the_trial_will_tell(trees: Trees) -> None:
    sitting = repaired(trees)
    put = sitting.put()
    assert put.planned.step.expected_minutes_left == 0 and put.card.title.endswith("is it gone?")
    assert [line.text for line in telling.why(sitting.call, put.planned)][1:] == [put.planned.step.why]
    assert "done, not yet tried" in next(way for way in sitting.repairs() if way.remedy == SPLICE).remarks
    sound = [each.title for each in suspects(sitting.call) if each.cause == SOUND]
    again = [each.title for each in suspects(chosen(sitting, "still there").call) if each.cause == SOUND]
    assert sound == ["Nothing is wrong any more"] and again == ["No fault is left, and what was said of it is a slip"]


def test_nothing_can_be_wrong_no_more_while_a_complaint_is_left_that_the_repair_could_not_end(trees: Trees) -> None:
    sitting = Sitting(a_call(trees, ("lens", "dirty"), symptoms=("lamp-wrong", "stays-open")))
    sitting.do(say.GoTo(kind="remedy", step="clean-lens"))
    while sitting.put().card.heading != "Try the door, 1 of 2":
        sitting = chosen(sitting, "entered" if sitting.put().card.kind == "energy" else "done")
    first = chosen(restarted(sitting), "gone")
    second = [chosen(restarted(first), name, "tomorrow") for name in ("still there", "too early")]
    for each in (sitting, first, *second):
        listed = suspects(each.call)
        assert SOUND not in {suspect.cause for suspect in listed}
        assert sum(suspect.probability for suspect in listed) == pytest.approx(1)
    after = chosen(first, "gone")
    assert next(each.probability for each in suspects(after.call) if each.cause == SOUND) > 0.5


def test_a_complaint_still_there_counts_while_another_is_not_judged_yet(trees: Trees) -> None:
    sitting = chosen(repaired(trees, "lamp-wrong", "stays-open"), "still there")
    sound = next(each for each in suspects(sitting.call) if each.cause == SOUND)
    assert sound.probability < 0.5 and sound.title == "No fault is left, and what was said of it is a slip"
