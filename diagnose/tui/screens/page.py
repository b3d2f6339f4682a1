"""What all screens share: the line that says where one is, the keys at the bottom, the way back."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING, Any, ClassVar, Generic, TypeVar, cast

from textual import events, on
from textual.app import ComposeResult
from textual.await_complete import AwaitComplete
from textual.containers import VerticalScroll
from textual.reactive import reactive
from textual.screen import Screen
from textual.widget import Widget
from textual.widgets import Input, OptionList, Static
from textual.worker import WorkerCancelled, WorkerFailed

from diagnose.finding.reading import trade_reader
from diagnose.tui import actions
from diagnose.tui.keys import bindings
from diagnose.tui.saver import sentence_of
from diagnose.tui.text import content_of, one_line, plain
from diagnose.tui.widgets.hints import Hints
from diagnose.tui.widgets.line import Line
from diagnose.tui.widgets.paragraphs import Paragraph, Paragraphs
from diagnose.tui.widgets.pick_list import PickList, Row
from diagnose.tui.widgets.too_small import TooSmall

if TYPE_CHECKING:
    from diagnose.calls.store import Store
    from diagnose.calls.words import Told
    from diagnose.tui.desk import Desk

Result = TypeVar("Result")
Worked = TypeVar("Worked")


class Page(Screen[Result], Generic[Result]):
    """A whole screen. ``place`` has its actions; ``crumb`` is what the top line says, from the start its ``TITLE``."""

    place: ClassVar[actions.Place] = actions.EVERYWHERE
    AUTO_FOCUS = ""
    # The command that does the same line by line; ``""`` where the page below it says so.
    way_on: ClassVar[str] = ""

    def __init_subclass__(cls, **options: Any) -> None:
        """A page has the keys of its place."""
        if "place" in vars(cls):
            cls.BINDINGS = bindings(cls.place)
        super().__init_subclass__(**options)

    crumb: reactive[str] = reactive("")

    def __init__(self, crumb: str = "") -> None:
        super().__init__()
        self.crumb = crumb or self.TITLE or ""
        self._was_left = False

    def dismiss(self, result: Result | None = None) -> AwaitComplete:
        """Leave the page, once: a key hit twice would otherwise close the page below it as well."""
        if self._was_left:
            return AwaitComplete()
        self._was_left = self.is_active
        return super().dismiss(result)

    @property
    def desk(self) -> Desk:
        """The app, as a screen sees it."""
        return cast("Desk", self.app)

    def compose(self) -> ComposeResult:
        yield Static(plain(one_line(self.crumb)), id="title", markup=False)
        yield from self.body()
        yield Hints(self.place)
        yield TooSmall()

    def watch_crumb(self, crumb: str) -> None:
        for title in self.query("#title").results(Static):
            title.update(plain(one_line(crumb)))

    def body(self) -> Iterable[Widget]:
        """What stands between the top and the bottom line."""
        return ()

    def tell(self, sentence: str) -> None:
        """In the page's line for it: what came of something, or why it did not."""
        self.query_one("#told", Line).say(sentence)

    def refuse(self, wrong: str) -> None:
        """Why something cannot be, in the page's line for that."""
        self.query_one("#trouble", Line).say(f"✗ {wrong}" if wrong else "")

    async def store_of_calls(self) -> Store | None:
        """The store, once it was tried to open it; ``None`` where there is none, and that is told."""
        await self.desk.store_tried.wait()
        if self.desk.store is None:
            self.tell(self.desk.store_problem or "There is no place to keep calls.")
        return self.desk.store

    async def worked_out(self, work: Callable[[], Worked]) -> Worked | None:
        """What ``work`` comes to, worked out in a thread; ``None`` where it fails, and why is told.

        Cancelled where the page is left.
        """
        working = self.run_worker(work, thread=True, group="working out", exit_on_error=False)
        try:
            return await working.wait()
        except WorkerFailed as failed:
            self.tell(sentence_of(failed.error))
            return None
        except WorkerCancelled:
            # The page was left meanwhile: nobody waits for it any more, and nothing can be shown there.
            raise asyncio.CancelledError from None

    def copied(self) -> str:
        """What copying takes: the line that is highlighted, or else the text of the page."""
        for options in self.query(OptionList):
            if options.highlighted is not None:
                return content_of(options.get_option_at_index(options.highlighted).prompt)
        texts = [
            each.text if isinstance(each, Paragraphs) else content_of(each.content)
            for each in self.query("*").results()
            if isinstance(each, Paragraphs | Static) and each.display and each.id != "title"
        ]
        return "\n".join(text for text in texts if text)

    def told_where(self) -> list[Told]:
        """What stands in answer to "Where is this?"; empty where the page is about nothing that has a place."""
        return []

    def action_back(self) -> object:
        return self.dismiss(None)


class ListPage(Page[Result]):
    """A list to pick from, and below it a line for what came of something.

    ``hint`` says what may be typed to find a row; without one nothing is. ``ask`` stands above the list.
    """

    hint = ask = ""

    def body(self) -> Iterable[Widget]:
        if self.ask:
            yield Static(plain(self.ask), classes="line", markup=False)
        yield self.listed()
        yield Line(id="told")

    def listed(self) -> PickList:
        """The list itself."""
        return PickList(self.rows(), hint=self.hint, reader=trade_reader(self.desk.trees), found=self.found)

    @property
    def pick_list(self) -> PickList:
        return self.query_one(PickList)

    def rows(self) -> Sequence[Row]:
        """What is listed when the page opens."""
        return ()

    def found(self, typed: str) -> Sequence[Row] | None:
        """The rows for what is typed; ``None`` where they are searched for by words."""
        return None

    @on(PickList.Picked)
    def _on_picked(self, event: PickList.Picked) -> None:
        self.picked(event.id)

    def picked(self, identity: str) -> object:
        """What comes of picking the row of that id."""


class TextPage(Page[Result]):
    """A page with a long text that scrolls with the arrow keys, and in which words are found."""

    BINDINGS = bindings(actions.READING)

    def body(self) -> Iterable[Widget]:
        yield VerticalScroll(*self.shown(), id="page")
        yield Line(id="told")
        yield Input(
            placeholder="a word of the text; Enter or ↓ goes to the next, ↑ to the one before",
            id="find",
            max_length=100,
        )

    def shown(self) -> Iterable[Widget]:
        yield Paragraphs()

    def on_mount(self) -> None:
        self.query_one("#find").display = False
        self.query_one("#page").focus()

    def action_find(self) -> None:
        self.query_one("#find").display = True
        self.query_one("#find").focus()

    @on(Input.Submitted, "#find")
    def _find(self, event: Input.Submitted) -> None:
        self._go(event.value)

    def _go(self, typed: str, back: bool = False) -> None:
        self.tell("" if self.go_to_next(typed, back) else "Nothing here has that in it.")

    def on_key(self, event: events.Key) -> None:
        """Up and down go from find to find while words are typed."""
        find = self.query_one("#find", Input)
        if find.has_focus and event.key in ("up", "down"):
            event.stop()
            self._go(find.value, back=event.key == "up")

    def go_to_next(self, typed: str, back: bool = False) -> bool:
        """Show the next place that has all the words, or the one before; false where there is none."""
        text, page = self.query_one(Paragraphs), self.query_one("#page", VerticalScroll)
        line = text.find(typed, back)
        if line is not None:
            page.scroll_to(y=max(0, text.virtual_region.y + line - page.size.height // 2), animate=False)
        return line is not None

    def action_back(self) -> None:
        """The words away first, then the page."""
        if self.query_one("#find").display:
            self.query_one("#find").display = False
            self.tell("")
            self.query_one("#page").focus()
        else:
            self.dismiss(None)


class ReadingPage(TextPage[None]):
    """A page to be read, and nothing else."""

    place = actions.READING

    def __init__(self, crumb: str, text: Sequence[Paragraph]) -> None:
        super().__init__(crumb)
        self._text = text

    def shown(self) -> Iterable[Widget]:
        yield Paragraphs(self._text)
