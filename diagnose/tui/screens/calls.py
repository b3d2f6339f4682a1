"""Every call kept here, the latest first."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from textual import on, work
from textual.widget import Widget
from textual.widgets import Static

from diagnose.tui.rows import call_row
from diagnose.tui.saver import sentence_of
from diagnose.tui.screens.page import Page
from diagnose.tui.text import plain
from diagnose.tui.widgets.pick_list import PickList

if TYPE_CHECKING:
    from diagnose.calls.store import CallSummary


class Calls(Page[None]):
    """Enter opens a call, open or closed."""

    def __init__(self) -> None:
        super().__init__("diagnose › All calls")

    def body(self) -> Iterable[Widget]:
        yield PickList(hint="Type a site, a door, a complaint or a day")
        yield Static(id="told", markup=False)

    def on_screen_resume(self) -> None:
        self._read()

    @work(thread=True, exclusive=True, group="calls", exit_on_error=False)
    def _read(self) -> None:
        store = self.desk.store
        if store is None:
            self.app.call_from_thread(self._tell, self.desk.store_problem or "The calls are not open yet.")
            return
        try:
            calls = store.calls()
        except Exception as error:
            self.app.call_from_thread(self._tell, sentence_of(error))
            return
        self.app.call_from_thread(self._show, calls)

    def _show(self, calls: list[CallSummary]) -> None:
        self.query_one(PickList).show([call_row(self.desk.trees, call) for call in calls])
        self._tell("" if calls else "No call is kept here yet.")

    def _tell(self, sentence: str) -> None:
        self.query_one("#told", Static).update(plain(sentence))

    @on(PickList.Picked)
    def _picked(self, event: PickList.Picked) -> None:
        self._tell(self.desk.resume(event.id.partition(":")[2]))
