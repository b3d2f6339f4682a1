"""The chain of functions on one line: what works, what is lost, and where the fault lies."""

from __future__ import annotations

from collections.abc import Sequence

from textual.content import Content
from textual.widget import Widget

from diagnose.reasoning.chain import Link, drawn
from diagnose.tui.text import assemble, fit


class ChainStrip(Widget):
    """Shown on wide screens, while a complaint hangs on a chain."""

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._chain: tuple[Link, ...] = ()

    def show(self, chain: Sequence[Link]) -> None:
        self._chain = tuple(chain)
        self.set_class(len(self._chain) > 1, "-linked")
        self.refresh()

    def render(self) -> Content:
        label, width = "Chain  ", self.size.width
        return fit(assemble((label, "bold"), drawn(self._chain, width - len(label))), width)
