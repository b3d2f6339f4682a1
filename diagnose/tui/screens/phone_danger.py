"""Danger on the phone: the signs that are asked before anything else."""

from __future__ import annotations

from collections.abc import Iterable

from textual import events, on, work
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Static

from diagnose.knowledge.model import Danger
from diagnose.sitting import phone as course
from diagnose.sitting.choices import KEYS, Choice
from diagnose.tui import actions
from diagnose.tui.screens.phone_page import AskedPage, Talk
from diagnose.tui.text import assemble, plain, stack
from diagnose.tui.widgets.choices import Choices
from diagnose.tui.widgets.instruction import ReadOuts
from diagnose.tui.widgets.line import Line
from diagnose.tui.widgets.paragraphs import hanging

# Lines that a page keeps for its title, its keys and what went wrong, and cells beside a sign.
_KEPT_LINES, _KEPT_CELLS = 3, 4
_NO_ROOM = "There is no room here to ask about danger. Make the window larger, or go on with: diagnose call --plain"


class SignsPage(AskedPage):
    """As many signs of danger as stand on the screen. Dismissed with ``on`` once these are answered, or ``back``.

    A key says that a sign is there, and what to do is read out at once; Enter says that the others on the screen are
    not there, and nothing of those that follow.
    """

    place = actions.SIGNS

    def __init__(self, talk: Talk, put: course.AskSigns) -> None:
        super().__init__("Phone call › First: danger", talk)
        self._put = put
        self._there = {danger.id for danger in put.signs if put.there.get(danger.id)}
        self._shown: tuple[Danger, ...] = ()
        self._plain = False

    def asked(self) -> Iterable[Widget]:
        yield Static(id="ask", markup=False)
        yield Choices(enter_goes_on=True)
        yield Line(id="trouble")

    def on_mount(self) -> None:
        self.paint_all()
        self.query_one(Choices).focus()

    def paint(self) -> None:
        spoken = self.talk.spoken
        ask = spoken.danger_plain if self._plain else spoken.danger
        head = [assemble(("READ OUT  ", "bold $text-accent"), (spoken.phrase("phone.before-all"), "bold"))]
        width = max(self.app.size.width - _KEPT_CELLS, 10)
        kept = _KEPT_LINES + self.query_one(ReadOuts).lines
        room = self.app.size.height - kept - sum(len(line.wrap(width)) for line in (*head, _keys(9)))
        shown: list[Danger] = []
        for danger in self._put.signs:
            room -= len(hanging(plain(f" 1  [ ] {ask(danger)} "), width, "    "))
            if room < 0:
                break
            shown.append(danger)
        self._shown = tuple(shown)
        told = _keys(len(self._put.signs) - len(shown)) if shown else plain(_NO_ROOM, "bold")
        self.query_one("#ask", Static).update(stack([*head, told]))
        choices = tuple(Choice(key, ask(danger), danger.id) for key, danger in zip(KEYS, shown, strict=False))
        self.query_one(Choices).show(choices, self._there, keep=True)

    def on_key(self, event: events.Key) -> None:
        if event.character and any(choice.key == event.character for choice in self.query_one(Choices).choices):
            event.stop()
            self.query_one(Choices).press(event.character)

    @on(Choices.Chosen)
    def _chosen(self, event: Choices.Chosen) -> None:
        self._there ^= {event.choice.name}
        self.query_one(Choices).show(self.query_one(Choices).choices, self._there, keep=True)
        self._record({event.choice.name: event.choice.name in self._there})

    @work(group="danger")
    async def _record(self, there: dict[str, bool]) -> None:
        self.refuse(await self.talk.say(course.SaySigns(there)))
        self.paint_all()

    @on(Choices.Entered)
    @work(exclusive=True, group="go on")
    async def action_go_on(self) -> None:
        """The signs on the screen are answered, and no others."""
        shown = {danger.id: danger.id in self._there for danger in self._shown}
        wrong = await self.talk.say(course.SaySigns(shown)) if shown else _NO_ROOM
        if wrong:
            self.refuse(wrong)
        else:
            self.dismiss("on")

    def action_meaning(self) -> None:
        self._plain = not self._plain
        self.paint()


def _keys(more: int) -> Content:
    following = f"; {more} more follow{'s' if more == 1 else ''}" if more else ""
    return plain(f"A number: yes.  Enter: no to the others on this screen{following}.", "$text-muted")
