"""Steps left for later: remembered by the call itself, whoever goes on with it and wherever."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose.calls import events as ev
from diagnose.calls.call import Call, CallError
from diagnose.calls.document import text_of
from diagnose.calls.exchange import export_call, import_call, read_copy
from diagnose.calls.next_step import Step
from diagnose.calls.report import record
from diagnose.calls.state import fold
from diagnose.calls.store import Store, decode
from diagnose.knowledge.model import Trees

FACTS = {"drive": "trolley", "devices": ("photo-eye", "timer"), "fire-rated": "no"}


def goal(step: Step) -> tuple[str, str]:
    return step.goal_kind, step.goal


@pytest.fixture
def call(small_trees: Trees) -> Call:
    return Call(small_trees, FACTS, ["eye-lamp-wrong"])


def test_what_was_put_off_is_not_suggested_while_there_is_something_else(call: Call, small_trees: Trees) -> None:
    seen = []
    for _ in range(4):
        step = call.next_step()
        assert goal(step) not in seen
        assert step.why
        seen.append(goal(step))
        call.put_off(*goal(step))
    resumed = Call(small_trees, history=[decode(each) for each in map(_json, call.events)])
    assert resumed.state.put_off == tuple(seen)
    assert goal(resumed.next_step()) not in seen
    assert goal(resumed.next_step(quick=True)) not in seen


def _json(event: ev.AnyEvent) -> str:
    from diagnose.calls.store import encode

    return encode(event)


def test_where_everything_was_put_off_the_best_comes_back(call: Call) -> None:
    first = goal(call.next_step())
    for kind, identity, _ in call.planner.best().alternatives:
        if kind != "stop":
            call.put_off(kind, identity)
    assert goal(call.next_step()) == first


def test_a_quick_step_passes_over_what_was_put_off(call: Call) -> None:
    first = call.next_step(quick=True)
    call.put_off(*goal(first))
    assert goal(call.next_step(quick=True)) != goal(first)


def test_a_proof_that_was_put_off_comes_last_and_is_still_needed(call: Call) -> None:
    call.tried("clean-lenses", worked=True)
    first = call.open_proofs()[0]
    call.put_off("proof", first.id)
    asked = []
    while (step := call.next_step()).kind in ("proof", "energy"):
        if step.kind == "energy":
            call.enter(step.id)
        else:
            asked.append(step.id)
            call.proved(step.id, passed=True)
    assert asked[-1] == first.id and len(asked) > 2
    assert call.state.put_off == ()
    call.close("returned to service")


def test_doing_it_taking_it_up_and_undoing_all_end_it(call: Call) -> None:
    call.put_off("check", "eye-lamp-receiver")
    call.answer("eye-lamp-receiver", "dark")
    assert call.state.put_off == ()
    call.undo()
    assert call.state.put_off == (("check", "eye-lamp-receiver"),), "the answer is gone, the putting off is not"
    call.take_up("check", "eye-lamp-receiver")
    assert call.state.put_off == ()
    call.undo()
    call.undo()
    assert call.state.put_off == ()
    call.put_off("remedy", "clean-lenses")
    call.tried("clean-lenses", worked=False)
    assert call.state.put_off == ()


def test_what_makes_no_sense_is_refused(call: Call) -> None:
    before = call.events
    with pytest.raises(CallError, match="Did you mean 'clean-lenses'"):
        call.put_off("remedy", "clean-lens")
    with pytest.raises(CallError, match="no kind of step"):
        call.put_off("energy", "any")
    with pytest.raises(CallError, match="no check"):
        call.take_up("check", "eye-lamp")
    call.close("left out of service", "late")
    with pytest.raises(CallError, match="The call is closed"):
        call.put_off("check", "eye-lamp-receiver")
    assert call.events[:-1] == before


def test_the_report_speaks_only_of_what_was_never_done(call: Call) -> None:
    heading = "Put off: "
    call.put_off("check", "eye-lamp-receiver")
    call.put_off("remedy", "clean-lenses")
    call.put_off("check", "eye-volts-far-end")
    call.put_off("stop", "hand over")
    call.answer("eye-lamp-receiver", "dark")
    call.answer("eye-volts-far-end", "1 V")
    call.put_off("check", "eye-volts-far-end")
    said = text_of(record(call)).split("HISTORY")[0]
    assert said.count(heading) == 1
    assert said.split(heading)[1].startswith("Repair: Clean both lenses with a soft cloth  ")
    call.tried("clean-lenses", worked=False)
    assert heading not in text_of(record(call)).split("HISTORY")[0]


def test_a_call_of_before_there_was_any_putting_off_opens_and_goes_on(tmp_path: Path, small_trees: Trees) -> None:
    bodies = (
        '{"event":"opened","sequence":1,"at":"2026-01-05T08:00:00+00:00","facts":{"drive":"trolley"},'
        '"symptoms":["eye-lamp-wrong"]}',
        '{"event":"answered","sequence":2,"at":"2026-01-05T08:01:00+00:00","check":"eye-lamp-receiver","raw":"dark",'
        '"value":"dark"}',
    )
    store = Store.open(tmp_path / "calls.sqlite3")
    call_id = store.begin()
    store.append(call_id, *(decode(body) for body in bodies))
    store.close()
    store = Store.open(tmp_path / "calls.sqlite3")
    call = Call(small_trees, history=store.events(call_id), recorder=store.recorder(call_id))
    assert call.state.put_off == ()
    call.put_off(*goal(call.next_step()))
    assert fold(store.events(call_id)).put_off == call.state.put_off != ()
    store.close()


def test_parts_that_were_not_there_are_named_until_the_repair_is_done(call: Call, small_trees: Trees) -> None:
    (part,) = small_trees.remedies["remake-splice"].parts
    with pytest.raises(CallError, match="part of this repair"):
        call.put_off("remedy", "remake-splice", ["no such part"])
    with pytest.raises(CallError, match="part of this repair"):
        call.put_off("check", "impact", [part])
    call.put_off("remedy", "remake-splice", [part])
    resumed = Call(small_trees, history=[decode(each) for each in map(_json, call.events)])
    assert resumed.state.missing == {"remake-splice": (part,)}
    assert f"not there: {small_trees.parts[part].title}" in " ".join(text_of(record(resumed)).split())
    call.tried("remake-splice", True)
    assert call.state.missing == {}


def test_events_of_before_any_part_was_named_are_read() -> None:
    put_off = decode('{"event":"put off","sequence":2,"at":"2026-01-05T08:00:00+00:00","kind":"remedy","step":"x"}')
    people = decode('{"event":"people stated","sequence":3,"at":"2026-01-05T08:00:00+00:00","people":["anyone"]}')
    assert isinstance(put_off, ev.PutOff) and put_off.missing == ()
    assert isinstance(people, ev.PeopleStated) and people.load == {}
    assert "missing" not in _json(put_off) and "load" not in _json(people)


def test_copies_of_a_call_carry_it(tmp_path: Path, small_trees: Trees) -> None:
    here, there = (Store.open(tmp_path / f"{name}.sqlite3") for name in ("here", "there"))
    call_id = here.begin()
    ours = Call(small_trees, FACTS, ["eye-lamp-wrong"], recorder=here.recorder(call_id), by="Ana")
    import_call(there, read_copy(export_call(here, call_id)))
    theirs = Call(small_trees, history=there.events(call_id), recorder=there.recorder(call_id), by="Ben")
    ours.put_off("check", "impact")
    ours.put_off("check", "lens-clean")
    theirs.put_off("check", "impact")
    theirs.put_off("remedy", "clean-lenses")
    theirs.put_off("check", "lens-clean")
    theirs.take_up("check", "lens-clean")
    arrival = import_call(here, read_copy(export_call(there, call_id)), by="Ana")
    assert arrival.kind == "merged"
    merged = fold(here.events(call_id)).put_off
    assert merged == (("check", "impact"), ("check", "lens-clean"), ("remedy", "clean-lenses"))
    assert [type(each.there).__name__ for each in arrival.differences] == ["TakenUp"]
    import_call(there, read_copy(export_call(here, call_id)))
    assert set(fold(there.events(call_id)).put_off) == set(merged), "both copies now say the same"
    here.close()
    there.close()
