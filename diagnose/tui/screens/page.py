"""What all screens share: the line that says where one is, the keys at the bottom, the way back."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING, ClassVar, Generic, TypeVar, cast

from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.screen import Screen
from textual.widget import Widget
from textual.worker import WorkerFailed

from diagnose.tui import actions
from diagnose.tui.widgets.hints import Hints
from diagnose.tui.widgets.paragraphs import Paragraph, Paragraphs
from diagnose.tui.widgets.title_bar import TitleBar

if TYPE_CHECKING:
    from diagnose.tui.desk import Desk

Result = TypeVar("Result")
Worked = TypeVar("Worked")


class Page(Screen[Result], Generic[Result]):
    """A whole screen. ``place`` names its actions in the registry; ``crumb`` is what the top line says."""

    place: ClassVar[str] = actions.EVERYWHERE
    AUTO_FOCUS = ""

    def __init__(self, crumb: str) -> None:
        super().__init__()
        self.crumb = crumb

    @property
    def desk(self) -> Desk:
        """The app, as a screen sees it."""
        return cast("Desk", self.app)

    def compose(self) -> ComposeResult:
        yield TitleBar(self.crumb, id="title")
        yield from self.body()
        yield Hints(self.place)

    def body(self) -> Iterable[Widget]:
        """What stands between the top and the bottom line."""
        return ()

    async def in_thread(self, work: Callable[[], Worked]) -> Worked:
        """What ``work`` comes to, worked out in a thread. Raises what it raises."""
        working = self.run_worker(work, thread=True, group="working out", exit_on_error=False)
        try:
            return await working.wait()
        except WorkerFailed as failed:
            raise failed.error from None

    def action_back(self) -> None:
        self.dismiss(None)


class ReadingPage(Page[None]):
    """A page to be read: text that scrolls with the arrow keys."""

    def __init__(self, crumb: str, text: Sequence[Paragraph]) -> None:
        super().__init__(crumb)
        self._text = text

    def body(self) -> Iterable[Widget]:
        yield VerticalScroll(Paragraphs(self._text), id="page")

    def on_mount(self) -> None:
        self.query_one(VerticalScroll).focus()
