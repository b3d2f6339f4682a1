"""What the door does wrong: one complaint or several."""

from __future__ import annotations

from collections.abc import Iterable

from textual import on
from textual.widget import Widget
from textual.widgets import Static

from diagnose.knowledge.model import Trees
from diagnose.tui import actions
from diagnose.tui.keys import key_for
from diagnose.tui.rows import meant_rows, symptom_rows
from diagnose.tui.screens.page import Page
from diagnose.tui.text import assemble, plain
from diagnose.tui.widgets.pick_list import PickList, Row


class Complaint(Page[tuple[str, ...]]):
    """Enter ticks or unticks a complaint; at least one stays. Dismissed with them, ``None`` to leave all as it was."""

    place = actions.COMPLAINTS

    def __init__(self, trees: Trees, symptoms: tuple[str, ...]) -> None:
        super().__init__("The door › Complaint")
        self._trees = trees
        self._ticked = dict.fromkeys(symptoms)

    def body(self) -> Iterable[Widget]:
        yield Static(
            plain(f"Enter ticks or unticks; {key_for('go-on')} keeps what is ticked."),
            classes="line",
            markup=False,
        )
        yield PickList(self._rows(), hint="Type a word of it", found=self._found)

    def _rows(self) -> list[Row]:
        return [self._with_tick(row) for row in symptom_rows(self._trees)]

    def _found(self, typed: str) -> list[Row]:
        return [self._with_tick(row) for row in meant_rows(self._trees, typed)]

    def _with_tick(self, row: Row) -> Row:
        if not row.id:
            return row
        tick = "[x] " if all(each in self._ticked for each in _ids(row.id)) else "[ ] "
        return Row(row.id, assemble(tick, row.shown), row.words, row.under)

    @on(PickList.Picked)
    def _picked(self, event: PickList.Picked) -> None:
        new = [each for each in _ids(event.id) if each not in self._ticked]
        self._ticked |= dict.fromkeys(new)
        for each in () if new else _ids(event.id):
            if len(self._ticked) > 1:
                del self._ticked[each]
        self.query_one(PickList).show(self._rows())

    def action_keep_ticked(self) -> None:
        self.dismiss(tuple(self._ticked))


def _ids(row: str) -> list[str]:
    """The complaints of a row: one, or several to be taken together."""
    return row.removeprefix("symptom:").split("+")
