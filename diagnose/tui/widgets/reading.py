"""A reading typed in: the text stays until it is taken, and what is wrong with it stands right below."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from textual import on
from textual.app import ComposeResult
from textual.containers import Vertical
from textual.message import Message
from textual.widgets import Input

from diagnose.calls.answering import AnswerError, Understood
from diagnose.tui.text import printable
from diagnose.tui.widgets.line import Line

KEEP_ANYWAY = "Enter again keeps it; or type it anew."


class Reading(Vertical):
    """An input and a line below it. A number that seems wrong is asked about once, and taken at the second Enter."""

    @dataclass
    class Taken(Message):
        """``text`` is an answer, and confirmed where it was doubted."""

        text: str

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._understand: Callable[[str], Understood] | None = None
        self._doubted: str | None = None

    def compose(self) -> ComposeResult:
        yield Input(id="typed", max_length=600, select_on_focus=False)
        yield Line(id="problem")

    def show(self, hint: str, understand: Callable[[str], Understood]) -> None:
        """Ask anew, with an empty line. ``understand`` raises ``AnswerError`` for what is no answer."""
        self._understand, self._doubted = understand, None
        field = self.query_one(Input)
        with field.prevent(Input.Changed):
            field.value = ""
        field.placeholder = printable(hint)
        self.say("")

    @property
    def typed(self) -> str:
        return self.query_one(Input).value

    def say(self, sentence: str) -> None:
        """What is wrong, below the line; the text stays."""
        self.query_one("#problem", Line).say(sentence)

    @on(Input.Changed)
    def _typing(self, event: Input.Changed) -> None:
        event.stop()
        if event.value != self._doubted:
            self._doubted = None
            self.say("")

    @on(Input.Submitted)
    def _submitted(self, event: Input.Submitted) -> None:
        event.stop()
        if self._understand is None:
            return
        try:
            understood = self._understand(event.value)
        except AnswerError as error:
            self.say(f"✗ {error}")
            return
        if understood.doubt and self._doubted != event.value:
            self._doubted = event.value
            self.say(f"? {understood.doubt} {KEEP_ANYWAY}")
            return
        self.post_message(self.Taken(event.value))
