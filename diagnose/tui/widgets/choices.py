"""Answers by one key: a number before each, in as many columns as keep every word whole."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import ClassVar

from textual import events
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.geometry import Size
from textual.message import Message
from textual.style import Style
from textual.widget import Widget

from diagnose.sitting.choices import Choice
from diagnose.tui.text import assemble, one_line
from diagnose.tui.widgets.paragraphs import hanging

_GAP = 3
# A terminal this high has room for an answer a line.
_TALL = 30


class Choices(Widget, can_focus=True):
    """A list of choices; ``marked`` ones carry a tick, for answers of which several may hold."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("down,right", "move(1)", show=False),
        Binding("up,left", "move(-1)", show=False),
        Binding("enter", "take", show=False),
        Binding("space", "tick", show=False),
    ]

    @dataclass
    class Chosen(Message):
        """One was chosen, by key, arrow and Enter, or click."""

        choice: Choice

    class Entered(Message):
        """Enter was pressed where it goes on, whatever is highlighted."""

    def __init__(self, *, id: str | None = None, enter_goes_on: bool = False) -> None:
        """``enter_goes_on`` is for answers of which several may hold: Space ticks one, and Enter only goes on."""
        super().__init__(id=id)
        self.enter_goes_on = enter_goes_on
        self.choices: tuple[Choice, ...] = ()
        self.highlighted = -1
        self._marked: Collection[str] | None = None

    def show(self, choices: tuple[Choice, ...], marked: Collection[str] | None = None, keep: bool = False) -> None:
        """Show ``choices``. ``marked`` names those that hold, ``None`` where only one can. ``keep`` the highlight."""
        self.choices = choices
        self._marked = marked
        if not keep or self.highlighted >= len(choices):
            self.highlighted = -1
        self.display = bool(choices)
        self.refresh(layout=True)

    def by_key(self, key: str) -> Choice | None:
        return next((choice for choice in self.choices if key in (choice.key, choice.key.lower())), None)

    def press(self, key: str) -> bool:
        """Choose by key; false where no choice has it."""
        choice = self.by_key(key)
        if choice is not None:
            self.post_message(self.Chosen(choice))
        return choice is not None

    def action_move(self, by: int) -> None:
        if self.choices:
            start = self.highlighted if self.highlighted >= 0 else (-1 if by > 0 else 0)
            self.highlighted = (start + by) % len(self.choices)
            self.refresh()

    def action_take(self) -> None:
        if self.enter_goes_on:
            self.post_message(self.Entered())
        else:
            self.action_tick()

    def action_tick(self) -> None:
        if 0 <= self.highlighted < len(self.choices):
            self.post_message(self.Chosen(self.choices[self.highlighted]))

    def on_click(self, event: events.Click) -> None:
        index = event.style.meta.get("choice")
        if index is not None and index < len(self.choices):
            self.post_message(self.Chosen(self.choices[index]))

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        return len(self._rows(width))

    def render(self) -> Content:
        return Content("\n").join(self._rows(self.size.width))

    def _rows(self, width: int) -> list[Content]:
        here = self.highlighted if self.has_focus else -1
        return choice_rows(self.choices, width, self.app.size.height, self._marked, here)


def choice_rows(
    choices: Sequence[Choice], width: int, height: int, marked: Collection[str] | None = None, here: int = -1
) -> list[Content]:
    """``choices`` in as many columns as keep every word whole; in a terminal of ``height`` rows that is tall, in one.

    ``marked`` names those that hold, ``None`` where only one can; ``here`` is highlighted.
    """
    cells = [_cell(index, choice, marked, index == here) for index, choice in enumerate(choices)]
    if not cells:
        return []
    widest = max(cell.cell_length for cell in cells)
    columns = 1 if height >= _TALL else max(1, min((width + _GAP) // (widest + _GAP), len(cells)))
    if columns == 1:
        return [line for cell in cells for line in hanging(cell, width, "    ")]
    deep = -(-len(cells) // columns)
    rows = []
    for row in range(deep):
        line = [cells[index].pad_right(widest - cells[index].cell_length) for index in range(row, len(cells), deep)]
        rows.append(Content(" " * _GAP).join(line))
    return rows


def _cell(index: int, choice: Choice, marked: Collection[str] | None, here: bool) -> Content:
    meta = Style.from_meta({"choice": index})
    mark = "" if marked is None or choice.key == "0" else ("[x] " if choice.name in marked else "[ ] ")
    key = Content.styled(f" {choice.key} ", Style.parse("bold reverse") + meta)
    label = assemble(f" {mark}{one_line(choice.label)} ").stylize(meta)
    return key + (label.stylize("bold underline") if here else label)
