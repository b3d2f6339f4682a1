"""Pick one of many: type what is wanted to have it first in the list, arrows and Enter to take."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from textual import events, on
from textual.app import ComposeResult
from textual.containers import Vertical
from textual.content import Content
from textual.message import Message
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option

from diagnose.finding.reading import Reader
from diagnose.finding.search import Shelf, Text
from diagnose.tui.text import assemble, plain, printable
from diagnose.tui.widgets.paragraphs import Hanging

_MUTED = "$text-muted"
_LIST_KEYS = {
    "up": "cursor_up",
    "down": "cursor_down",
    "pageup": "page_up",
    "pagedown": "page_down",
}


@dataclass(frozen=True)
class Row:
    """A line to pick, or a heading (``id`` empty). ``words`` is what typing searches besides the title."""

    id: str
    shown: Content
    words: str = ""
    # The heading it stands below: searched as well, and shown behind the row where the list is no longer in groups.
    under: str = ""
    # Of a heading: 0 stands above 1.
    level: int = 1
    # What typing searches first; the shown text where it is empty.
    title: str = ""
    # How far its lines after the first are set in; by itself a little further than the first.
    set_in: int | None = None
    # What picking it does, where it does not say so to the page.
    does: Callable[[], object] | None = None

    def hanging(self) -> Hanging:
        text = self.shown.plain
        own = len(text) - len(text.lstrip(" ")) + 2
        return Hanging(self.shown, " " * (own if self.set_in is None else self.set_in))


class RowShelf:
    """The rows of a list, to be searched; headings are left out."""

    def __init__(self, rows: Sequence[Row], reader: Reader, *, by_title: bool = False) -> None:
        """``by_title``: their titles alone are searched."""
        self._rows = [row for row in rows if row.id]
        besides = ["" if by_title else f"{row.words} {row.under}" for row in self._rows]
        titles = [row.title or row.shown.plain for row in self._rows]
        self._shelf = Shelf([Text(*each) for each in zip(titles, besides, strict=True)], reader)

    def find(self, typed: str, *, whole: bool = False) -> list[Row]:
        """The rows that fit, the best first; with ``whole`` those alone that have every word."""
        return [self._rows[place] for place in self._shelf.find(typed, whole=whole)]


def heading(text: str, level: int = 1) -> Row:
    return Row("", plain(text, "bold $text-accent"), level=level)


class PickList(Vertical):
    """``Picked`` for Enter or a click, ``Moved`` whenever another line is highlighted, or ``""`` where none is.

    Enter where nothing is highlighted is left to the page.
    """

    @dataclass
    class Picked(Message):
        id: str

    @dataclass
    class Moved(Message):
        id: str

    def __init__(
        self,
        rows: Sequence[Row] = (),
        *,
        hint: str = "",
        reader: Reader | None = None,
        found: Callable[[str], Sequence[Row] | None] = lambda typed: None,
    ) -> None:
        """``hint`` says what may be typed; without one letters are left to the actions of the screen.

        ``reader`` knows the words of the trade. ``found`` gives the rows for what is typed, headings among them, or
        ``None`` where they are searched for by words.
        """
        super().__init__()
        self._reader = reader or Reader()
        self._found = found
        self._rows = tuple(rows)
        self._shown: dict[str, Row] = {}
        self._shelf: RowShelf | None = None
        self._hint = printable(hint)

    def compose(self) -> ComposeResult:
        if self._hint:
            yield Input(placeholder=self._hint, id="search", max_length=300)
        yield OptionList(markup=False)
        yield Static(id="none", markup=False)

    def on_mount(self) -> None:
        self._list.can_focus = not self._hint
        (self.query_one(Input) if self._hint else self._list).focus(scroll_visible=False)
        self._fill()

    @property
    def _list(self) -> OptionList:
        return self.query_one(OptionList)

    @property
    def typed(self) -> str:
        return self.query_one(Input).value if self._hint else ""

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
        self._rows, self._shelf = tuple(rows), None
        self._fill(highlight if highlight is not None else self.highlighted)

    def _fill(self, highlight: str = "") -> None:
        found = self._found(self.typed) if self.typed.strip() else _without_empty(self._rows)
        rows = self._by_words(self.typed) if found is None else found
        options = self._list
        options.clear_options()
        options.add_options([Option(row.hanging(), row.id or None, disabled=not row.id) for row in rows])
        self._shown, ids = {row.id: row for row in rows}, [row.id for row in rows]
        first = next((index for index, row in enumerate(rows) if row.id), None)
        options.highlighted = ids.index(highlight) if highlight and highlight in ids else first
        if options.highlighted == first:
            options.scroll_home(animate=False)
        none = self.query_one("#none", Static)
        none.update(plain("" if first is not None else "Nothing fits what is typed. Type less, or other words."))
        none.display = first is None and bool(self.typed)
        if first is None:
            self.post_message(self.Moved(""))

    def _by_words(self, typed: str) -> list[Row]:
        if self._shelf is None:
            self._shelf = RowShelf(self._rows, self._reader)
        return [self._with_group(row) for row in self._shelf.find(typed)]

    def _with_group(self, row: Row) -> Row:
        """A row away from its heading, which stands behind it where there is room."""
        room = self._list.size.width - 4 - row.shown.cell_length - len(row.under)
        return row if not row.under or room < 0 else replace(row, shown=assemble(row.shown, ("  " + row.under, _MUTED)))

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
            does = self._shown[event.option_id].does
            if does is None:
                self.post_message(self.Picked(event.option_id))
            else:
                does()

    @on(Input.Submitted)
    def _entered(self, event: Input.Submitted) -> None:
        if self.highlighted:
            event.stop()
            self._list.action_select()

    def on_key(self, event: events.Key) -> None:
        """Arrows move in the list while one types."""
        if self._hint and event.key in _LIST_KEYS:
            getattr(self._list, f"action_{_LIST_KEYS[event.key]}")()
            event.stop()


def _without_empty(rows: Sequence[Row]) -> list[Row]:
    """The rows without the headings that stand above nothing."""
    kept: list[Row] = []
    waiting: dict[int, Row] = {}
    for row in rows:
        if not row.id:
            waiting = {level: each for level, each in waiting.items() if level < row.level} | {row.level: row}
        else:
            kept += [*waiting.values(), row]
            waiting = {}
    return kept
