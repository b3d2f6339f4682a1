"""What all screens share: the line that says where one is, the keys at the bottom, the way back."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, ClassVar, Generic, TypeVar, cast

from textual import on
from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.screen import Screen
from textual.widget import Widget
from textual.widgets import Input, Static

from diagnose.tui import actions
from diagnose.tui.text import show_line
from diagnose.tui.widgets.hints import Hints
from diagnose.tui.widgets.paragraphs import Paragraph, Paragraphs
from diagnose.tui.widgets.title_bar import TitleBar

if TYPE_CHECKING:
    from diagnose.tui.desk import Desk

Result = TypeVar("Result")


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

    def action_back(self) -> None:
        self.dismiss(None)


class ReadingPage(Page[None]):
    """A page to be read: text that scrolls with the arrow keys, and in which words are found."""

    place = actions.READING
    BINDINGS = actions.bindings(actions.READING)

    def __init__(self, crumb: str, text: Sequence[Paragraph]) -> None:
        super().__init__(crumb)
        self._text = text

    def body(self) -> Iterable[Widget]:
        yield VerticalScroll(Paragraphs(self._text), id="page")
        yield Static(id="told", markup=False)
        yield Input(placeholder="a word of the text; Enter goes to the next", id="find", max_length=100)

    def on_mount(self) -> None:
        self.query_one("#find").display = self.query_one("#told").display = False
        self.query_one(VerticalScroll).focus()

    def action_find(self) -> None:
        self.query_one("#find").display = True
        self.query_one("#find").focus()

    @on(Input.Submitted, "#find")
    def _find(self, event: Input.Submitted) -> None:
        event.stop()
        line = self.query_one(Paragraphs).find(event.value)
        show_line(self.query_one("#told", Static), "" if line is not None else "Nothing here has that in it.")
        if line is not None:
            page = self.query_one(VerticalScroll)
            page.scroll_to(y=max(0, line - page.size.height // 2), animate=False)

    def action_back(self) -> None:
        """The words away first, then the page."""
        if self.query_one("#find").display:
            self.query_one("#find").display = self.query_one("#told").display = False
            self.query_one(VerticalScroll).focus()
        else:
            self.dismiss(None)
