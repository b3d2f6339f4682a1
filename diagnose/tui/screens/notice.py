"""Said once at the start of every call: what comes before this program's advice."""

from __future__ import annotations

from collections.abc import Iterable

from textual import on
from textual.containers import VerticalScroll
from textual.widget import Widget
from textual.widgets import Static

from diagnose.sitting.choices import Choice
from diagnose.tui.screens.page import Page
from diagnose.tui.text import assemble, plain, stack
from diagnose.tui.widgets.choices import Choices

FIRST = "Local codes, the maker's instructions and licensed practice come first. This program only advises."
REST = (
    "Read the cautions above each step before you do it. Springs, cables, drums and bottom brackets are a trained "
    "door technician's work. Nobody defeats or bypasses a safety device, not even to test: a door whose device is "
    "faulty stays out of service. The door returns to service only when every proof has passed."
)


class Notice(Page[bool]):
    """Dismissed with true once it is acknowledged."""

    def __init__(self) -> None:
        super().__init__("New call › Before you begin")

    def body(self) -> Iterable[Widget]:
        yield VerticalScroll(
            Static(stack([assemble((FIRST, "bold")), plain(""), plain(REST)]), markup=False), id="page"
        )
        yield Choices()

    def on_mount(self) -> None:
        choices = self.query_one(Choices)
        choices.show((Choice("1", "Understood", "understood"),))
        choices.action_move(1)
        choices.focus()

    @on(Choices.Chosen)
    def _understood(self) -> None:
        self.dismiss(True)

    def on_key(self, event: object) -> None:
        """Any of the usual keys will do: there is nothing to choose."""
        if getattr(event, "key", "") in ("1", "space"):
            self.dismiss(True)

    def action_back(self) -> None:
        self.dismiss(False)
