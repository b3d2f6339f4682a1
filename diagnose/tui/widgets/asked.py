"""What is asked with the answers to it, in one text that scrolls; it knows whether all of it was in view."""

from __future__ import annotations

from textual import on
from textual.app import ComposeResult
from textual.containers import Vertical, VerticalScroll
from textual.message import Message
from textual.widget import Widget
from textual.widgets import Static

from diagnose.tui.text import plain


class Watched(VerticalScroll, can_focus=False):
    """A text that scrolls, and tells whenever another part of it may be in view."""

    class Moved(Message):
        """It was scrolled, or its size changed: look again whether there is more above or below."""

    def watch_scroll_y(self, old_value: float, new_value: float) -> None:
        super().watch_scroll_y(old_value, new_value)
        self.post_message(self.Moved())

    def on_resize(self) -> None:
        self.post_message(self.Moved())


class Asked(Vertical):
    """``all_seen`` once all of it was in view since it was ``put``: until then none of it is to be answered."""

    def __init__(self, *children: Widget) -> None:
        super().__init__()
        self.all_seen = False
        self._is_laid_out = False
        self._asked = children

    def compose(self) -> ComposeResult:
        yield Watched(*self._asked)
        yield Static(plain("▼ more below: Enter or PgDn", "bold"), id="more", markup=False)

    def on_mount(self) -> None:
        self.query_one("#more").display = False

    def put(self) -> None:
        """Something new is asked, from its beginning."""
        self._is_laid_out = False
        # Where all of it has room that is known before it is painted: the next key may already be on its way.
        self.all_seen = 0 < sum(map(self._rows_of, self._asked)) <= self.size.height
        self.query_one(Watched).scroll_home(animate=False)
        self.call_after_refresh(self._laid_out)

    def read_on(self) -> bool:
        """Go on reading; false where all of it was in view."""
        if not self.all_seen:
            scroll = self.query_one(Watched)
            scroll.scroll_relative(y=max(scroll.size.height - 1, 1), animate=False)
        return not self.all_seen

    def _rows_of(self, part: Widget) -> int:
        width = self.size.width - part.styles.gutter.width
        return part.get_content_height(self.size, self.app.size, width) if part.display else 0

    def _laid_out(self) -> None:
        self._is_laid_out = True
        self._look()

    @on(Watched.Moved)
    def _look(self) -> None:
        scroll = self.query_one(Watched)
        self.all_seen |= self._is_laid_out and scroll.scroll_y >= scroll.max_scroll_y
        self.query_one("#more").display = self._is_laid_out and not self.all_seen
