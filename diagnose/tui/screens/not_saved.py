"""An answer could not be put on the disk: what to do about it, without losing the call."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

from textual import events, on
from textual.containers import VerticalScroll
from textual.widget import Widget
from textual.widgets import Static

from diagnose.sitting.choices import Choice
from diagnose.tui.screens.page import Page
from diagnose.tui.text import assemble, plain, stack
from diagnose.tui.widgets.choices import Choices

Way = Literal["again", "without", "back"]


class NotSavedPage(Page[Way]):
    """Dismissed with what to do: try again, go on without saving, or go back as if nothing had been said."""

    def __init__(self, why: str) -> None:
        super().__init__("Not saved")
        self._why = why

    def body(self) -> Iterable[Widget]:
        text = stack(
            [
                assemble(("This could not be saved.", "bold")),
                plain(self._why),
                plain(""),
                plain(
                    "Going on without saving keeps the call while the program runs. It is lost if the power goes or "
                    "the program ends. Ctrl+S tries again to save all of it at any time."
                ),
            ]
        )
        yield VerticalScroll(Static(text, markup=False), id="page")
        yield Choices()

    def on_mount(self) -> None:
        choices = self.query_one(Choices)
        choices.show(
            (
                Choice("1", "Try again", "again"),
                Choice("2", "Go on without saving", "without"),
                Choice("3", "Back, what was typed is kept", "back"),
            )
        )
        choices.focus()

    def on_key(self, event: events.Key) -> None:
        if event.character and self.query_one(Choices).press(event.character):
            event.stop()

    @on(Choices.Chosen)
    def _chosen(self, event: Choices.Chosen) -> None:
        way: Way = "again" if event.choice.name == "again" else "without" if event.choice.name == "without" else "back"
        self.dismiss(way)

    def action_back(self) -> None:
        self.dismiss("back")
