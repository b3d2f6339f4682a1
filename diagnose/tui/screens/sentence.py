"""One line of text asked for: a note, or the reason a door is left out of service, or nobody goes on with a call."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Iterable
from functools import partial
from typing import Any

from textual import on, work
from textual.containers import VerticalScroll
from textual.widget import Widget
from textual.widgets import Input, Static

from diagnose.tui.screens.page import Page
from diagnose.tui.text import plain, printable
from diagnose.tui.widgets.line import Line

# Takes what was typed, and gives back why not, or nothing.
_Keep = Callable[[str], str | Awaitable[str]]
_ASK_END = "Why does nobody go on with this call? It ends with this reason, and leaves the calls that are open."


class SentencePage(Page[str]):
    """Enter hands the text to ``keep``, which gives back why not; then it stays to be mended. Dismissed with it."""

    def __init__(self, crumb: str, ask: str, keep: _Keep, hint: str = "a sentence", text: str = "") -> None:
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
    @work(exclusive=True)
    async def _take(self, event: Input.Submitted) -> None:
        wrong = self._keep(event.value)
        if wrong := wrong if isinstance(wrong, str) else await wrong:
            self.refuse(wrong)
        else:
            self.dismiss(event.value)


async def end_call(page: Page[Any], row: str, crumb: str) -> str:
    """Ask why, and end the call of a ``row``; gives back what is to be said of it, or nothing.

    Only to be awaited in a worker.
    """
    from diagnose.sitting.phone import how_it_ended

    kind, _, identity = row.partition(":")
    if kind != "call":
        return "Move to a call left open first; what ends is the one that is highlighted."

    keep = partial(page.desk.end, identity)
    if not await page.app.push_screen_wait(SentencePage(f"{crumb} › End a call", _ASK_END, keep, "the reason")):
        return ""
    kept = page.desk.kept(identity)
    return kept if isinstance(kept, str) else how_it_ended(kept.call)
