"""Evidence for and against each cause, answer by answer."""

from __future__ import annotations

from collections.abc import Iterable

from textual import on
from textual.containers import Container, VerticalScroll
from textual.widget import Widget

from diagnose.calls.call import Call
from diagnose.sitting.telling import evidence
from diagnose.sitting.view import CallView
from diagnose.tui.screens.page import Page
from diagnose.tui.widgets.paragraphs import Paragraphs, told_paragraphs
from diagnose.tui.widgets.pick_list import PickList, Row
from diagnose.tui.widgets.suspects import STRENGTH, suspect_line


class EvidencePage(Page[None]):
    """Arrows choose a cause; below stands what speaks for it and against it."""

    def __init__(self, call: Call, view: CallView) -> None:
        super().__init__("Call › Evidence for and against")
        self._call, self._view = call, view

    def body(self) -> Iterable[Widget]:
        with Container(id="pair"):
            rows = [Row(each.cause, suspect_line(each), set_in=STRENGTH) for each in self._view.suspects]
            yield PickList(rows, search=False)
            yield VerticalScroll(Paragraphs(id="text"), id="page", can_focus=False)

    @on(PickList.Moved)
    @on(PickList.Picked)
    def _show(self, event: PickList.Moved | PickList.Picked) -> None:
        told = evidence(self._call, event.id, self.desk.settings.units)
        self.query_one(Paragraphs).show(told_paragraphs(told))
        self.query_one("#page", VerticalScroll).scroll_home(animate=False)
