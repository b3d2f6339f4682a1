"""A text that scrolls, and tells whenever another part of it may be in view."""

from __future__ import annotations

from textual.containers import VerticalScroll
from textual.message import Message


class Watched(VerticalScroll, can_focus=False):
    class Moved(Message):
        """It was scrolled, or its size changed: look again whether there is more above or below."""

    def watch_scroll_y(self, old_value: float, new_value: float) -> None:
        super().watch_scroll_y(old_value, new_value)
        self.post_message(self.Moved())

    def on_resize(self) -> None:
        self.post_message(self.Moved())
