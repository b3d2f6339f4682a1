"""What all pages of a phone call share: what the caller is to be told now stands on top, and the language spoken."""

from __future__ import annotations

import asyncio
from collections.abc import Iterable, Sequence

from textual import events, work
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Static

from diagnose.calls.call import Call
from diagnose.screening.danger import Raised
from diagnose.screening.paper import raised_in_words
from diagnose.screening.spoken import Spoken, next_language
from diagnose.sitting import phone as course
from diagnose.sitting.handover import say_beforehand
from diagnose.tui import actions
from diagnose.tui.desk import Desk, Stated
from diagnose.tui.saver import InHand
from diagnose.tui.screens.page import Page, Result
from diagnose.tui.text import plain, stack
from diagnose.tui.widgets.cautions import signalled
from diagnose.tui.widgets.instruction import ReadOuts


class Talk:
    """A phone call, as all its pages share it: what is said goes on record, and what danger it raised is read out.

    ``site`` and ``door`` are where it is, as far as that is known.
    """

    def __init__(self, desk: Desk, language: str, van: str, site: str, door: str) -> None:
        usual = desk.settings.language if desk.settings.language in desk.trees.languages else ""
        self._desk, self.language = desk, language or usual
        self._stated = Stated(people=desk.settings.people, site=site, door=door)
        # Until the first thing is said, of a call that is not on record yet.
        self.phone = course.Phone(Call(desk.trees, site=site, door=door), van)
        self.in_hand: InHand | None = None
        # One thing at a time is put on record, the beginning of the call before all else.
        self._recording = asyncio.Lock()
        # One page of what is to be read out at a time.
        self._reading_out = asyncio.Lock()

    @property
    def spoken(self) -> Spoken:
        """What is read out, in the caller's language."""
        return Spoken(self._desk.trees, self.language)

    def next_language(self) -> None:
        self.language = next_language(self._desk.trees.languages, self.language)

    async def take_up(self, call_id: str) -> str:
        """Go on with a kept call. Gives back what went wrong, or nothing; none is in hand where it cannot be had."""
        await self._desk.store_tried.wait()
        kept = self._desk.kept(call_id)
        if isinstance(kept, str):
            return kept
        self._hold(kept)
        stated = self._stated
        return await self._desk.attempt(kept.saver, lambda: say_beforehand(kept.call, stated.site, stated.door))

    def _hold(self, in_hand: InHand) -> None:
        self._desk.in_hand = self.in_hand = in_hand
        self.phone.call = in_hand.call

    async def say(self, act: course.Act) -> str:
        """Take something down, and read out what danger it raised; the call begins with the first. Gives why not.

        Only to be awaited in a worker.
        """
        async with self._recording:
            begun = self.in_hand or await self._desk.begin(self._stated)
            wrong = begun if isinstance(begun, str) else ""
            if not isinstance(begun, str):
                self._hold(begun)
                wrong = await self._desk.attempt(begun.saver, lambda: self.phone.do(act))
        await self.read_out(meant=self._signs_in(act) if wrong else ())
        return wrong

    def _signs_in(self, act: course.Act) -> tuple[Raised, ...]:
        there = act.there if isinstance(act, course.SaySigns) else {}
        dangers = self._desk.trees.dangers
        return tuple(Raised(dangers[danger], "asked") for danger, is_there in there.items() if is_there)

    async def read_out(self, again: bool = False, meant: Sequence[Raised] = ()) -> None:
        """Read out what the caller has not heard yet, or all of it ``again``. Only to be awaited in a worker.

        ``meant`` are dangers to read out besides, though they could not be put on record.
        """
        async with self._reading_out:
            raised = (*(self.phone.dangers() if again else self.phone.unread()), *meant)
            if not raised or self.phone.call.state.outcome is not None:
                return
            heard = await self._desk.push_screen_wait(ToldPage(self.spoken, raised))
            told = course.Told(tuple(each.danger.id for each in self.phone.unread()))
            if heard and told.dangers and self.in_hand is not None:
                async with self._recording:
                    await self._desk.attempt(self.in_hand.saver, lambda: self.phone.do(told))


class PhonePage(Page[Result]):
    """One page of a phone call. ``asked`` are its widgets, ``paint`` puts the words of the language into them."""

    talk: Talk

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

    def __init__(self, talk: Talk) -> None:
        super().__init__()
        self.talk = talk

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
                signalled(each.danger.word, self._spoken.instruction(each.danger)),
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
