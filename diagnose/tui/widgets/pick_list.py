"""Pick one of many: type a few letters to narrow the list, arrows and Enter to take."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from textual import events, on
from textual.app import ComposeResult
from textual.containers import Vertical
from textual.content import Content
from textual.message import Message
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option

from diagnose.tui.text import plain, printable

_LIST_KEYS = {
    "up": "cursor_up",
    "down": "cursor_down",
    "pageup": "page_up",
    "pagedown": "page_down",
}


@dataclass(frozen=True)
class Row:
    """A line to pick, or a heading (``id`` empty). ``words`` is what typing searches besides the shown text."""

    id: str
    shown: Content
    words: str = ""
    # The heading it stands below, searched as well.
    under: str = ""
    # Of a heading: 0 stands above 1.
    level: int = 1
    # Typing puts the cursor on another row, if there is one that fits.
    quiet: bool = False

    def matches(self, typed: Sequence[str]) -> bool:
        text = f"{self.shown.plain} {self.words} {self.under}".casefold()
        return all(word in text for word in typed)

    def titled(self, typed: Sequence[str]) -> bool:
        """All that was typed stands in the line itself."""
        return all(word in self.shown.plain.casefold() for word in typed)


def heading(text: str, level: int = 1) -> Row:
    return Row("", plain(text, "bold $text-accent"), level=level)


class PickList(Vertical):
    """``Picked`` for Enter or a click, ``Moved`` whenever another line is highlighted."""

    class Picked(Message):
        def __init__(self, id: str) -> None:
            super().__init__()
            self.id = id

    class Moved(Message):
        def __init__(self, id: str) -> None:
            super().__init__()
            self.id = id

    def __init__(
        self,
        rows: Sequence[Row] = (),
        *,
        hint: str = "",
        search: bool = True,
        near: Callable[[str], Sequence[Row]] | None = None,
        id: str | None = None,
    ) -> None:
        """``search`` off leaves letters to the actions of the screen.

        ``near`` gives the rows, headings among them, that may be meant where nothing has the letters typed.
        """
        super().__init__(id=id)
        self._near = near
        self._rows = tuple(rows)
        self._hint = printable(hint)
        self._search = search

    def compose(self) -> ComposeResult:
        if self._search:
            yield Input(placeholder=self._hint, id="search", max_length=200)
        yield OptionList(markup=False)
        yield Static(id="none", markup=False)

    def on_mount(self) -> None:
        self._list.can_focus = not self._search
        (self.query_one(Input) if self._search else self._list).focus(scroll_visible=False)
        self._fill()

    @property
    def _list(self) -> OptionList:
        return self.query_one(OptionList)

    @property
    def typed(self) -> str:
        return self.query_one(Input).value if self._search else ""

    @property
    def highlighted(self) -> str:
        """The id of the highlighted row; empty where there is none."""
        index = self._list.highlighted
        return self._list.get_option_at_index(index).id or "" if index is not None else ""

    def clear(self) -> bool:
        """Empty the search; false where nothing was typed."""
        if not self.typed:
            return False
        self.query_one(Input).value = ""
        return True

    def show(self, rows: Sequence[Row], highlight: str | None = None) -> None:
        """Other rows. The highlight stays on its row, or goes to ``highlight``."""
        self._rows = tuple(rows)
        self._fill(highlight if highlight is not None else self.highlighted)

    def _fill(self, highlight: str = "") -> None:
        rows = self._matching()
        if self._near is not None and self.typed.strip() and not any(row.id for row in rows):
            rows = list(self._near(self.typed))
        options = self._list
        options.clear_options()
        options.add_options([Option(row.shown, row.id or None, disabled=not row.id) for row in rows])
        ids = [row.id for row in rows]
        open_rows = [index for index, row in enumerate(rows) if row.id]
        first = next(iter(open_rows), None)
        if highlight and highlight in ids:
            options.highlighted = ids.index(highlight)
        else:
            options.highlighted = self._best(rows, open_rows) if self.typed else first
        if options.highlighted == first:
            options.scroll_home(animate=False)
        none = self.query_one("#none", Static)
        none.update(plain("" if first is not None else "Nothing fits what is typed. Type less, or other words."))
        none.display = first is None and bool(self.typed)

    def _best(self, rows: Sequence[Row], open_rows: Sequence[int]) -> int | None:
        """Where typing puts the cursor: on a title that has the words before one that only means them."""
        typed = self.typed.casefold().split()
        ranked = sorted(open_rows, key=lambda index: (rows[index].quiet, not rows[index].titled(typed), index))
        return next(iter(ranked), None)

    def _matching(self) -> list[Row]:
        """The rows that match, with the headings above them; a heading above nothing is left out."""
        typed = self.typed.casefold().split()
        kept: list[Row] = []
        waiting: dict[int, Row] = {}
        for row in self._rows:
            if not row.id:
                waiting = {level: each for level, each in waiting.items() if level < row.level} | {row.level: row}
            elif row.matches(typed):
                kept += [*waiting.values(), row]
                waiting = {}
        return kept

    @on(Input.Changed)
    def _narrow(self, event: Input.Changed) -> None:
        event.stop()
        self._fill()

    @on(OptionList.OptionHighlighted)
    def _moved(self, event: OptionList.OptionHighlighted) -> None:
        event.stop()
        if event.option_id:
            self.post_message(self.Moved(event.option_id))

    @on(OptionList.OptionSelected)
    def _picked(self, event: OptionList.OptionSelected) -> None:
        event.stop()
        if event.option_id:
            self.post_message(self.Picked(event.option_id))

    @on(Input.Submitted)
    def _entered(self, event: Input.Submitted) -> None:
        event.stop()
        self._list.action_select()

    def on_key(self, event: events.Key) -> None:
        """Arrows move in the list while one types."""
        if self._search and event.key in _LIST_KEYS:
            getattr(self._list, f"action_{_LIST_KEYS[event.key]}")()
            event.stop()
