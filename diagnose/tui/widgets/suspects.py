"""Likely causes: a bar, a percentage, and whether the last thing said moved it up or down."""

from __future__ import annotations

from collections.abc import Sequence

from textual.content import Content
from textual.widget import Widget

from diagnose.calls.verdict import Suspect
from diagnose.knowledge.words import percent
from diagnose.sitting.view import top_suspects
from diagnose.tui.keys import key_for
from diagnose.tui.text import assemble, fit, plain, stack
from diagnose.tui.widgets.paragraphs import hanging

# Cells of a bar; the width from which a longer one leaves room for the title; the width below which a title has a
# line of its own.
_BAR, _LONG_BAR, _ROOMY, _ONE_LINE = 6, 10, 90, 56
# Cells before the title of `suspect_line`.
STRENGTH = 13 + _BAR
# What stands before a title on a line of its own.
_SET_IN = " " * 6
# ... before what is left of one that takes a second line, where bars have given way.
_BARE = " " * 12


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
        shown, rows = self._rows(width, height - 1)
        hidden = len(self._suspects) - len(shown)
        rest = sum(each.probability for each in self._suspects) - sum(each.probability for each in shown)
        more = f" ({hidden} more, {percent(rest)}: {key_for('evidence')})" if hidden else ""
        title = assemble((self._title, "bold"), (more, "$text-muted"))
        return stack([fit(title, width), *(fit(row, width) for row in rows)])

    def _rows(self, width: int, height: int) -> tuple[Sequence[Suspect], list[Content]]:
        """As many as have room with their whole titles, and their lines; bars give way to a title that would be cut."""
        for count in range(max(min(height, len(self._suspects)), 1), 0, -1):
            shown = top_suspects(self._suspects, count)
            if width >= _ONE_LINE:
                rows = [suspect_line(each, _LONG_BAR if width >= _ROOMY else _BAR) for each in shown]
                if any(row.cell_length > width for row in rows):
                    rows = [row for each in shown for row in hanging(suspect_line(each, 0), width, _BARE)]
            else:
                rows = [row for each in shown for row in _in_lines(each, width)]
            if len(rows) <= height:
                break
        return shown, rows


def suspect_line(suspect: Suspect, bar: int = _BAR) -> Content:
    """In one line, with a ``bar`` of so many cells."""
    return assemble(_strength(suspect, bar), suspect.title)


def _strength(suspect: Suspect, length: int) -> Content:
    full = round(suspect.probability * length)
    bar = "█" * full + "░" * (length - full)
    gap = " " if length else ""
    return assemble(
        (f"{percent(suspect.probability):>5} ", "bold"), (bar, "$text-accent"), f"{gap}{trend(suspect):<5} "
    )


def _in_lines(suspect: Suspect, width: int) -> list[Content]:
    return [_strength(suspect, _LONG_BAR), *hanging(assemble(_SET_IN, suspect.title), width, _SET_IN)]


def trend(suspect: Suspect) -> str:
    """``▲+12`` or ``▼-5`` percentage points by the last thing said; ``=`` for no change."""
    if suspect.moved is None:
        return ""
    points = round(100 * suspect.moved)
    if points == 0:
        return "="
    return f"▲+{points}" if points > 0 else f"▼{points}"
