"""What was said and done so far, the latest at the bottom."""

from __future__ import annotations

from collections.abc import Sequence

from textual.content import Content
from textual.widget import Widget

from diagnose.sitting.view import TrailItem
from diagnose.tui.keys import key_for
from diagnose.tui.text import assemble, fit, one_line, plain, stack

LOOK_AGAIN = "?"
SIGNS = {"answer": "·", "try": "⚒", "proof": "✓"}


class Trail(Widget):
    """The latest of the trail, two lines each, as many as fit."""

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._items: tuple[TrailItem, ...] = ()

    def show(self, items: Sequence[TrailItem]) -> None:
        self._items = tuple(items)
        self.refresh()

    def render(self) -> Content:
        width, height = self.size
        room = max((height - 1) // 2, 1)
        latest = self._items[-room:]
        earlier = len(self._items) - len(latest)
        key = key_for("answers")
        title = assemble(
            ("Answers given", "bold"), (f" ({earlier} earlier: {key})" if earlier else f" ({key})", "$text-muted")
        )
        lines = [fit(title, width)]
        for item in latest:
            lines.append(fit(plain(one_line(item.title), "$text-muted"), width))
            look = ("  see for yourself", "$text-warning") if item.look_again else ""
            lines.append(fit(assemble(f"  {sign_of(item)} ", (one_line(item.said), "bold"), look), width))
        return stack(lines)


def sign_of(item: TrailItem) -> str:
    if item.look_again:
        return LOOK_AGAIN
    return "✗" if item.kind == "proof" and item.said != "passed" else SIGNS[item.kind]
