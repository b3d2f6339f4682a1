"""Every screen at several sizes: what matters is inside the screen, whole, and there is always a way back."""

from __future__ import annotations

import pytest
from textual.pilot import Pilot
from textual.widget import Widget
from textual.widgets import Input

from diagnose.sitting.say import GoTo
from diagnose.tui import actions
from diagnose.tui.keys import key_name
from diagnose.tui.screens.interview import Interview
from diagnose.tui.screens.page import Page
from diagnose.tui.widgets.choices import Choices
from diagnose.tui.widgets.hints import Hints
from diagnose.tui.widgets.status import Status
from diagnose.tui.widgets.step_card import StepCard
from diagnose.tui.widgets.suspects import Suspects

from .conftest import Make, begin, flat, painted, press, settled

SIZES = [(60, 20), (80, 24), (120, 40), (200, 60)]


def assert_within(pilot: Pilot[None]) -> None:
    """Every visible part of the page lies in the screen; choices show all their rows; the footer its last hint."""
    screen = pilot.app.screen
    parts: list[Widget] = [*screen.query("#title"), *screen.query(Hints), *screen.query(Status), *screen.query(Choices)]
    parts += [*screen.query(StepCard), *screen.query(Suspects), *screen.query(Input)]
    for part in parts:
        if not part.display or part.parent is None or any(not node.display for node in part.ancestors):
            continue
        if any(node.id == "inputs" for node in part.ancestors):
            continue
        assert part.region.area > 0, part
        assert screen.region.contains_region(part.region), (part, part.region)
        if isinstance(part, Choices):
            needed = part.get_content_height(screen.size, screen.size, part.content_size.width)
            assert part.content_size.height >= needed, part
    last = painted(pilot).splitlines()[-1].rstrip()
    assert last.endswith("Help"), last


@pytest.mark.parametrize("size", SIZES)
async def test_every_page_fits(make_app: Make, size: tuple[int, int]) -> None:
    app = make_app()
    async with app.run_test(size=size) as pilot:
        await settled(pilot)
        assert_within(pilot)
        await press(pilot, "enter")
        assert_within(pilot)
        await press(pilot, "1")
        for _ in range(6):
            assert_within(pilot)
            await press(pilot, "tab")
        await press(pilot, "f5")
        screen = app.screen
        assert isinstance(screen, Interview)
        assert_within(pilot)
        for key in ("f1", "f2", "ctrl+e", "f4", "ctrl+k", "f6", "f7", "ctrl+w", "f9", "f10", "a", "o", "x"):
            await press(pilot, key)
            assert app.screen is not screen, key
            assert_within(pilot)
            await press(pilot, "escape")
            assert app.screen is screen, key
        for kind, identity in (
            ("check", "eye-volts"),
            ("check", "aim"),
            ("remedy", "heavier-wire"),
            ("stop", "hand over"),
        ):
            screen.sitting.do(GoTo(kind=kind, step=identity))
            screen.show_call()
            await settled(pilot)
            assert_within(pilot)
        shown = flat(painted(pilot, "#suspects"))
        assert "something not in the book" in shown


async def test_at_120_columns_the_answers_stand_beside(make_app: Make) -> None:
    app = make_app()
    async with app.run_test(size=(120, 40)) as pilot:
        await begin(pilot)
        await press(pilot, "3")
        side = painted(pilot, "#side")
        assert "Answers given" in side
        assert "dark" in side
        assert "Likely causes" in side


@pytest.mark.parametrize("theme", ["day", "night"])
async def test_colour_is_never_the_only_sign(make_app: Make, theme: str) -> None:
    """The same words and marks in both themes; the trend and the saved sign are written."""
    app = make_app()
    async with app.run_test() as pilot:
        await begin(pilot)
        app.theme = theme
        await press(pilot, "3")
        words = painted(pilot)
        assert "saved ✓" in words
        assert "▲+" in words
        assert "▼-" in words
        assert "█" in words


async def test_f12_changes_the_theme(make_app: Make) -> None:
    app = make_app()
    async with app.run_test() as pilot:
        await settled(pilot)
        before = app.theme
        await press(pilot, "f12")
        assert {before, app.theme} == {"day", "night"}


# --- the registry of actions ---------------------------------------------------------------------------------


async def test_help_lists_every_action_with_its_keys(make_app: Make) -> None:
    app = make_app()
    async with app.run_test() as pilot:
        await settled(pilot)
        await press(pilot, "f1")
        text = app.screen.query_one("Paragraphs").text
        for action in actions.ACTIONS:
            assert action.title in text, action
            assert all(key_name(key) in text for key in action.keys), action


async def test_the_palette_lists_every_action_of_its_place(make_app: Make) -> None:
    app = make_app()
    async with app.run_test() as pilot:
        await begin(pilot)
        offered = {command.title for command in app.get_system_commands(app.screen)}
        for action in (*actions.CALL.actions, *actions.EVERYWHERE.actions):
            if action.name != "command_palette":
                assert action.title in offered, action


async def test_a_command_of_the_palette_does_what_its_key_does(make_app: Make) -> None:
    app = make_app()
    async with app.run_test() as pilot:
        await begin(pilot)
        await press(pilot, "ctrl+p")
        await press(pilot, *"evidence")
        await press(pilot, "enter")
        await settled(pilot)
        assert "For it" in app.screen.query_one("Paragraphs").text


def test_every_action_is_a_method_of_its_screen() -> None:
    from diagnose.tui.app import DiagnoseApp
    from diagnose.tui.screens import (
        answers,
        calculator,
        calls,
        door,
        doors,
        interview,
        page,
        phone,
        phone_asked,
        phone_page,
        phone_sheet,
        practice_run,
        report,
        shop,
        start,
    )

    homes: dict[actions.Place, type] = {
        actions.EVERYWHERE: DiagnoseApp,
        actions.START: start.Start,
        actions.DOOR: door.Door,
        actions.DOORS: doors.Doors,
        actions.COMPLAINTS: door.Complaint,
        actions.CALL: interview.Interview,
        actions.CARD: StepCard,
        actions.TRAIL: answers.Answers,
        actions.CALLS: calls.Calls,
        actions.SHOP: shop.ShopPage,
        actions.READING: page.ReadingPage,
        actions.CALCULATOR: calculator.FormulaPage,
        actions.REPORT: report.ReportPage,
        actions.PHONE: phone.PhoneScreen,
        actions.SIGNS: phone_asked.SignsPage,
        actions.TOLD: phone_page.ToldPage,
        actions.WHERE: phone_asked.WherePage,
        actions.READ_OUT: phone_asked.ComplaintPage,
        actions.SHEET: phone_sheet.SheetPage,
        actions.PRACTICE: practice_run.PracticeRun,
    }
    assert set(homes) == set(actions.PLACES)
    for place, home in homes.items():
        for action in place.actions:
            assert hasattr(home, f"action_{action.name.partition('(')[0]}"), action
        if issubclass(home, Page):
            assert home.place == place


@pytest.mark.parametrize("place", list(actions.PLACES))
def test_the_footer_has_at_most_seven_hints_that_fit_80_columns(place: actions.Place) -> None:
    hints = Hints(place)
    assert len(hints.shown(10_000)) <= 7
    assert hints.shown(80) == hints.shown(10_000)
    assert [word for _, word, _ in hints.shown(20)][-1] == "Help"


async def test_a_click_does_what_a_key_does(make_app: Make) -> None:
    app = make_app()
    async with app.run_test() as pilot:
        screen = await begin(pilot)
        choices = screen.query_one(Choices)
        line = next(y for y, row in enumerate(painted(pilot, "Choices").splitlines()) if "dark" in row)
        await pilot.click(Choices, offset=(painted(pilot, "Choices").splitlines()[line].index("dark") + 1, line))
        await settled(pilot)
        assert screen.call.state.answers["lamp"].value == "dark"
        assert choices.display
        await pilot.click(Hints, offset=(painted(pilot, "Hints").index("Answers"), 0))
        await settled(pilot)
        assert "Answers given" in painted(pilot, "#title")
        await pilot.click(Hints, offset=(painted(pilot, "Hints").index("Help"), 0))
        await settled(pilot)
        assert "Help" in painted(pilot, "#title")
