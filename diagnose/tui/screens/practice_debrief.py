"""The debriefing of a practice, to read and to save."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from textual.widget import Widget

from diagnose.practice import telling
from diagnose.practice.debrief import Debrief
from diagnose.practice.debrief_page import html_debrief, markdown_debrief
from diagnose.tui import actions
from diagnose.tui.screens.report import SavedPage
from diagnose.tui.widgets.paragraphs import Paragraphs, told_paragraphs


class PracticeDebrief(SavedPage[None]):
    """Shows the whole of it; saved, it has its tables and its drawing."""

    place = actions.REPORT

    def __init__(self, found: Debrief, identity: str) -> None:
        super().__init__("Practise › Debriefing")
        self._found, self.file_name = found, identity or "practice"

    def shown(self) -> Iterable[Widget]:
        yield Paragraphs(told_paragraphs(telling.debrief(self._found)))

    def forms(self) -> dict[str, Callable[[], str | bytes]]:
        return {".html": lambda: html_debrief(self._found), ".md": lambda: markdown_debrief(self._found)}
