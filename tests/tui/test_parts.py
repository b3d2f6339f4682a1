"""What the screens are made of, without a screen: cards, views, the technician's own course, the parts of widgets."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len
from textual.widgets import Input

from diagnose.calls.store import Store
from diagnose.calls.verdict import Suspect
from diagnose.knowledge.model import Trees
from diagnose.knowledge.words import minutes
from diagnose.tui.app import DiagnoseApp
from diagnose.tui.screens import report
from diagnose.tui.text import plain
from diagnose.tui.widgets.paragraphs import hanging
from diagnose.tui.widgets.status import _with_interval
from diagnose.tui.widgets.suspects import trend
from tests.tui.pictures import take_pictures

from .conftest import Make, begin, painted, press

# --- parts of widgets ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("moved", "shown"), [(None, ""), (0.004, "="), (0.12, "▲+12"), (-0.05, "▼-5")])
def test_trend_is_written(moved: float | None, shown: str) -> None:
    assert trend(Suspect("a", "A", 0.5, moved=moved)) == shown


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
    assert _with_interval(85, 58, 160) == "85 min left (60 to 160)"
    assert _with_interval(155, 43, 260) == "2½ h left (45 min to 4½ h)"
    assert _with_interval(478, 386, 644) == "8 h left (6½ to 10½ h)"
    assert _with_interval(39, 39, 39) == ""


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


async def test_the_record_is_saved_in_every_form(
    make_app: Make, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(report, "report_folder", lambda: tmp_path / "reports")
    async with make_app().run_test() as pilot:
        screen = await begin(pilot)
        await press(pilot, "f10", "ctrl+s", "enter", "ctrl+s")
        line = pilot.app.screen.query_one(Input)
        line.value = line.value.replace(".html", ".txt")
        await press(pilot, "enter", "ctrl+s")
        line = pilot.app.screen.query_one(Input)
        line.value = line.value.replace(".html", ".pdf")
        await press(pilot, "enter")
        assert "Saved:" in painted(pilot)
        name = screen.in_hand.saver.call_id
        assert "The eye's lamp is wrong" in (tmp_path / "reports" / f"{name}.txt").read_text(encoding="utf-8")
        assert "<html" in (tmp_path / "reports" / f"{name}.html").read_text(encoding="utf-8")
        await pilot.app.workers.wait_for_complete()
        assert (tmp_path / "reports" / f"{name}.pdf").read_bytes().startswith(b"%PDF-")


async def test_a_report_that_cannot_be_written_says_so(
    make_app: Make, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "file").write_text("in the way", encoding="utf-8")
    monkeypatch.setattr(report, "report_folder", lambda: tmp_path / "file")
    async with make_app().run_test() as pilot:
        await begin(pilot)
        await press(pilot, "f10", "ctrl+s", "enter")
        assert "could not be written" in painted(pilot)


async def test_a_fault_of_the_program_ends_it_without_a_traceback_on_the_terminal(trees: Trees, store: Store) -> None:
    app = DiagnoseApp(trees, lambda: store)
    with pytest.raises(ZeroDivisionError):
        async with app.run_test() as pilot:
            app.call_later(lambda: 1 / 0)
            await pilot.pause()
    assert isinstance(app.fault, ZeroDivisionError)
    assert app._exit_renderables == []
