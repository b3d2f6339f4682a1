"""Whole calls by the keys a technician presses, at two sizes."""

from __future__ import annotations

import pytest
from textual.pilot import Pilot
from textual.widgets import Input

from diagnose.calls import events as ev
from diagnose.calls.doors import Doors
from diagnose.calls.store import Store
from diagnose.sitting.course import decided
from diagnose.sitting.say import Close, GoTo
from diagnose.sitting.sitting import Sitting
from diagnose.tui.screens.answers import Answers
from diagnose.tui.screens.interview import TOO_QUICK, Interview
from diagnose.tui.screens.sentence import SentencePage
from diagnose.tui.widgets.reading import KEEP_ANYWAY, Reading

from .conftest import Make, begin, flat, in_hand, painted, press, settled, type_text

SIZES = [(80, 24), (120, 40)]


def asked(screen: Interview) -> str:
    assert screen.card is not None
    return f"{screen.card.kind}:{screen.card.id}"


async def go_to(pilot: Pilot[None], screen: Interview, kind: str, identity: str) -> None:
    """Have a step asked, whatever would be suggested."""
    screen.sitting.do(GoTo(kind=kind, step=identity))
    screen.show_call()
    await settled(pilot)


@pytest.mark.parametrize("size", SIZES)
async def test_a_call_from_complaint_to_returned_to_service(
    make_app: Make, store: Store, size: tuple[int, int]
) -> None:
    app = make_app()
    async with app.run_test(size=size) as pilot:
        screen = await begin(pilot, "1")
        call = in_hand(pilot).call
        assert call.state.facts["drive"] == "trolley"
        assert call.state.facts["devices"] == ("photo-eye",), "the complaint implies it"
        assert asked(screen) == "check:lamp"
        await press(pilot, "3")
        assert asked(screen) == "energy:off, locked and tagged"
        words = flat(painted(pilot, "#step"))
        assert "▲▲▲ DANGER Your own lock and tag" in words
        assert words.index("CHANGE OF STATE") < words.index("DANGER") < words.index("How") < words.index("Done, the")
        await press(pilot, "1")
        assert asked(screen) == "remedy:remake-splice"
        assert "2 × sealed connector" in flat(painted(pilot, "#step"))
        await press(pilot, "1")
        # A repair done with the power locked off is tried only after the power is back.
        assert asked(screen) == "energy:powered, covers on"
        await press(pilot, "1")
        assert "“The eye's lamp is wrong”: is it gone?" in flat(painted(pilot))
        await press(pilot, "1")
        assert call.state.tries[-1].worked
        assert "Proving the door safe" in painted(pilot)
        needed = {proof.id for proof in call.needed_proofs()}
        for _ in range(len(needed)):
            assert asked(screen).startswith("proof:")
            assert "Passes when" in painted(pilot)
            await press(pilot, "1")
        assert asked(screen) == "stop:return to service"
        await press(pilot, "1")
        assert call.state.outcome == "returned to service"
        kept = store.events(in_hand(pilot).saver.call_id)
        assert kept == list(call.events)
        assert isinstance(kept[-1], ev.Closed)


@pytest.mark.parametrize("size", SIZES)
async def test_what_a_failed_proof_shows_is_taken_up_or_left(make_app: Make, size: tuple[int, int]) -> None:
    app = make_app()
    async with app.run_test(size=size) as pilot:
        screen = await begin(pilot, "1")
        call = in_hand(pilot).call
        call.tried("realign", worked=True)
        await go_to(pilot, screen, "proof", "limits-hold")
        await press(pilot, "2")
        assert asked(screen) == "stop:proof failed"
        words = flat(painted(pilot, "#step"))
        assert "'The door stops at both limits' has failed." in words and "1 Look into: Stays open" in words
        await press(pilot, "2")
        assert asked(screen) != "stop:proof failed" and ("proof", "limits-hold") in call.state.put_off
        await press(pilot, "u")
        assert asked(screen) == "stop:proof failed"
        await press(pilot, "1")
        assert call.state.symptoms == ("stays-open",)
        assert asked(screen) != "stop:proof failed"


@pytest.mark.parametrize("size", SIZES)
async def test_where_nothing_known_fits_every_chance_still_has_its_place(make_app: Make, size: tuple[int, int]) -> None:
    app = make_app()
    async with app.run_test(size=size) as pilot:
        screen = await begin(pilot, "1")
        assert "Likely causes" in painted(pilot, "#suspects")
        call = in_hand(pilot).call
        for check, text in (("lamp", "blinking"), ("aim", "in line"), ("lens", "clean"), ("eye-volts", "24 V")):
            call.answer(check, text)
        screen.show_call()
        await settled(pilot)
        assert call.likely()[0].cause == "unlisted" and call.nothing_fits
        assert painted(pilot, "#suspects").strip().startswith("No good match; closest")
        assert screen.view is not None
        chances = [suspect.probability for suspect in screen.view.suspects]
        assert chances == sorted(chances, reverse=True) and sum(chances) == pytest.approx(1.0)
        assert "something not in the book" in painted(pilot, "#suspects")


@pytest.mark.parametrize("size", SIZES)
async def test_a_wrong_unit_keeps_the_text_and_a_doubt_needs_a_second_enter(
    make_app: Make, size: tuple[int, int]
) -> None:
    app = make_app()
    async with app.run_test(size=size) as pilot:
        screen = await begin(pilot)
        await press(pilot, "3")
        await go_to(pilot, screen, "check", "eye-volts")
        field = screen.query_one("#typed", Input)
        assert field.has_focus
        count = len(screen.call.events)
        await type_text(pilot, "24 ft")
        await press(pilot, "enter")
        assert field.value == "24 ft"
        assert "That is a length" in flat(painted(pilot, "#step"))
        field.value = "240"
        await press(pilot, "enter")
        assert field.value == "240"
        assert KEEP_ANYWAY in flat(painted(pilot, "#step"))
        assert len(screen.call.events) == count, "neither was taken"
        await press(pilot, "enter")
        assert screen.call.state.answers["eye-volts"].value == (240.0,)


async def test_a_doubted_number_changed_is_doubted_anew(make_app: Make) -> None:
    app = make_app()
    async with app.run_test() as pilot:
        screen = await begin(pilot)
        await press(pilot, "3")
        await go_to(pilot, screen, "check", "eye-volts")
        field = screen.query_one("#typed", Input)
        field.value = "240"
        await press(pilot, "enter")
        field.value = "2400"
        await press(pilot, "enter")
        assert "eye-volts" not in screen.call.state.answers
        assert "2400 V?" in flat(painted(pilot, "#step"))


async def test_could_not_tell_is_nought_for_a_question_and_a_mark_for_a_reading(make_app: Make) -> None:
    app = make_app()
    async with app.run_test() as pilot:
        screen = await begin(pilot)
        assert asked(screen) == "check:lamp"
        await press(pilot, "0")
        assert screen.call.state.answers["lamp"].value == "could not tell"
        await go_to(pilot, screen, "check", "eye-volts")
        await type_text(pilot, "?")
        await press(pilot, "enter")
        assert screen.call.state.answers["eye-volts"].value == "could not tell"


async def test_a_computed_value_shows_its_working(make_app: Make) -> None:
    app = make_app()
    async with app.run_test(size=(120, 40)) as pilot:
        screen = await begin(pilot)
        screen.call.answer("near-volts", "24")
        await press(pilot, "3")
        await go_to(pilot, screen, "check", "eye-volts")
        await type_text(pilot, "17.5")
        await press(pilot, "enter")
        assert "Worked out: 22 AWG, 100 ft" in flat(painted(pilot))


async def test_an_earlier_answer_is_changed_repeated_and_taken_back(make_app: Make) -> None:
    app = make_app()
    async with app.run_test() as pilot:
        screen = await begin(pilot)
        await press(pilot, "3")
        await go_to(pilot, screen, "check", "eye-volts")
        await type_text(pilot, "23.8 V")
        await press(pilot, "enter", "f4")
        assert isinstance(app.screen, Answers)
        # The latest stands first, and that is the reading.
        await press(pilot, "s")
        await type_text(pilot, "24.2")
        await press(pilot, "enter")
        assert screen.call.state.answers["eye-volts"].value == (23.8, 24.2)
        await press(pilot, "down", "enter", "2")
        assert screen.call.state.answers["lamp"].value == "blinking"
        assert "blinking" in painted(pilot)
        await press(pilot, "u")
        assert "lamp" not in screen.call.state.answers
        await press(pilot, "escape")
        assert app.screen is screen
        assert [item.id for item in screen.view.trail] == ["eye-volts"]


async def test_undo_is_one_key(make_app: Make) -> None:
    app = make_app()
    async with app.run_test() as pilot:
        screen = await begin(pilot)
        await press(pilot, "3")
        assert screen.call.state.answers
        await press(pilot, "ctrl+z")
        assert not screen.call.state.answers
        assert "Undone" in painted(pilot)
        await press(pilot, "u")
        assert "There is nothing to undo." in painted(pilot)


async def test_a_repair_that_fails_leads_on(make_app: Make) -> None:
    app = make_app()
    async with app.run_test() as pilot:
        screen = await begin(pilot)
        await press(pilot, "f6")
        await type_text(pilot, "bring both")
        await press(pilot, "enter")
        assert asked(screen) == "remedy:realign"
        await press(pilot, "1")
        assert "Repaired, not yet tried" in painted(pilot)
        await press(pilot, "3")
        assert not screen.call.state.tries[-1].worked
        assert screen.call.state.outcome is None
        assert asked(screen).split(":")[0] in ("check", "energy", "remedy")
        assert "Looking further" in painted(pilot)


async def test_a_proof_that_fails_leads_on_and_return_stays_barred(make_app: Make) -> None:
    app = make_app()
    async with app.run_test() as pilot:
        screen = await begin(pilot)
        call = screen.call
        call.tried("realign", worked=True)
        screen.show_call()
        await settled(pilot)
        assert asked(screen).startswith("proof:")
        assert not any(choice.name == "return" for choice in screen.card.choices)
        await press(pilot, "2")
        assert not call.state.proving
        assert "nobody uses the door until this has passed" in flat(painted(pilot))
        assert "Looking further" in painted(pilot)
        with pytest.raises(ValueError, match="it failed"):
            call.close("returned to service")


async def test_a_door_goes_back_into_service_with_power_and_without_a_lock(make_app: Make) -> None:
    app = make_app()
    async with app.run_test() as pilot:
        screen = await begin(pilot)
        call = screen.call
        call.tried("realign", worked=True)
        for proof in call.open_proofs():
            call.proved(proof.id, passed=True)
        call.enter("off, locked and tagged")
        screen.show_call()
        await settled(pilot)
        assert asked(screen) == "energy:powered, covers on"
        assert [choice.name for choice in screen.card.choices] == ["entered", "leave"]
        await press(pilot, "1")
        assert asked(screen) == "stop:return to service"
        await press(pilot, "1")
        assert call.state.outcome == "returned to service"
        assert call.state.energy == "powered, covers on"


async def test_a_repair_chosen_by_hand_is_not_called_the_cheapest(make_app: Make) -> None:
    app = make_app()
    async with app.run_test() as pilot:
        screen = await begin(pilot)
        screen.sitting.do(GoTo(kind="remedy", step="clean-lens"))
        screen.show_call()
        await settled(pilot)
        assert asked(screen) == "remedy:clean-lens"
        assert "You chose it. 18 % chance this fixes it; about 3 min." in screen.card.why
        assert "cheapest" not in screen.card.why


async def test_left_out_of_service_needs_a_reason(make_app: Make) -> None:
    app = make_app()
    async with app.run_test() as pilot:
        screen = await begin(pilot)
        await press(pilot, "x")
        assert isinstance(app.screen, SentencePage)
        await press(pilot, "enter")
        assert isinstance(app.screen, SentencePage)
        assert "Say why the door is left out of service." in flat(painted(pilot))
        assert screen.call.state.outcome is None
        await type_text(pilot, "part on order")
        await press(pilot, "enter")
        assert screen.call.state.outcome == "left out of service"
        assert screen.call.state.reason == "part on order"
        assert asked(screen) == "stop:closed"
        await press(pilot, "f6")
        assert "The call is closed." in painted(pilot)
        await press(pilot, "2")
        assert screen.call.state.outcome is None


async def test_a_closed_call_keeps_its_door_where_that_has_a_name(make_app: Make, store: Store) -> None:
    app = make_app()
    app.where = ("Mill", "Dock 2")
    async with app.run_test() as pilot:
        screen = await begin(pilot)
        screen.say(Close(outcome="left out of service", reason="part on order"))
        await settled(pilot)
        await press(pilot, "2")
        assert "Kept: door-" in painted(pilot) and "Mill, Dock 2, record 1." in flat(painted(pilot))
        known = Doors.of(store).known("Mill", "Dock 2")
        assert known is not None and dict(known.record.facts) == dict(screen.call.state.facts)


async def test_the_power_goes_and_the_next_start_offers_the_call(make_app: Make, store: Store) -> None:
    async with make_app().run_test() as pilot:
        screen = await begin(pilot, "1")
        await press(pilot, "3")
        asked_before = asked(screen)
        events = list(screen.call.events)
    again = make_app()
    async with again.run_test() as pilot:
        await settled(pilot)
        assert "CALLS LEFT OPEN" in painted(pilot)
        await press(pilot, "enter")
        screen = again.screen
        assert isinstance(screen, Interview)
        assert list(screen.call.events) == events
        assert asked(screen) == asked_before
        assert "Taken up where it stopped." in painted(pilot)
        await press(pilot, "1" if screen.card.choices else "u")
        assert len(store.events(in_hand(pilot).saver.call_id)) == len(events) + 1


async def test_something_known_is_answered_out_of_turn(make_app: Make) -> None:
    app = make_app()
    async with app.run_test() as pilot:
        screen = await begin(pilot)
        await press(pilot, "k")
        await type_text(pilot, "voltage at the op")
        await press(pilot, "enter")
        await type_text(pilot, "24 V")
        await press(pilot, "enter")
        assert app.screen is screen
        assert screen.call.state.answers["near-volts"].value == (24.0,)


async def test_another_way_puts_a_step_off(make_app: Make) -> None:
    app = make_app()
    async with app.run_test() as pilot:
        screen = await begin(pilot)
        first = asked(screen)
        await press(pilot, "a", "enter")
        assert app.screen is screen
        assert asked(screen) != first
        goal = screen.planned.step.goal
        assert goal == decided(screen.call).chosen[1]


async def test_a_better_step_takes_the_place_of_a_quick_one_unless_one_has_begun_to_type(make_app: Make) -> None:
    from diagnose.sitting.cards import card_of
    from diagnose.sitting.course import Planned
    from diagnose.sitting.sitting import Put

    app = make_app()
    async with app.run_test() as pilot:
        screen = await begin(pilot)
        call = screen.call
        reading = call.next_step().__class__("check", "eye-volts", "", 4, 9, goal="eye-volts", goal_kind="check")
        question = call.next_step().__class__("check", "lens", "", 1, 9, goal="lens", goal_kind="check")
        quick, better = Planned(reading, quick=True), Planned(question)
        screen._show_step(Put(quick, card_of(call, quick)))
        await pilot.pause()
        await type_text(pilot, "24")
        screen._show_planned(Put(better, card_of(call, better)))
        await pilot.pause()
        assert asked(screen) == "check:eye-volts"
        assert screen.query_one(Reading).typed == "24"
        screen.query_one("#typed", Input).value = ""
        await pilot.pause()
        screen._show_planned(Put(better, card_of(call, better)))
        await pilot.pause()
        assert asked(screen) == "check:lens"


async def test_a_key_that_bounces_is_not_the_answer_to_the_next_question(make_app: Make) -> None:
    app = make_app()
    app.settle = 0.25
    ticks = [0.0]
    app.now = lambda: ticks[0]
    async with app.run_test() as pilot:
        screen = await begin(pilot)
        await press(pilot, "3")
        assert not screen.call.state.answers
        assert TOO_QUICK in flat(painted(pilot, "#step"))
        ticks[0] = 1.0
        await press(pilot, "3")
        assert screen.call.state.answers["lamp"].value == "dark"


async def test_two_keys_at_once_are_one_answer(make_app: Make) -> None:
    app = make_app()
    async with app.run_test() as pilot:
        screen = await begin(pilot)
        await pilot.press("3", "3")
        await settled(pilot)
        assert len([event for event in screen.call.events if isinstance(event, ev.Answered)]) == 1


async def test_cautions_stand_below_the_question_worst_first(make_app: Make) -> None:
    app = make_app()
    async with app.run_test() as pilot:
        screen = await begin(pilot)
        await go_to(pilot, screen, "check", "aim")
        words = flat(painted(pilot, "#step"))
        places = [words.index(word) for word in ("Are the eyes in line?", "▲▲ WARNING", "▲ CAUTION", "How")]
        assert places == sorted(places)
        assert "from a ladder" in words


async def test_why_evidence_map_and_report_open_and_lead_back(make_app: Make) -> None:
    app = make_app()
    async with app.run_test() as pilot:
        screen = await begin(pilot)
        await press(pilot, "3")
        for key, wanted in (
            ("f2", "What would change my mind"),
            ("h", "Call opened"),
            ("g", "What must pass before the door returns"),
            ("b", "Into which state?"),
            ("e", "For it"),
            ("m", "Where it points"),
            ("f", "This complaint hangs on no chain"),
            ("p", "Service record"),
            ("o", "Who is here"),
            ("c", "Voltage drop"),
            ("question_mark", "How to read the screens"),
        ):
            await press(pilot, key)
            assert wanted in painted(pilot) or wanted in str(
                getattr(app.screen.query("Paragraphs").first(None), "text", "")
            ), key
            await press(pilot, "escape")
            assert app.screen is screen, key


async def test_the_door_is_corrected_during_the_call(make_app: Make) -> None:
    app = make_app()
    async with app.run_test() as pilot:
        screen = await begin(pilot, "1")
        await press(pilot, "o", "tab", "tab", "2", "f5")
        assert app.screen is screen
        assert screen.call.state.facts["drive"] == "hoist"
        assert isinstance(screen.call.events[-1], ev.FactStated)


async def test_the_place_is_corrected_during_the_call(make_app: Make) -> None:
    app = make_app()
    async with app.run_test() as pilot:
        screen = await begin(pilot)
        await press(pilot, "o", "shift+tab", *["tab"] * 20)
        await type_text(pilot, "dock three")
        await press(pilot, "escape")
        assert screen.call.state.door != "dock three", "Esc records nothing"
        await press(pilot, "o", "shift+tab", *["tab"] * 20)
        await press(pilot, *["backspace"] * 20)
        await type_text(pilot, "dock four")
        await press(pilot, "enter")
        assert app.screen is screen
        assert screen.call.state.door == "dock four"
        assert isinstance(screen.call.events[-1], ev.PlaceStated)


async def test_a_note_is_kept(make_app: Make) -> None:
    app = make_app()
    async with app.run_test() as pilot:
        screen = await begin(pilot)
        await press(pilot, "n")
        await type_text(pilot, "gate is new")
        await press(pilot, "enter")
        assert screen.call.state.notes[-1][1] == "gate is new"


async def test_hand_over_says_whom_to_call_and_what_to_doubt(make_app: Make) -> None:
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await begin(pilot)
        await press(pilot, "a")
        rows = app.screen.query_one("PickList")._rows
        place = next(i for i, row in enumerate(rows) if row.id == "stop:hand over")
        await press(pilot, *["down"] * place, "enter")
        assert asked(screen) == "stop:hand over"
        words = flat(painted(pilot, "#step"))
        assert "PASS IT ON" in words
        assert "whoever knows this make of door best" in words
        assert "Leave it out of service and pass it on" in words


async def test_a_fault_of_the_reasoning_does_not_take_the_call_along(
    make_app: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError("no [such] number")

    app = make_app()
    async with app.run_test() as pilot:
        screen = await begin(pilot)
        monkeypatch.setattr(Sitting, "put", broken)
        await pilot.press("3")
        await app.workers.wait_for_complete()
        await pilot.pause()
        assert "no [such] number" in flat(painted(pilot, "#step"))
        assert screen.call.state.answers["lamp"].value == "dark"
        monkeypatch.setattr(Sitting, "view", broken)
        await pilot.press("u")
        await app.workers.wait_for_complete()
        await pilot.pause()
        assert "This could not be worked out" in flat(painted(pilot, "#step"))
        assert not screen.call.state.answers
