"""What all pages of a phone call share: what the caller is to be told now stands on top, and the language spoken."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Protocol

from textual import events, work
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Static

from diagnose.screening.danger import Raised
from diagnose.screening.paper import raised_in_words
from diagnose.screening.spoken import Spoken
from diagnose.sitting import phone as course
from diagnose.tui import actions
from diagnose.tui.screens.page import Page, Result
from diagnose.tui.text import plain, stack
from diagnose.tui.widgets.instruction import ReadOuts, instruction_block


class Talk(Protocol):
    """The phone call, as its pages see it."""

    @property
    def phone(self) -> course.Phone:
        """The course of the call."""

    @property
    def spoken(self) -> Spoken:
        """What is read out, in the caller's language."""

    def next_language(self) -> None:
        """Go on in the next language of the trees."""

    async def say(self, act: course.Act) -> str:
        """Take something down, and read out what danger it raised. Gives back why not, or nothing.

        Only to be awaited in a worker.
        """

    async def read_out(self, again: bool = False) -> None:
        """Read out what the caller has not heard yet, or all of it ``again``. Only to be awaited in a worker."""


class PhonePage(Page[Result]):
    """One page of a phone call. ``asked`` are its widgets, ``paint`` puts the words of the language into them."""

    def __init__(self, crumb: str, talk: Talk) -> None:
        super().__init__(crumb)
        self.talk = talk

    def body(self) -> Iterable[Widget]:
        yield ReadOuts()
        yield from self.asked()

    def asked(self) -> Iterable[Widget]:
        """What stands below the read-outs."""
        return ()

    def paint(self) -> None:
        """Show what is asked as it stands."""

    def show_read_outs(self) -> None:
        phone = self.talk.phone
        self.query_one(ReadOuts).show(self.talk.spoken, phone.dangers(), phone.call.state.told)

    def paint_all(self) -> None:
        self.show_read_outs()
        self.paint()

    def on_resize(self, event: events.Resize) -> None:
        if self.is_mounted:
            self.paint_all()

    def on_screen_resume(self) -> None:
        if self.is_mounted:
            self.paint_all()

    def action_language(self) -> None:
        self.talk.next_language()
        self.paint_all()

    @work(exclusive=True, group="read out")
    async def action_read_out(self) -> None:
        if self.talk.phone.dangers():
            await self.talk.read_out(again=True)
            self.paint_all()


class AskedPage(PhonePage[str]):
    """A page that stands before the questions. Dismissed with ``on`` once it was answered, or ``back``."""

    def action_undo(self) -> None:
        self.dismiss("back")


class ToldPage(Page[bool]):
    """What to read out now, before anything else. Dismissed with true once the caller has heard it.

    Enter says so, as soon as all of it was on the screen.
    """

    place = actions.TOLD

    def __init__(self, spoken: Spoken, raised: Sequence[Raised]) -> None:
        super().__init__("Phone call › DANGER: read this out now")
        self._spoken, self._raised = spoken, raised

    def body(self) -> Iterable[Widget]:
        trees = self.desk.trees
        lines: list[Content] = []
        for each in self._raised:
            lines += [
                plain(f"{each.danger.title} ({raised_in_words(trees, each)})"),
                instruction_block(each.danger.word, self._spoken.instruction(each.danger)),
                Content(""),
            ]
        yield VerticalScroll(Static(stack(lines), markup=False), id="page")
        yield Static(plain("Enter: they have heard it.  Esc: not yet.", "bold"), classes="line", markup=False)

    def on_mount(self) -> None:
        self._came = self.desk.now()
        self.query_one(VerticalScroll).focus()

    def action_told(self) -> None:
        # A key meant for the page before ticks nothing off.
        if self.desk.now() - self._came < self.desk.settle:
            return
        page = self.query_one("#page", VerticalScroll)
        if page.scroll_y < page.max_scroll_y:
            page.scroll_page_down(animate=False)
        else:
            self.dismiss(True)

    def action_back(self) -> None:
        self.dismiss(False)
