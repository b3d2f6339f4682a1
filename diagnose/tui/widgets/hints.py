"""The bottom line: the keys wanted most here, as many as fit; help and the way back are never left out."""

from __future__ import annotations

from rich.cells import cell_len
from textual import events
from textual.content import Content
from textual.style import Style
from textual.widget import Widget

from diagnose.tui.actions import Place
from diagnose.tui.keys import footer_hints


class Hints(Widget):
    """Keys and words of a place, from the registry of actions. A click does the same as the key."""

    def __init__(self, place: Place) -> None:
        super().__init__()
        self._place = place

    def shown(self, width: int) -> list[tuple[str, str, str]]:
        """The hints that fit into ``width``: the least wanted of the place's own give way first."""
        kept = footer_hints(self._place)
        while len(kept) > 2 and _width(kept) > width:
            kept.pop(-3)
        return kept

    def render(self) -> Content:
        parts: list[Content] = []
        for key, word, action in self.shown(self.size.width):
            meta = Style.from_meta({"hint": action})
            parts.append(Content.styled(f" {key} ", Style.parse("bold reverse") + meta))
            parts.append(Content.styled(f" {word}", meta))
        return Content("").join(parts)

    async def on_click(self, event: events.Click) -> None:
        action = event.style.meta.get("hint")
        if action:
            own = hasattr(self.screen, f"action_{action}")
            await self.run_action(f"{'screen' if own else 'app'}.{action}")


def _width(hints: list[tuple[str, str, str]]) -> int:
    return sum(cell_len(key) + cell_len(word) + 3 for key, word, _ in hints)
