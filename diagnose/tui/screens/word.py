"""The word that is missing: what became of something, or why it is right to take something back."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from textual import events, on, work
from textual.containers import VerticalScroll
from textual.widget import Widget
from textual.widgets import Static

from diagnose.sitting.choices import Choice
from diagnose.tui.screens.page import Page
from diagnose.tui.screens.sentence import SentencePage
from diagnose.tui.text import plain
from diagnose.tui.widgets.choices import Choices


class WordPage(Page[tuple[str, str]]):
    """Dismissed with the name of what was chosen and the reason typed, ``None`` to leave all as it is."""

    def __init__(self, sentence: str, choices: Sequence[Choice]) -> None:
        super().__init__("Call › A word on that")
        self._sentence, self._choices = sentence, tuple(choices)

    def body(self) -> Iterable[Widget]:
        yield VerticalScroll(Static(plain(self._sentence), markup=False), id="page", can_focus=False)
        yield Choices()

    def on_mount(self) -> None:
        choices = self.query_one(Choices)
        choices.show(self._choices)
        choices.focus()

    def on_key(self, event: events.Key) -> None:
        if event.character and self.query_one(Choices).press(event.character):
            event.stop()

    @on(Choices.Chosen)
    def _chosen(self, event: Choices.Chosen) -> None:
        event.stop()
        self._take(event.choice)

    @work(exclusive=True)
    async def _take(self, choice: Choice) -> None:
        words: list[str] = []

        async def keep(text: str) -> str:
            words.append(text.strip())
            return "" if text.strip() else "Say why, in a few words."

        if choice.asks:
            page = SentencePage("Call › A word on that", choice.asks, "a sentence, then Enter", keep)
            if not await self.app.push_screen_wait(page):
                return
        self.dismiss((choice.name, words[-1] if words else ""))
