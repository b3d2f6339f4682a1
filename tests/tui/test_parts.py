"""What the screens are made of, without a screen: cards, views, the technician's own course, the parts of widgets."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from diagnose.calls import events as ev
from diagnose.calls.call import Call
from diagnose.calls.store import Store
from diagnose.calls.verdict import Suspect
from diagnose.knowledge.model import UNLISTED, Trees
from diagnose.tui import cards
from diagnose.tui.app import DiagnoseApp
from diagnose.tui.in_hand import Course, InHand, alternatives, goal_of, plan
from diagnose.tui.pictures import take_pictures
from diagnose.tui.saver import Saver
from diagnose.tui.screens import report
from diagnose.tui.screens.evidence import strength
from diagnose.tui.text import minutes, plain
from diagnose.tui.view import clock_time, top_suspects, view_of
from diagnose.tui.widgets.paragraphs import hanging
from diagnose.tui.widgets.status import _with_interval
from diagnose.tui.widgets.suspects import trend

from .conftest import Make, begin, painted, press


def a_call(trees: Trees, *answers: tuple[str, str]) -> Call:
    call = Call(trees, {"devices": ["photo-eye"], "drive": "trolley"}, ["lamp-wrong"])
    for check, text in answers:
        call.answer(check, text)
    return call


def in_hand_of(call: Call) -> InHand:
    return InHand(call, Saver(None))


# --- cards ---------------------------------------------------------------------------------------------------


def test_cautions_of_place_and_step_come_worst_first_and_once(trees: Trees) -> None:
    words = [caution.word for caution in cards.cautions_of(trees, trees.checks["aim"])]
    assert words == ["WARNING", "CAUTION", "NOTICE"]


def test_a_step_for_somebody_who_is_not_here_says_so(trees: Trees) -> None:
    call = a_call(trees)
    assert "needs a door technician, who is not here" in cards.facts_of(call, trees.remedies["heavier-wire"])
    call.state_people(["anyone", "technician", "door technician"])
    assert "door technician" in cards.facts_of(call, trees.remedies["heavier-wire"])
    assert "2 people" in cards.facts_of(call, trees.remedies["heavier-wire"])


def test_whom_to_call_names_who_can_do_the_likely_repair(trees: Trees) -> None:
    call = a_call(trees, ("near-volts", "24"), ("lamp", "blinking"), ("eye-volts", "17.5"))
    assert any(name.startswith("door technician, for: Wire to the eye too thin") for name in cards.whom_to_call(call))


def test_a_closed_card_is_the_only_one_of_a_closed_call(trees: Trees) -> None:
    call = a_call(trees)
    call.close("left out of service", "no [part]")
    planned = plan(call, Course())
    assert planned is not None
    card = cards.card_of(call, planned)
    assert card.id == "closed"
    assert ("Reason", "no [part]") in card.lines


def test_return_is_offered_only_when_every_proof_has_passed(trees: Trees) -> None:
    call = a_call(trees)
    call.tried("realign", worked=True)
    while call.open_proofs():
        planned = plan(call, Course())
        assert planned is not None
        names = {choice.name for choice in cards.card_of(call, planned).choices}
        assert "return" not in names
        if planned.step.kind == "energy":
            call.enter(planned.step.id)
        else:
            call.proved(planned.step.id, passed=True)
    planned = plan(call, Course())
    assert planned is not None
    assert "return" in {choice.name for choice in cards.card_of(call, planned).choices}


# --- the technician's own course -----------------------------------------------------------------------------


def test_a_choice_lasts_until_it_is_done(trees: Trees) -> None:
    call = a_call(trees)
    in_hand = in_hand_of(call)
    in_hand.choose("check", "aim")
    planned = plan(in_hand.twin(), in_hand.course())
    assert planned is not None
    assert planned.step.id == "aim"
    assert planned.step.why.startswith("You chose it.")
    call.answer("lens", "clean")
    assert in_hand.still_chosen() == ("check", "aim")
    call.answer("aim", "off")
    assert in_hand.still_chosen() is None


def test_what_is_put_off_is_what_a_step_leads_to(trees: Trees) -> None:
    call = a_call(trees, ("lamp", "dark"))
    in_hand = in_hand_of(call)
    planned = plan(in_hand.twin(), in_hand.course())
    assert (planned.step.kind, planned.step.goal_kind) == ("energy", "remedy")
    in_hand.put_aside(planned.step)
    in_hand.put_aside(planned.step)
    assert call.state.put_off == (("remedy", planned.step.goal),)
    assert len([event for event in call.events if isinstance(event, ev.PutOff)]) == 1
    others = {other.id: other.remarks for other in alternatives(call)}
    assert "put off" in others[planned.step.goal]
    assert goal_of(plan(in_hand.twin(), in_hand.course()).step) != ("remedy", planned.step.goal)


def test_what_is_chosen_is_put_off_no_more_and_undo_forgets_the_choice(trees: Trees) -> None:
    call = a_call(trees)
    in_hand = in_hand_of(call)
    first = plan(in_hand.twin(), in_hand.course()).step
    in_hand.put_aside(first)
    in_hand.choose("check", "lens")
    assert plan(in_hand.twin(), in_hand.course()).step.id == "lens"
    in_hand.undo()
    assert call.state.put_off == ()
    assert goal_of(plan(in_hand.twin(), in_hand.course()).step) == goal_of(first)
    in_hand.put_aside(first)
    in_hand.choose(*goal_of(first))
    assert call.state.put_off == ()


def test_alternatives_cost_no_less_than_the_best(trees: Trees) -> None:
    others = alternatives(a_call(trees))
    assert others[0].more == 0.0
    assert [other.more for other in others] == sorted(other.more for other in others)
    assert len([other for other in others if other.kind == "stop"]) == 1


def test_a_repair_without_power_is_tried_with_power(trees: Trees) -> None:
    call = a_call(trees, ("lamp", "dark"))
    call.enter("off, locked and tagged")
    in_hand = in_hand_of(call)
    in_hand.done("remake-splice")
    first = plan(in_hand.twin(), in_hand.course())
    assert first is not None
    assert (first.step.kind, first.step.id) == ("energy", "powered, covers on")
    assert [choice.name for choice in cards.card_of(call, first).choices] == ["entered", "unfinished"]
    call.enter("powered, covers on")
    second = plan(in_hand.twin(), in_hand.course())
    assert second is not None
    assert cards.card_of(call, second).heading == "Try the door"
    call.tried("remake-splice", worked=True)
    assert in_hand.course().untried == ""


def test_the_twin_changes_nothing(trees: Trees) -> None:
    call = a_call(trees)
    twin = in_hand_of(call).twin()
    twin.answer("lamp", "dark")
    assert "lamp" not in call.state.answers


# --- views ---------------------------------------------------------------------------------------------------


def test_trend_is_what_the_last_answer_moved(trees: Trees) -> None:
    call = a_call(trees)
    before = {suspect.cause: suspect.probability for suspect in view_of(call).suspects}
    assert all(suspect.moved is None for suspect in view_of(call).suspects)
    call.answer("lamp", "dark")
    for suspect in view_of(call).suspects:
        assert suspect.moved == pytest.approx(suspect.probability - before[suspect.cause])


@pytest.mark.parametrize(("moved", "shown"), [(None, ""), (0.004, "="), (0.12, "▲+12"), (-0.05, "▼-5")])
def test_trend_is_written(moved: float | None, shown: str) -> None:
    assert trend(Suspect("a", "A", 0.5, moved=moved)) == shown


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


# --- parts of widgets ----------------------------------------------------------------------------------------


@given(st.text(alphabet="ab c水[]é", max_size=200), st.integers(20, 60), st.sampled_from(["", "  ", "│    "]))
def test_hanging_lines_lose_nothing_and_fit(text: str, width: int, later: str) -> None:
    lines = hanging(plain(text), width, later)
    assert all(cell_len(line.plain.rstrip()) <= width for line in lines)
    kept = "".join(line.plain.removeprefix(later) if i else line.plain for i, line in enumerate(lines))
    assert "".join(kept.split()) == "".join(text.split())


@pytest.mark.parametrize(
    ("value", "shown"), [(0.2, "1 min"), (1, "1 min"), (59.6, "1 h"), (75, "1 h 15 min"), (120, "2 h")]
)
def test_minutes(value: float, shown: str) -> None:
    assert minutes(value) == shown


def test_an_interval_is_in_hours_when_long() -> None:
    assert _with_interval(95, 58, 160) == "95 min left (58 to 160)"
    assert _with_interval(478, 386, 644) == "8.0 h left (6.4 to 10.7)"
    assert _with_interval(39, 39, 39) == ""


@pytest.mark.parametrize(("factor", "shown"), [(3.24, "×3.2"), (1, "×1"), (0.2, "÷5"), (0, "ruled out")])
def test_strength(factor: float, shown: str) -> None:
    assert strength(factor) == shown


def test_pictures_of_the_main_screens(shipped_trees: Trees, tmp_path: Path) -> None:
    written = take_pictures(tmp_path, shipped_trees)
    assert {file.stem for file in written} >= {"start", "question", "reading", "why", "evidence", "proof", "calculator"}
    for file in written:
        picture = file.read_text(encoding="utf-8")
        assert picture.startswith("<svg")
        assert "@font-face" not in picture
    # Spaces stand as no-break spaces in an SVG.
    assert "Lindqvist&#160;Cold&#160;Store" in (tmp_path / "reading.svg").read_text(encoding="utf-8")


# --- the report, and the end ---------------------------------------------------------------------------------


async def test_the_report_is_saved_both_ways(make_app: Make, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(report, "report_folder", lambda: tmp_path / "reports")
    async with make_app().run_test() as pilot:
        screen = await begin(pilot)
        await press(pilot, "f10", "m", "h")
        assert "Saved:" in painted(pilot)
        name = screen.in_hand.saver.call_id
        assert "The eye's lamp is wrong" in (tmp_path / "reports" / f"{name}.md").read_text(encoding="utf-8")
        assert "<html" in (tmp_path / "reports" / f"{name}.html").read_text(encoding="utf-8")


async def test_a_report_that_cannot_be_written_says_so(
    make_app: Make, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "file").write_text("in the way", encoding="utf-8")
    monkeypatch.setattr(report, "report_folder", lambda: tmp_path / "file")
    async with make_app().run_test() as pilot:
        await begin(pilot)
        await press(pilot, "f10", "m")
        assert "could not be written" in painted(pilot)


async def test_a_fault_of_the_program_ends_it_without_a_traceback_on_the_terminal(trees: Trees, store: Store) -> None:
    app = DiagnoseApp(trees, lambda: store)
    with pytest.raises(ZeroDivisionError):
        async with app.run_test() as pilot:
            app.call_later(lambda: 1 / 0)
            await pilot.pause()
    assert isinstance(app.fault, ZeroDivisionError)
    assert app._exit_renderables == []
