"""Danger on the phone: the signs asked first, and what to read out when one comes up later."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Iterable
from typing import TYPE_CHECKING

from textual import events, on, work
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Static

from diagnose.screening.spoken import Spoken, next_language
from diagnose.tui import actions
from diagnose.tui.cards import KEYS, Choice
from diagnose.tui.screens.page import Page
from diagnose.tui.text import assemble, plain, show_line, stack
from diagnose.tui.widgets.choices import Choices
from diagnose.tui.widgets.instruction import instruction_block

if TYPE_CHECKING:
    from diagnose.screening.danger import Raised

# Sign → whether it is there; gives back why it was not taken down, or nothing.
State = Callable[[dict[str, bool]], Awaitable[str]]


class DangerPage(Page[str]):
    """The signs of danger on one screen, asked first. Dismissed with the language, or ``None`` if nothing was said.

    A key says that a sign is there, and what to do is shown at once; Enter says that the others are not.
    """

    place = actions.READ_OUT
    BINDINGS = actions.bindings(actions.READ_OUT)

    def __init__(self, language: str, there: dict[str, bool], state: State) -> None:
        super().__init__("Phone call › First: danger")
        self._language, self._state = language, state
        self._there = {danger for danger, is_there in there.items() if is_there}
        self._plain = False

    def body(self) -> Iterable[Widget]:
        yield Static(id="ask", markup=False)
        yield Choices()
        yield Static(id="trouble", markup=False)
        yield VerticalScroll(Static(id="read-out", markup=False), id="page", can_focus=False)

    def on_mount(self) -> None:
        self.query_one("#trouble").display = False
        self._paint()
        self.query_one(Choices).focus()

    @property
    def spoken(self) -> Spoken:
        return Spoken(self.desk.trees, self._language)

    def _paint(self) -> None:
        trees, spoken = self.desk.trees, self.spoken
        read = assemble(("READ OUT  ", "bold $text-accent"), (spoken.phrase("phone.before-all"), "bold"))
        keys = plain(
            "A number says yes, and shows at once what to tell them. Enter: no to all the others.", "$text-muted"
        )
        self.query_one("#ask", Static).update(stack([read, keys]))
        ask = spoken.danger_plain if self._plain else spoken.danger
        shown = [Choice(key, ask(danger), danger.id) for key, danger in zip(KEYS, trees.dangers.values(), strict=False)]
        self.query_one(Choices).show(tuple(shown), self._there, keep=True)
        lines: list[Content] = []
        for danger in trees.dangers.values():
            if danger.id in self._there:
                lines += [instruction_block(danger.word, spoken.instruction(danger)), Content("")]
        self.query_one("#read-out", Static).update(stack(lines))

    def on_key(self, event: events.Key) -> None:
        if event.key == "enter" and self.query_one(Choices).highlighted < 0:
            event.stop()
            self._go_on()
        elif event.character and any(c.key == event.character for c in self.query_one(Choices).choices):
            event.stop()
            self.query_one(Choices).press(event.character)

    @on(Choices.Chosen)
    def _chosen(self, event: Choices.Chosen) -> None:
        event.stop()
        self._there ^= {event.choice.name}
        self._paint()
        self.query_one("#page", VerticalScroll).scroll_end(animate=False)
        self._record({event.choice.name: event.choice.name in self._there})

    @work(group="danger")
    async def _record(self, answers: dict[str, bool]) -> None:
        self._say(await self._state(answers))

    @work(exclusive=True, group="go on")
    async def _go_on(self) -> None:
        wrong = await self._state({danger: danger in self._there for danger in self.desk.trees.dangers})
        if wrong:
            self._say(wrong)
        else:
            self.dismiss(self._language)

    def _say(self, sentence: object) -> None:
        show_line(self.query_one("#trouble", Static), f"✗ {sentence}" if sentence else "")

    def action_meaning(self) -> None:
        self._plain = not self._plain
        self._paint()

    def action_language(self) -> None:
        self._language = next_language(self.desk.trees.languages, self._language)
        self._paint()

    def action_go_on(self) -> None:
        self._go_on()


class InstructionPage(Page[bool]):
    """A danger came up in the middle of a call: what to read out now, before anything else."""

    def __init__(self, language: str, raised: Iterable[Raised]) -> None:
        super().__init__("Phone call › DANGER: read this out now")
        self._language, self._raised = language, tuple(raised)

    def body(self) -> Iterable[Widget]:
        from diagnose.screening.paper import raised_in_words

        spoken = Spoken(self.desk.trees, self._language)
        lines: list[Content] = []
        for each in self._raised:
            lines += [
                plain(f"{each.danger.title} ({raised_in_words(self.desk.trees, each)})"),
                instruction_block(each.danger.word, spoken.instruction(each.danger)),
                Content(""),
            ]
        lines.append(plain("Enter goes on, once they have heard it and are safe."))
        yield VerticalScroll(Static(stack(lines), markup=False), id="page")

    def on_mount(self) -> None:
        self.query_one(VerticalScroll).focus()

    def on_key(self, event: events.Key) -> None:
        if event.key == "enter":
            event.stop()
            self.dismiss(True)
