"""Calls by state and order, words found in a text, two complaints taken at once."""

from __future__ import annotations

from diagnose.calls.store import Store
from diagnose.finding.reading import Reader
from diagnose.knowledge.model import Trees
from diagnose.tui.screens.calls import Calls
from diagnose.tui.screens.choosing import Notice
from diagnose.tui.screens.page import ReadingPage
from diagnose.tui.screens.start import Start
from diagnose.tui.text import plain
from diagnose.tui.widgets.paragraphs import Paragraphs, paragraph
from diagnose.tui.widgets.pick_list import PickList, Row, RowShelf, heading

from .conftest import Make, begin, flat, painted, press, settled, type_text


async def test_calls_are_shown_by_state_and_in_an_order(make_app: Make, store: Store) -> None:
    app = make_app()
    async with app.run_test() as pilot:
        closed = await begin(pilot)
        closed.call.close("left out of service", "no part")
        await press(pilot, "escape")
        await settled(pilot)
        await begin(pilot)
        await press(pilot, "escape")
        await settled(pilot)
        await press(pilot, "ctrl+r")
        assert isinstance(app.screen, Calls)
        assert "All calls, the latest first: 2" in flat(painted(pilot))
        await press(pilot, "tab")
        assert "Calls that are open, the latest first: 1" in flat(painted(pilot))
        assert "left out of service" not in flat(painted(pilot))
        await press(pilot, "tab")
        assert "Calls that are waiting, the latest first: 0" in flat(painted(pilot))
        await press(pilot, "tab")
        assert "left out of service" in flat(painted(pilot))
        await press(pilot, "tab", "ctrl+a", "ctrl+a")
        assert "All calls, by state: 2" in flat(painted(pilot))
        rows = app.screen.query_one(PickList)._rows
        assert ["left out of service" in row.shown.plain for row in rows] == [False, True]


async def test_words_are_found_in_a_text_one_after_the_other(make_app: Make) -> None:
    app = make_app()
    lines = [paragraph(f"line {number} {'needle' if number in (30, 70) else 'hay'}") for number in range(90)]
    async with app.run_test() as pilot:
        await settled(pilot)
        app.push_screen(ReadingPage("A text", lines))
        await press(pilot, "slash")
        await type_text(pilot, "needle")
        await press(pilot, "enter")
        assert "line 30 needle" in painted(pilot)
        await press(pilot, "enter")
        assert "line 70 needle" in painted(pilot) and app.screen.query_one(Paragraphs).find("needle") == 30
        assert app.screen.query_one(Paragraphs).find("needle") == 70
        await press(pilot, "up")
        assert "line 30 needle" in painted(pilot)
        await press(pilot, "up")
        assert "line 70 needle" in painted(pilot), "round the beginning"
        await press(pilot, "down")
        assert "line 30 needle" in painted(pilot)
        await press(pilot, "ctrl+f")
        await type_text(pilot, "zebra")
        await press(pilot, "enter")
        assert "Nothing here has that in it." in painted(pilot)
        await press(pilot, "escape")
        assert isinstance(app.screen, ReadingPage), "the words go first"
        await press(pilot, "escape")
        assert isinstance(app.screen, Start)


async def test_two_complaints_of_one_sentence_are_taken_together(make_app: Make, shipped_trees: Trees) -> None:
    app = make_app(with_trees=shipped_trees)
    async with app.run_test() as pilot:
        await settled(pilot)
        await type_text(pilot, "the chain came off and it smells like burning")
        taken = app.screen.query_one(PickList).highlighted
        assert set(taken.removeprefix("symptom:").split("+")) == {"chain-off", "burning-smell"}
        await press(pilot, "enter")
        assert isinstance(app.screen, Notice)


def test_rows_are_found_by_what_stands_beside_them_and_by_their_group() -> None:
    rows = [heading("Motor"), Row("a", plain("It hums"), under="Motor"), Row("b", plain("Motor hums"), "capacitor")]
    shelf = RowShelf(rows, Reader())
    assert [row.id for row in shelf.find("motor")] == ["b", "a"]
    assert [row.id for row in shelf.find("capacitor")] == ["b"]
    assert RowShelf(rows, Reader(), by_title=True).find("capacitor") == []
