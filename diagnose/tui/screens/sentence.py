"""One line of text asked for: a note, or the reason a door is left out of service."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Iterable

from textual import on, work
from textual.containers import VerticalScroll
from textual.widget import Widget
from textual.widgets import Input, Static

from diagnose.tui.screens.page import Page
from diagnose.tui.text import plain, printable
from diagnose.tui.widgets.line import Line


class SentencePage(Page[str]):
    """Enter hands the text to ``keep``, which gives back why not; then it stays to be mended. Dismissed with it."""

    def __init__(
        self, crumb: str, ask: str, keep: Callable[[str], Awaitable[str]], hint: str = "a sentence", *, text: str = ""
    ) -> None:
        """``text`` stands in the line already."""
        super().__init__(crumb)
        self._ask, self._hint, self._keep, self._text = ask, hint, keep, text

    def body(self) -> Iterable[Widget]:
        with VerticalScroll(id="page", can_focus=False):
            yield Static(plain(self._ask), markup=False)
        yield Input(self._text, placeholder=printable(f"{self._hint}, then Enter"), max_length=500)
        yield Line(id="trouble")

    def on_mount(self) -> None:
        self.query_one(Input).focus()

    @on(Input.Submitted)
    def _entered(self, event: Input.Submitted) -> None:
        self._take(event.value)

    @work(exclusive=True)
    async def _take(self, text: str) -> None:
        wrong = await self._keep(text)
        if wrong:
            self.refuse(wrong)
        else:
            self.dismiss(text)
