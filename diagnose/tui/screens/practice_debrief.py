"""The debriefing of a practice, to read and to save."""

from __future__ import annotations

from collections.abc import Iterable

from textual.containers import VerticalScroll
from textual.widget import Widget
from textual.widgets import Static

from diagnose.practice import telling
from diagnose.practice.debrief import Debrief, html_debrief, markdown_debrief
from diagnose.tui import actions
from diagnose.tui.screens.page import Page
from diagnose.tui.screens.practice_pages import told_paragraphs
from diagnose.tui.screens.report import report_folder
from diagnose.tui.text import plain
from diagnose.tui.widgets.paragraphs import Paragraphs


class PracticeDebrief(Page[None]):
    """Shows the whole of it; saved, it has its tables and its drawing."""

    place = actions.REPORT
    BINDINGS = actions.bindings(actions.REPORT)

    def __init__(self, found: Debrief, identity: str) -> None:
        super().__init__("Practise › Debriefing")
        self._found, self._identity = found, identity

    def body(self) -> Iterable[Widget]:
        yield VerticalScroll(Paragraphs(told_paragraphs(telling.debriefing(self._found))), id="page")
        yield Static(id="told", markup=False)

    def on_mount(self) -> None:
        self.query_one("#page").focus()
        self.query_one("#told").display = False

    def action_save_text(self) -> None:
        self._save("md", markdown_debrief(self._found))

    def action_save_page(self) -> None:
        self._save("html", html_debrief(self._found))

    def _save(self, ending: str, text: str) -> None:
        file = report_folder() / f"{self._identity or 'practice'}.{ending}"
        try:
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_text(text, encoding="utf-8")
        except OSError as error:
            self._tell(f"{file} could not be written: {error.strerror}.")
        else:
            self._tell(f"Saved: {file}")

    def _tell(self, sentence: str) -> None:
        line = self.query_one("#told", Static)
        line.update(plain(sentence))
        line.display = True
