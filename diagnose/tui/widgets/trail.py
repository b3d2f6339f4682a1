"""What was said and done so far, the latest at the bottom."""

from __future__ import annotations

from textual.content import Content
from textual.reactive import reactive
from textual.widget import Widget

from diagnose.sitting.view import TrailItem
from diagnose.tui.keys import key_for
from diagnose.tui.text import assemble, fit, one_line, plain, stack
from diagnose.tui.widgets.paragraphs import hanging

LOOK_AGAIN = "?"
SIGNS = {"answer": "·", "try": "⚒", "proof": "✓"}


class Trail(Widget):
    """The latest of the trail, as many as fit whole."""

    items: reactive[tuple[TrailItem, ...]] = reactive(())

    def render(self) -> Content:
        width, height = self.size
        latest: list[list[Content]] = []
        for item in reversed(self.items):
            lines = _lines_of(item, width)
            if latest and sum(map(len, latest)) + len(lines) >= height:
                break
            latest.insert(0, lines)
        earlier = len(self.items) - len(latest)
        key = key_for("answers")
        title = assemble(
            ("Answers given", "bold"), (f" ({earlier} earlier: {key})" if earlier else f" ({key})", "$text-muted")
        )
        return stack([fit(title, width), *(line for lines in latest for line in lines)])


def _lines_of(item: TrailItem, width: int) -> list[Content]:
    look = ("  see for yourself", "$text-warning") if item.look_again else ""
    return [
        *hanging(plain(one_line(item.title), "$text-muted"), width, "  "),
        *hanging(assemble(f"  {sign_of(item)} ", (one_line(item.said), "bold"), look), width, "    "),
    ]


def sign_of(item: TrailItem) -> str:
    if item.look_again:
        return LOOK_AGAIN
    return "✗" if item.kind == "proof" and item.said != "passed" else SIGNS[item.kind]
