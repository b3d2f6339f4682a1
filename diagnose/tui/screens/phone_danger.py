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
from diagnose.sitting.choices import KEYS, Choice
from diagnose.tui import actions
from diagnose.tui.screens.page import Page
from diagnose.tui.text import assemble, plain, show_line, stack
from diagnose.tui.widgets.choices import Choices
from diagnose.tui.widgets.instruction import instruction_block
from diagnose.tui.widgets.paragraphs import hanging

if TYPE_CHECKING:
    from diagnose.knowledge.model import Danger
    from diagnose.screening.danger import Raised
    from diagnose.sitting.phone import Act, AskSigns

# Says an act; gives back why it was not taken down, or nothing, and the dangers to be read out now.
Say = Callable[["Act"], Awaitable[tuple[str, tuple["Raised", ...]]]]
# Lines that a page keeps for its title, its keys and the first thing to read out, and cells beside a sign.
_KEPT_LINES, _KEPT_CELLS = 6, 4


class SignsPage(Page[str]):
    """As many signs of danger as stand on the screen. Dismissed with ``on`` once these are answered, or ``back``.

    A key says that a sign is there, and what to do is shown at once; Enter says that the others on the screen are not.
    """

    place = actions.SIGNS
    BINDINGS = actions.bindings(actions.SIGNS)

    def __init__(self, put: AskSigns, say: Say, spoken: Spoken) -> None:
        super().__init__("Phone call › First: danger")
        self._put, self._say, self.spoken = put, say, spoken
        self._there = {danger.id for danger in put.signs if put.there.get(danger.id)}
        self._shown: tuple[Danger, ...] = ()
        self._plain = False

    def body(self) -> Iterable[Widget]:
        yield Static(id="ask", markup=False)
        yield Choices(enter_goes_on=True)
        yield Static(id="trouble", markup=False)
        yield VerticalScroll(Static(id="read-out", markup=False), id="page", can_focus=False)

    def on_mount(self) -> None:
        self.query_one("#trouble").display = False
        self._paint()
        self.query_one(Choices).focus()

    def on_resize(self, event: events.Resize) -> None:
        if self.is_mounted:
            self._paint()

    def _paint(self) -> None:
        ask = self.spoken.danger_plain if self._plain else self.spoken.danger
        head = [
            assemble(("READ OUT  ", "bold $text-accent"), (self.spoken.phrase("phone.before-all"), "bold")),
            plain("A number says yes and shows what to tell them.", "$text-muted"),
        ]
        width = max(self.app.size.width - _KEPT_CELLS, 10)
        room = self.app.size.height - _KEPT_LINES - sum(len(line.wrap(width)) for line in (*head, _enter(1)))
        shown: list[Danger] = []
        for danger in self._put.signs:
            room -= len(hanging(plain(f" 1  [ ] {ask(danger)} "), width, "    "))
            if room < 0 and shown:
                break
            shown.append(danger)
        self._shown = tuple(shown)
        self.query_one("#ask", Static).update(stack([*head, _enter(len(self._put.signs) - len(shown))]))
        keyed = zip(KEYS, shown, strict=False)
        choices = tuple(Choice(key, ask(danger), danger.id) for key, danger in keyed)
        self.query_one(Choices).show(choices, self._there, keep=True)
        lines: list[Content] = []
        for danger in self._ticked():
            lines += [instruction_block(danger.word, self.spoken.instruction(danger))]
        self.query_one("#read-out", Static).update(stack(lines))

    def _ticked(self) -> list[Danger]:
        return [danger for danger in self._put.signs if danger.id in self._there]

    def on_key(self, event: events.Key) -> None:
        if event.character and any(choice.key == event.character for choice in self.query_one(Choices).choices):
            event.stop()
            self.query_one(Choices).press(event.character)

    @on(Choices.Chosen)
    def _chosen(self, event: Choices.Chosen) -> None:
        event.stop()
        self._there ^= {event.choice.name}
        self._paint()
        self.query_one("#page", VerticalScroll).scroll_home(animate=False)
        self._record({event.choice.name: event.choice.name in self._there})

    @on(Choices.Entered)
    def _entered(self, event: Choices.Entered) -> None:
        event.stop()
        self.action_go_on()

    @work(group="danger")
    async def _record(self, there: dict[str, bool]) -> None:
        from diagnose.sitting.phone import SaySigns

        wrong, _ = await self._say(SaySigns(there))
        self._tell(wrong)

    @work(exclusive=True, group="go on")
    async def action_go_on(self) -> None:
        """The signs on the screen are answered, and no others."""
        from diagnose.screening.danger import Raised
        from diagnose.sitting.phone import SaySigns

        below = self.query_one("#page", VerticalScroll).max_scroll_y > 0
        wrong, _ = await self._say(SaySigns({danger.id: danger.id in self._there for danger in self._shown}))
        if wrong:
            self._tell(wrong)
            return
        if below:
            raised = [Raised(danger, "asked") for danger in self._ticked()]
            await self.app.push_screen_wait(InstructionPage(self.spoken, raised))
        self.dismiss("on")

    def _tell(self, wrong: str) -> None:
        show_line(self.query_one("#trouble", Static), f"✗ {wrong}" if wrong else "")

    def action_meaning(self) -> None:
        self._plain = not self._plain
        self._paint()

    def action_language(self) -> None:
        self.spoken = Spoken(self.desk.trees, next_language(self.desk.trees.languages, self.spoken.language))
        self._paint()

    def action_undo(self) -> None:
        self.dismiss("back")


def _enter(more: int) -> Content:
    following = f"; {more} more follow" if more else ""
    return plain(f"Enter: no to the others on this screen{following}.", "$text-muted")


class InstructionPage(Page[bool]):
    """A danger came up: what to read out now, before anything else. Enter goes on once all of it was on the screen."""

    def __init__(self, spoken: Spoken, raised: Iterable[Raised]) -> None:
        super().__init__("Phone call › DANGER: read this out now")
        self._spoken, self._raised = spoken, tuple(raised)

    def body(self) -> Iterable[Widget]:
        from diagnose.screening.paper import raised_in_words

        lines: list[Content] = []
        for each in self._raised:
            lines += [
                plain(f"{each.danger.title} ({raised_in_words(self.desk.trees, each)})"),
                instruction_block(each.danger.word, self._spoken.instruction(each.danger)),
                Content(""),
            ]
        lines.append(plain("Enter goes on, once they have heard it and are safe."))
        yield VerticalScroll(Static(stack(lines), markup=False), id="page")

    def on_mount(self) -> None:
        self.query_one(VerticalScroll).focus()

    def on_key(self, event: events.Key) -> None:
        if event.key == "enter":
            event.stop()
            page = self.query_one("#page", VerticalScroll)
            if page.scroll_y < page.max_scroll_y:
                page.scroll_page_down(animate=False)
            else:
                self.dismiss(True)
