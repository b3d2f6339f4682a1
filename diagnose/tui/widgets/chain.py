"""The chain of functions on one line: what works, what is lost, and where the fault lies."""

from __future__ import annotations

from textual.content import Content
from textual.reactive import reactive
from textual.widget import Widget

from diagnose.reasoning.chain import Link, drawn
from diagnose.tui.text import assemble, fit


class ChainStrip(Widget):
    """Shown on wide screens, while a complaint hangs on a chain."""

    chain: reactive[tuple[Link, ...]] = reactive(())

    def watch_chain(self, chain: tuple[Link, ...]) -> None:
        self.set_class(len(chain) > 1, "-linked")

    def render(self) -> Content:
        label, width = "Chain  ", self.size.width
        return fit(assemble((label, "bold"), drawn(self.chain, width - len(label))), width)
