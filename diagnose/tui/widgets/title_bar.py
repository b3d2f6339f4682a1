"""The top line: where one is."""

from __future__ import annotations

from textual.content import Content
from textual.widget import Widget

from diagnose.tui.text import fit, one_line, plain


class TitleBar(Widget):
    """One line that says where one is, such as ``Call › Why this next?``."""

    def __init__(self, title: str = "", *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._title = one_line(title)

    def show(self, title: str) -> None:
        self._title = one_line(title)
        self.refresh()

    def render(self) -> Content:
        return fit(plain(self._title), self.size.width)
