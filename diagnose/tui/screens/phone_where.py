"""Where the door of a phone call is, who calls, and how to call back."""

from __future__ import annotations

from collections.abc import Iterable

from textual import on, work
from textual.widget import Widget
from textual.widgets import Input, Static

from diagnose.sitting import phone as course
from diagnose.tui import actions
from diagnose.tui.screens.phone_page import AskedPage, Talk
from diagnose.tui.text import plain
from diagnose.tui.widgets.line import Line

_FIELDS = (
    ("site", "Site", "where"),
    ("door", "Door", "which door"),
    ("caller", "Caller", "who calls"),
    ("number", "Call back", "the number to call back"),
)


class WherePage(AskedPage):
    """All of it may stay empty. Dismissed with ``on`` once it was taken down, or ``back``."""

    place = actions.WHERE

    def __init__(self, talk: Talk, put: course.AskPlace) -> None:
        super().__init__("Phone call › Where", talk)
        self._put = put

    def asked(self) -> Iterable[Widget]:
        told = "Enter: the next line, and after the last one go on. Each may stay empty."
        yield Static(plain(told, "$text-muted"), classes="line", markup=False)
        for name, label, hint in _FIELDS:
            yield Static(label, classes="line", markup=False)
            yield Input(getattr(self._put, name), placeholder=hint, id=name, max_length=120)
        yield Line(id="trouble")

    def on_mount(self) -> None:
        self.show_read_outs()
        empty = [name for name, _, _ in _FIELDS if not getattr(self._put, name)]
        self.query_one(f"#{empty[0] if empty else 'number'}", Input).focus()

    @on(Input.Submitted)
    def _entered(self, event: Input.Submitted) -> None:
        if event.input.id == _FIELDS[-1][0]:
            self.action_go_on()
        else:
            self.focus_next()

    @work(exclusive=True)
    async def action_go_on(self) -> None:
        """Take down what stands in the lines."""
        said = {name: self.query_one(f"#{name}", Input).value.strip() for name, _, _ in _FIELDS}
        wrong = await self.talk.say(course.SayPlace(**said))
        if wrong:
            self.refuse(wrong)
        else:
            self.dismiss("on")
