"""Likely causes: a bar, a percentage, and whether the last thing said moved it up or down."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from textual.content import Content
from textual.widget import Widget

from diagnose.sitting.view import top_suspects
from diagnose.tui.keys import key_for
from diagnose.tui.text import assemble, fit, percent, plain, stack

if TYPE_CHECKING:
    from diagnose.calls.verdict import Suspect

# Cells of a bar; the width from which a longer one leaves room for the title; the width below which a title has a
# line of its own.
_BAR, _LONG_BAR, _ROOMY, _ONE_LINE = 6, 10, 90, 56


class Suspects(Widget):
    """As many causes as there are lines, the likeliest first; "something not in the book" is never left out."""

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._suspects: tuple[Suspect, ...] = ()
        self._title = ""
        self._ahead: tuple[str, ...] = ()

    def show(self, suspects: Sequence[Suspect], title: str = "Likely causes", ahead: Sequence[str] = ()) -> None:
        """``ahead`` is shown in the suspects' place: what is still to be done."""
        self._suspects, self._title, self._ahead = tuple(suspects), title, tuple(ahead)
        self.refresh()

    def render(self) -> Content:
        width, height = self.size
        if self._ahead:
            rows = [plain(f"· {title}") for title in self._ahead[: height - 1]]
            return stack([fit(plain(self._title, "bold"), width), *(fit(row, width) for row in rows)])
        lines = 1 if width >= _ONE_LINE else 2
        shown = top_suspects(self._suspects, max((height - 1) // lines, 1))
        hidden = len(self._suspects) - len(shown)
        rest = sum(each.probability for each in self._suspects) - sum(each.probability for each in shown)
        more = f" ({hidden} more, {percent(rest)}: {key_for('evidence')})" if hidden else ""
        title = assemble((self._title, "bold"), (more, "$text-muted"))
        rows = [row for each in shown for row in ([suspect_line(each, width)] if lines == 1 else _two_lines(each))]
        return stack([fit(title, width), *(fit(row, width) for row in rows)])


def suspect_line(suspect: Suspect, width: int = 80) -> Content:
    return assemble(_strength(suspect, _LONG_BAR if width >= _ROOMY else _BAR), suspect.title)


def _strength(suspect: Suspect, length: int) -> Content:
    full = round(suspect.probability * length)
    bar = "█" * full + "░" * (length - full)
    return assemble((f"{percent(suspect.probability):>5} ", "bold"), (bar, "$text-accent"), f" {trend(suspect):<5} ")


def _two_lines(suspect: Suspect) -> list[Content]:
    return [_strength(suspect, _LONG_BAR), assemble("      ", suspect.title)]


def trend(suspect: Suspect) -> str:
    """``▲+12`` or ``▼-5`` percentage points by the last thing said; ``=`` for no change."""
    if suspect.moved is None:
        return ""
    points = round(100 * suspect.moved)
    if points == 0:
        return "="
    return f"▲+{points}" if points > 0 else f"▼{points}"
