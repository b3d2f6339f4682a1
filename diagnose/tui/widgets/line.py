"""A line that is there only while it says something."""

from __future__ import annotations

from textual.widgets import Static

from diagnose.tui.text import plain


class Line(Static):
    def __init__(self, sentence: str = "", *, id: str) -> None:
        super().__init__(plain(sentence), id=id, markup=False)
        self.display = bool(sentence)

    def say(self, sentence: str) -> None:
        self.update(plain(sentence))
        self.display = bool(sentence)
