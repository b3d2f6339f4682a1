"""The top line: where one is."""

from __future__ import annotations

from textual.content import Content
from textual.reactive import reactive
from textual.widget import Widget

from diagnose.tui.text import fit, one_line, plain


class TitleBar(Widget):
    """One line that says where one is, such as ``Call › Why this next?``."""

    where: reactive[str] = reactive("")

    def render(self) -> Content:
        return fit(plain(one_line(self.where)), self.size.width)
