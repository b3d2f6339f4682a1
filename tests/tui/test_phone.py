"""A phone call on the screens: danger first, keys that answer, Spanish, undo, the sheet, and the call handed over."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from msgspec import structs
from textual.pilot import Pilot
from textual.widgets import Input

from diagnose import load_trees
from diagnose.calls import events as ev
from diagnose.calls.store import Store
from diagnose.knowledge.model import Component, Trees
from diagnose.settings import Settings
from diagnose.sitting.handover import marked
from diagnose.tui.app import DiagnoseApp
from diagnose.tui.screens.calls import Calls
from diagnose.tui.screens.interview import Interview
from diagnose.tui.screens.phone import PhoneScreen
from diagnose.tui.screens.phone_asked import ComplaintPage, SignsPage, WherePage
from diagnose.tui.screens.phone_page import ToldPage
from diagnose.tui.screens.phone_sheet import SheetPage
from diagnose.tui.screens.start import Start
from diagnose.tui.widgets.choices import Choices
from tests.tui.conftest import Failing, Make, flat, painted, press, settled, type_text

TREES = Path(__file__).parents[1] / "screening" / "trees"
SIZES = [(60, 18), (80, 24), (120, 40), (200, 60)]
# Site, door, caller and number, all left open.
WHERE = ("enter",) * 4


@pytest.fixture(scope="module")
def dock() -> Trees:
    return load_trees(TREES, cache=False)


@pytest.fixture
def phone(make_app: Make, dock: Trees) -> Make:
    def make(**more: Any) -> DiagnoseApp:
        return make_app(with_trees=dock, **more)

    return make


async def ring(pilot: Pilot[None]) -> SignsPage:
    """The phone rings at the start."""
    await settled(pilot)
    await press(pilot, "f3")
    page = pilot.app.screen
    assert isinstance(page, SignsPage), page
    return page


async def to_questions(pilot: Pilot[None], *dangers: str) -> PhoneScreen:
    """Through danger, place and the first complaint to the first question."""
    await ring(pilot)
    for danger in dangers:
        # What to do is read out at once; Enter says that they have heard it.
        await press(pilot, danger, "enter")
    await press(pilot, "enter", *WHERE)
    if isinstance(pilot.app.screen, ComplaintPage):
        await type_text(pilot, "nothing happens")
        await press(pilot, "enter")
    while isinstance(pilot.app.screen, ToldPage):
        await press(pilot, "enter")
    screen = pilot.app.screen
    assert isinstance(screen, PhoneScreen), screen
    return screen


def dangers(store: Store) -> list[tuple[str, str, bool]]:
    said = kept(store) if store.calls() else []
    return [(e.danger, e.answer, e.told) for e in said if isinstance(e, ev.DangerStated)]


def kept(store: Store) -> list[ev.AnyEvent]:
    return store.events(store.find("last"))


@pytest.mark.parametrize("size", SIZES)
async def test_danger_stands_on_one_screen_and_is_answered_by_numbers(
    phone: Make, store: Store, size: tuple[int, int]
) -> None:
    async with phone().run_test(size=size) as pilot:
        await ring(pilot)
        shown = flat(painted(pilot))
        assert "Before anything else:" in shown
        for text in ("Is anyone hurt?", "Does it sink?", "Is a fire door held?"):
            assert text in shown
        assert "Call the emergency services now." not in shown
        await press(pilot, "1")
        assert isinstance(pilot.app.screen, ToldPage)
        assert "▲▲▲ DANGER Call the emergency services now." in flat(painted(pilot))
        # On the disk before anything else is said; that they have heard it, as soon as that was said.
        assert dangers(store) == [("caught", "yes", False)]
        await press(pilot, "enter")
        assert "▲▲▲ DANGER ✓ told: Call the emergency services now." in flat(painted(pilot))
        await press(pilot, "1")
        assert "Call the emergency services now." not in flat(painted(pilot))
        await press(pilot, "enter")
        assert isinstance(pilot.app.screen, WherePage)
        assert dangers(store) == [
            ("caught", "yes", False),
            ("caught", "yes", True),
            ("caught", "no", False),
            ("falling", "no", False),
            ("fire-held", "no", False),
        ]


@pytest.mark.parametrize("size", SIZES)
async def test_what_the_caller_must_know_stands_on_every_page_until_the_danger_is_over(
    phone: Make, store: Store, size: tuple[int, int]
) -> None:
    async with phone().run_test(size=size) as pilot:
        await ring(pilot)
        await press(pilot, "2", "escape")
        assert isinstance(pilot.app.screen, SignsPage)
        assert "NOT TOLD YET: Keep everyone away." in flat(painted(pilot))
        # It comes again with whatever is said next, until they have heard it; then never again.
        await press(pilot, "enter")
        assert isinstance(pilot.app.screen, ToldPage)
        await press(pilot, "enter")
        for page, keys in ((WherePage, WHERE), (ComplaintPage, ("enter",)), (PhoneScreen, ("0",))):
            assert isinstance(pilot.app.screen, page)
            assert "DANGER ✓ told: Keep everyone away." in flat(painted(pilot))
            await press(pilot, "ctrl+x")
            assert isinstance(pilot.app.screen, ToldPage)
            await press(pilot, "enter", *keys)
        assert [danger for danger in dangers(store) if danger[2]] == [("falling", "yes", True)]


async def test_what_was_told_is_not_read_out_again_when_the_call_goes_on_later(phone: Make, store: Store) -> None:
    async with phone().run_test(size=(80, 24)) as pilot:
        await to_questions(pilot, "2")
    again = phone()
    again.first = lambda: PhoneScreen(store.find("last"))
    async with again.run_test(size=(80, 24)) as pilot:
        await settled(pilot)
        assert isinstance(pilot.app.screen, PhoneScreen)
        assert "DANGER ✓ told: Keep everyone away." in flat(painted(pilot))


async def test_other_words_and_another_language_are_a_key_away(phone: Make) -> None:
    async with phone().run_test(size=(80, 24)) as pilot:
        await ring(pilot)
        await press(pilot, "w")
        assert "Is anybody caught in it?" in flat(painted(pilot))
        await press(pilot, "w", "l")
        shown = flat(painted(pilot))
        assert "Antes que nada:" in shown and "¿Hay alguien herido?" in shown
        await press(pilot, "1")
        assert "Llame a emergencias ahora." in flat(painted(pilot))
        await press(pilot, "enter", "enter", *WHERE)
        await type_text(pilot, "oprimo y no pasa nada")
        assert "Oprimo el botón y no pasa nada." in flat(painted(pilot))


async def test_the_language_of_the_settings_is_spoken_from_the_first_word(phone: Make) -> None:
    async with phone(settings=Settings(language="es")).run_test(size=(80, 24)) as pilot:
        await ring(pilot)
        assert "¿Hay alguien herido?" in flat(painted(pilot))


async def test_a_whole_call_to_the_sheet_and_on_to_the_door(phone: Make, store: Store) -> None:
    async with phone().run_test(size=(80, 24)) as pilot:
        await ring(pilot)
        await press(pilot, "enter")
        await type_text(pilot, "Mill")
        await press(pilot, "enter")
        await type_text(pilot, "Door 3")
        await press(pilot, "enter")
        await type_text(pilot, "Ana")
        await press(pilot, "enter")
        await type_text(pilot, "555 0142")
        await press(pilot, "enter")
        await type_text(pilot, "nothing happens when I press")
        await press(pilot, "enter")
        screen = pilot.app.screen
        assert isinstance(screen, PhoneScreen)
        assert "Can you still use it?" in flat(painted(pilot)) and "Mill, Door 3" in painted(pilot)
        assert "next free visit" in painted(pilot)
        await press(pilot, "1")
        for _ in range(12):
            if not isinstance(pilot.app.screen, PhoneScreen):
                break
            await press(pilot, "0")
        page = pilot.app.screen
        assert isinstance(page, SheetPage), page
        shown = flat(painted(pilot))
        assert (
            "NEXT FREE VISIT" in shown
            and "HOW SOON" in shown
            and "Mill, Door 3" in shown
            and "Ana; call back 555 0142" in shown
        )
        await press(pilot, "f5")
        assert isinstance(pilot.app.screen, Start)
        assert "from the phone  Mill, Door 3" in painted(pilot) and "DANGER" not in painted(pilot)
        assert "Passed on: the call stands in the list" in painted(pilot)
        said = kept(store)
        placed = [(e.site, e.door, e.caller, e.number) for e in said if isinstance(e, ev.PlaceStated)]
        assert placed == [("Mill", "Door 3", "Ana", "555 0142")]
        assert [e.text for e in said if isinstance(e, ev.Noted)] == ["nothing happens when I press"]
        assert not [e for e in said if isinstance(e, ev.Answered) and e.heard != "told"]
        # The technician goes on with it: what the caller could not tell is open.
        await press(pilot, "enter")
        assert isinstance(pilot.app.screen, Interview)
        assert pilot.app.screen.call.state.answers == {}


async def test_an_answer_that_means_danger_is_answered_before_anything_else(phone: Make, store: Store) -> None:
    async with phone().run_test(size=(80, 24)) as pilot:
        screen = await to_questions(pilot)
        await press(pilot, "1")
        for _ in range(10):
            if screen.question is not None and screen.question.id == "springs-look":
                break
            await press(pilot, "0")
        assert screen.question is not None and screen.question.id == "springs-look"
        await press(pilot, "2")
        assert isinstance(pilot.app.screen, ToldPage)
        shown = flat(painted(pilot))
        assert "▲▲▲ DANGER Keep everyone away." in shown and "How do the springs look?" in shown
        await press(pilot, "enter")
        assert "▲▲▲ DANGER ✓ told: Keep everyone away." in flat(painted(pilot))
        assert dangers(store)[-2:] == [("falling", "yes", False), ("falling", "yes", True)]
        # Undone, the danger goes with the answer that raised it, and the same is asked again.
        for _ in range(3):
            if screen.question is not None and screen.question.id == "springs-look":
                break
            await press(pilot, "u")
        assert screen.question is not None and screen.question.id == "springs-look"
        assert "DANGER" not in painted(pilot)


async def test_danger_in_the_caller_s_words_is_heard(phone: Make) -> None:
    async with phone().run_test(size=(80, 24)) as pilot:
        await ring(pilot)
        await press(pilot, "enter", *WHERE)
        await type_text(pilot, "nothing happens, his hand is caught")
        await press(pilot, "enter")
        assert isinstance(pilot.app.screen, ToldPage)
        assert "Call the emergency services now." in flat(painted(pilot))
        await press(pilot, "enter")
        assert isinstance(pilot.app.screen, PhoneScreen)


async def test_a_danger_in_the_words_shows_its_complaint_before_one_is_taken(phone: Make, store: Store) -> None:
    async with phone().run_test(size=(80, 24)) as pilot:
        await ring(pilot)
        await press(pilot, "enter", *WHERE)
        await type_text(pilot, "nothing happens and then it sinks")
        await press(pilot, "enter")
        assert isinstance(pilot.app.screen, ToldPage)
        await press(pilot, "enter")
        assert isinstance(pilot.app.screen, ComplaintPage)
        assert painted(pilot).index("Hangs crooked") < painted(pilot).index("Does not move at all")
        assert not any(isinstance(event, ev.SymptomsStated) for event in kept(store))
        await press(pilot, "enter")
        assert isinstance(pilot.app.screen, PhoneScreen)
        stated = [event.symptoms for event in kept(store) if isinstance(event, ev.SymptomsStated)]
        assert stated == [("hangs-crooked",)]


async def test_a_danger_brings_its_complaint_to_the_top(phone: Make) -> None:
    async with phone().run_test(size=(80, 24)) as pilot:
        await ring(pilot)
        await press(pilot, "2", "enter", "enter", *WHERE)
        page = pilot.app.screen
        assert isinstance(page, ComplaintPage)
        assert painted(pilot).index("Hangs crooked") < painted(pilot).index("Does not move at all")


async def test_danger_can_be_gone_through_again(phone: Make, store: Store) -> None:
    async with phone().run_test(size=(80, 24)) as pilot:
        await to_questions(pilot, "2")
        assert "▲▲▲ DANGER ✓ told: Keep everyone away." in flat(painted(pilot))
        await press(pilot, "d")
        assert isinstance(pilot.app.screen, SignsPage)
        await press(pilot, "2", "enter")
        assert isinstance(pilot.app.screen, PhoneScreen)
        assert "DANGER" not in painted(pilot)
        assert [answer for danger, answer, _ in dangers(store) if danger == "falling"] == ["yes", "yes", "no"]


async def test_several_answers_are_ticked(phone: Make, store: Store) -> None:
    async with phone().run_test(size=(80, 24)) as pilot:
        screen = await to_questions(pilot)
        await press(pilot, "1")
        for _ in range(10):
            if screen.question is not None and screen.question.id == "devices":
                break
            await press(pilot, "0")
        assert screen.question is not None and screen.question.many
        await press(pilot, "3", "1", "3")
        assert "[x] eye" in painted(pilot) and "[ ] network" in painted(pilot)
        await press(pilot, "enter")
        assert [e.value for e in kept(store) if isinstance(e, ev.FactStated) and e.fact == "devices"] == [("eye",)]


@pytest.mark.parametrize("size", SIZES)
async def test_question_answers_and_how_it_stands_are_all_to_be_seen(phone: Make, size: tuple[int, int]) -> None:
    async with phone().run_test(size=size) as pilot:
        screen = await to_questions(pilot, "2")
        width, height = size
        for name in ("#alarm", "#ask", "Choices", "Hints"):
            region = screen.query_one(name).region
            assert region.height > 0 and region.bottom <= height and region.right <= width, (name, region)
        shown = flat(painted(pilot))
        assert "READ OUT" in shown and "I do not know" in shown and "As it stands" in shown


async def test_what_is_typed_is_never_read_as_markup(phone: Make, store: Store) -> None:
    async with phone().run_test(size=(80, 24)) as pilot:
        await ring(pilot)
        await press(pilot, "enter")
        pilot.app.screen.query_one("#site", Input).value = "[/b] Mill [red]"
        await press(pilot, "enter")
        pilot.app.screen.query_one("#door", Input).value = "door [3]"
        await press(pilot, "enter", "enter", "enter")
        pilot.app.screen.query_one(Input).value = "nothing happens [/x] [bold]"
        await press(pilot, "enter")
        assert "[/b] Mill [red], door [3]" in painted(pilot)
        await press(pilot, "f5")
        assert isinstance(pilot.app.screen, SheetPage)
        assert "nothing happens [/x] [bold]" in {e.text for e in kept(store) if isinstance(e, ev.Noted)}


async def test_a_disk_that_is_full_is_said_and_the_call_goes_on(phone: Make, store: Store) -> None:
    failing = Failing(store)
    async with phone(use=failing).run_test(size=(80, 24)) as pilot:
        await ring(pilot)
        failing.broken = True
        await press(pilot, "1")
        assert "The disk is full." in flat(painted(pilot))
        failing.broken = False
        # What to do about a danger is read out all the same.
        await press(pilot, "3")
        assert "Call the emergency services now." in flat(painted(pilot))
        await press(pilot, "enter")
        await press(pilot, "1")
        assert isinstance(pilot.app.screen, SignsPage)
        assert dangers(store) == [("caught", "no", False)]


async def test_leaving_keeps_the_call_open_and_it_can_be_gone_on_with(phone: Make, store: Store) -> None:
    async with phone().run_test(size=(80, 24)) as pilot:
        await to_questions(pilot)
        await press(pilot, "1", "escape")
        assert isinstance(pilot.app.screen, Start)
    again = phone()
    again.first = lambda: PhoneScreen(store.find("last"))
    async with again.run_test(size=(80, 24)) as pilot:
        await settled(pilot)
        screen = pilot.app.screen
        assert isinstance(screen, PhoneScreen)
        # Neither danger nor complaint nor what was answered is asked again.
        assert screen.question is not None and screen.question.id != "standing"


async def test_the_sheet_is_saved_for_printing(phone: Make, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("diagnose.tui.screens.report.report_folder", lambda: tmp_path / "papers")
    async with phone().run_test(size=(80, 24)) as pilot:
        await to_questions(pilot, "1")
        await press(pilot, "f5", "ctrl+s", "enter")
        files = sorted((tmp_path / "papers").iterdir())
        assert [file.suffix for file in files] == [".html"]
        assert "EMERGENCY" in files[0].read_text("utf-8")
        assert "Saved:" in painted(pilot)
        await press(pilot, "ctrl+s")
        pilot.app.screen.query_one(Input).value = str(tmp_path / "sheet.pdf")
        await press(pilot, "enter")
        assert (tmp_path / "sheet.pdf").read_bytes().startswith(b"%PDF")


async def test_a_call_passed_on_shows_its_danger_among_those_left_open(phone: Make, store: Store) -> None:
    async with phone().run_test(size=(80, 24)) as pilot:
        await to_questions(pilot, "1")
        await press(pilot, "f5", "f5")
        assert isinstance(pilot.app.screen, Start)
        assert "DANGER, from the phone" in painted(pilot) and "Passed on:" in painted(pilot)
        await press(pilot, "enter")
        screen = pilot.app.screen
        assert isinstance(screen, Interview)
        screen.call.enter(next(iter(screen.call.trees.energy)))
        assert marked(screen.call) == "", "somebody at the door has gone on with it"


async def test_nothing_said_begins_no_call(phone: Make, store: Store) -> None:
    async with phone().run_test(size=(80, 24)) as pilot:
        await ring(pilot)
        await press(pilot, "escape")
        assert isinstance(pilot.app.screen, Start)
        assert store.calls() == []


@pytest.mark.parametrize("size", [(60, 18), *SIZES])
@pytest.mark.parametrize("longer", [False, True])
async def test_no_is_said_only_of_signs_that_were_on_the_screen(
    make_app: Make, shipped_trees: Trees, store: Store, size: tuple[int, int], longer: bool
) -> None:
    """Page by page, in either wording, with the first sign ticked: what Enter answers is what the screen shows."""
    async with make_app(with_trees=shipped_trees).run_test(size=size) as pilot:
        await ring(pilot)
        await press(pilot, "1", "enter")
        answered = {danger for danger, _, _ in dangers(store)}
        assert answered == {next(iter(shipped_trees.dangers))}
        while isinstance(page := pilot.app.screen, SignsPage):
            if longer:
                await press(pilot, "w")
            shown = flat(painted(pilot)).replace(" ", "")
            words = {d: sign.plain if longer else sign.ask for d, sign in shipped_trees.dangers.items()}
            on_it = {danger for danger, text in words.items() if text.replace(" ", "") in shown}
            assert on_it
            await press(pilot, "enter")
            said = {danger: answer for danger, answer, _ in dangers(store)}
            assert said.keys() - answered == on_it - answered
            assert {said[danger] for danger in on_it - answered} <= {"no"}
            answered = set(said)
            assert pilot.app.screen is not page
        assert answered == set(shipped_trees.dangers)


async def test_enter_goes_on_whatever_is_highlighted_and_space_ticks(phone: Make, store: Store) -> None:
    async with phone().run_test(size=(80, 24)) as pilot:
        await ring(pilot)
        await press(pilot, "down", "down", "space")
        assert isinstance(pilot.app.screen, ToldPage)
        await press(pilot, "enter")
        assert "[x] Does it sink?" in painted(pilot)
        await press(pilot, "enter")
        assert isinstance(pilot.app.screen, WherePage)
        assert [said for said in dangers(store) if not said[2]] == [
            ("falling", "yes", False),
            ("caught", "no", False),
            ("fire-held", "no", False),
        ]


@pytest.mark.parametrize("size", SIZES)
async def test_every_read_out_was_whole_on_the_screen_before_it_is_ticked_off(
    make_app: Make, shipped_trees: Trees, store: Store, size: tuple[int, int]
) -> None:
    async with make_app(with_trees=shipped_trees).run_test(size=size) as pilot:
        await ring(pilot)
        seen = ""
        while (told := sum(told for _, _, told in dangers(store))) < len(shipped_trees.dangers):
            if isinstance(pilot.app.screen, ToldPage):
                seen += flat(painted(pilot)).replace(" ", "")
                await press(pilot, "enter")
                continue
            page = pilot.app.screen
            assert isinstance(page, SignsPage)
            left = [c for c in page.query_one(Choices).choices if c.name not in {d for d, _, _ in dangers(store)}]
            await press(pilot, left[0].key if left else "enter")
        assert told == len(shipped_trees.dangers)
        for danger in shipped_trees.dangers.values():
            assert danger.instruction.replace(" ", "") in seen, danger.id
        # All of them at once leave room for what is asked.
        assert "Call the emergency services now" in flat(painted(pilot))
        assert "Ctrl+X reads it out in full" in flat(painted(pilot)) or size[1] >= 60


async def test_back_at_the_place_shows_the_signs_as_they_stand(phone: Make, store: Store) -> None:
    async with phone().run_test(size=(80, 24)) as pilot:
        await ring(pilot)
        await press(pilot, "2", "enter", "enter", "ctrl+z")
        assert isinstance(pilot.app.screen, SignsPage)
        assert "[x] Does it sink?" in painted(pilot)
        await press(pilot, "enter")
        assert isinstance(pilot.app.screen, WherePage)
        assert not [e for e in kept(store) if isinstance(e, ev.Undone)]


async def test_what_the_command_line_said_of_the_place_is_there(phone: Make, store: Store) -> None:
    app = phone(settings=Settings(by="Dana"))
    app.first = lambda: PhoneScreen(site="Mill", door="Door 3")
    async with app.run_test(size=(80, 24)) as pilot:
        await settled(pilot)
        await press(pilot, "enter")
        assert isinstance(pilot.app.screen, WherePage)
        assert pilot.app.screen.query_one("#site", Input).value == "Mill"
        await press(pilot, "enter", "enter")
        opened = kept(store)[0]
        assert isinstance(opened, ev.Opened) and (opened.site, opened.door, opened.by) == ("Mill", "Door 3", "Dana")


async def test_a_call_left_open_is_ended_at_the_start_and_on_the_phone(phone: Make, store: Store) -> None:
    async with phone().run_test(size=(80, 24)) as pilot:
        await to_questions(pilot)
        await press(pilot, "escape")
        assert "CALLS LEFT OPEN" in painted(pilot)
        await press(pilot, "f8", "enter")
        assert "Say why" in flat(painted(pilot))
        await type_text(pilot, "a wrong number")
        await press(pilot, "enter")
        assert isinstance(pilot.app.screen, Start) and "CALLS LEFT OPEN" not in painted(pilot)
        await to_questions(pilot)
        await press(pilot, "f8")
        await type_text(pilot, "nobody answers")
        await press(pilot, "enter")
        assert isinstance(pilot.app.screen, Start) and store.calls(open_only=True) == []
        ended = [e for each in store.calls() for e in store.events(each.id) if isinstance(e, ev.Closed)]
        assert {(e.outcome, e.reason) for e in ended} == {
            ("ended without a visit", "a wrong number"),
            ("ended without a visit", "nobody answers"),
        }


async def test_a_call_left_open_is_ended_from_the_list_of_all_calls(phone: Make, store: Store) -> None:
    async with phone().run_test(size=(80, 24)) as pilot:
        await to_questions(pilot, "2")
        await press(pilot, "escape", "ctrl+r", "f8")
        await type_text(pilot, "they rang off")
        await press(pilot, "enter")
        assert isinstance(pilot.app.screen, Calls)
        assert "The door is not safe: It may fall." in flat(painted(pilot))
        (call,) = store.calls()
        assert call.outcome == "ended without a visit"
        # What is closed is not ended again, and is not among the calls left open.
        await press(pilot, "f8")
        await type_text(pilot, "again")
        await press(pilot, "enter")
        assert sum(isinstance(event, ev.Closed) for event in store.events(call.id)) == 1
        await press(pilot, "escape", "escape")
        assert isinstance(pilot.app.screen, Start) and "CALLS LEFT OPEN" not in painted(pilot)


class Counted:
    """The keys of a person, counted."""

    def __init__(self, pilot: Pilot[None]) -> None:
        self.pilot, self.keys = pilot, 0

    async def press(self, *keys: str) -> None:
        self.keys += len(keys)
        await press(self.pilot, *keys)


async def test_from_the_phone_to_the_sheet_in_ten_keys_besides_the_complaint(
    make_app: Make, shipped_trees: Trees
) -> None:
    """No danger, nothing known of the place, and three questions answered by a key each."""
    async with make_app(with_trees=shipped_trees).run_test(size=(80, 24)) as pilot:
        await settled(pilot)
        person = Counted(pilot)
        await person.press("f3", "enter", "f5")
        await type_text(pilot, "fob stopped working")
        await person.press("enter")
        asked = set()
        for _ in range(3):
            screen = pilot.app.screen
            assert isinstance(screen, PhoneScreen) and screen.question is not None
            asked.add(screen.question.id)
            await person.press("1")
        assert len(asked) == 3
        if isinstance(pilot.app.screen, PhoneScreen):
            await person.press("f5")
        assert isinstance(pilot.app.screen, SheetPage)
        assert person.keys <= 10


async def test_from_launch_to_the_first_check_of_a_known_door_in_five_keys(
    make_app: Make, shipped_trees: Trees, store: Store
) -> None:
    from diagnose.calls.call import Call

    facts = {"construction": "sectional", "drive": "trolley", "devices": ("photo-eye", "wall-station")}
    call = Call(
        shipped_trees, facts, ["heavy-by-hand"], site="Mill", door="Door 3", recorder=store.recorder(store.begin())
    )
    call.close("ended without a visit", "a wrong number")
    app = make_app(with_trees=shipped_trees)
    app.where = ("Mill", "Door 3")
    async with app.run_test(size=(80, 24)) as pilot:
        await settled(pilot)
        person = Counted(pilot)
        for keys in (("down",), ("enter",), ("enter",), ("f5",), ("f5",)):
            if isinstance(pilot.app.screen, Interview):
                break
            await person.press(*keys)
        assert isinstance(pilot.app.screen, Interview), (pilot.app.screen, painted(pilot))
        assert person.keys <= 5


async def test_a_question_about_a_part_names_the_key_that_shows_it(make_app: Make, dock: Trees) -> None:
    box = Component(id="box", title="Box", what="Holds it.", where="Up.", looks_like="Grey.", caller="Look up.")
    checks = {name: structs.replace(check, at=("box",)) for name, check in dock.checks.items()}
    trees = structs.replace(dock, digest="box", components={"box": box}, checks=checks)
    async with make_app(with_trees=trees).run_test(size=(80, 24)) as pilot:
        screen = await to_questions(pilot)
        while screen.question is not None and screen.question.kind != "check":
            assert "where it is" not in painted(pilot)
            await press(pilot, "1", *(["enter"] if screen.question.many else []))
        assert "where it is: Ctrl+\\" in flat(painted(pilot))
        await press(pilot, "ctrl+backslash")
        assert "READ OUT Look up." in flat(painted(pilot))
