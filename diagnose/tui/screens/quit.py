"""Leaving with answers that are only in memory: asked first."""

from __future__ import annotations

from collections.abc import Iterable

from textual import events, on
from textual.containers import VerticalScroll
from textual.widget import Widget
from textual.widgets import Static

from diagnose.sitting.choices import Choice
from diagnose.tui.saver import NotSaved, Saver
from diagnose.tui.screens.page import Page
from diagnose.tui.text import plain, stack
from diagnose.tui.widgets.choices import Choices


class QuitUnsaved(Page[bool]):
    """Dismissed with true to leave."""

    def __init__(self, saver: Saver) -> None:
        super().__init__("Leave without saving?")
        self._saver = saver

    def body(self) -> Iterable[Widget]:
        yield VerticalScroll(Static(id="text", markup=False), id="page", can_focus=False)
        yield Choices()

    def on_mount(self) -> None:
        self._say("")
        choices = self.query_one(Choices)
        choices.show(
            (
                Choice("1", "Try to save, then leave", "save"),
                Choice("2", "Stay", "stay"),
                Choice("3", "Leave and lose it", "leave"),
            )
        )
        choices.focus()

    def _say(self, more: str) -> None:
        count = len(self._saver.waiting)
        entries = "entry" if count == 1 else "entries"
        first = f"Not saved: {count} {entries} of this call, lost when you leave." if count else "All is saved."
        self.query_one("#text", Static).update(stack([plain(first, "bold"), plain(more)]))

    def on_key(self, event: events.Key) -> None:
        if event.character and self.query_one(Choices).press(event.character):
            event.stop()

    @on(Choices.Chosen)
    def _chosen(self, event: Choices.Chosen) -> None:
        if event.choice.name == "save":
            try:
                self._saver.save_now()
            except NotSaved as error:
                self._say(f"Still not saved: {error}")
                return
        self.dismiss(event.choice.name != "stay")

    def action_back(self) -> None:
        self.dismiss(False)
