"""What the door does wrong: one complaint or several."""

from __future__ import annotations

from diagnose.tui import actions
from diagnose.tui.keys import key_for
from diagnose.tui.rows import meant_rows, symptom_rows
from diagnose.tui.screens.page import ListPage
from diagnose.tui.text import assemble
from diagnose.tui.widgets.pick_list import Row


class Complaint(ListPage[tuple[str, ...]]):
    """Enter ticks or unticks a complaint; at least one stays. Dismissed with them, ``None`` to leave all as it was."""

    place = actions.COMPLAINTS
    TITLE = "The door › Complaint"
    hint = "Type a word of it"

    def __init__(self, symptoms: tuple[str, ...]) -> None:
        super().__init__()
        self.ask = f"Enter ticks or unticks; {key_for('go-on')} keeps what is ticked."
        self._ticked = dict.fromkeys(symptoms)

    def rows(self) -> list[Row]:
        return [self._with_tick(row) for row in symptom_rows(self.desk.trees)]

    def found(self, typed: str) -> list[Row]:
        return [self._with_tick(row) for row in meant_rows(self.desk.trees, typed)]

    def _with_tick(self, row: Row) -> Row:
        if not row.id:
            return row
        tick = "[x] " if all(each in self._ticked for each in _ids(row.id)) else "[ ] "
        return Row(row.id, assemble(tick, row.shown), row.words, row.under)

    def picked(self, identity: str) -> None:
        new = [each for each in _ids(identity) if each not in self._ticked]
        self._ticked |= dict.fromkeys(new)
        for each in () if new else _ids(identity):
            if len(self._ticked) > 1:
                del self._ticked[each]
        self.pick_list.show(self.rows())

    def action_keep_ticked(self) -> None:
        self.dismiss(tuple(self._ticked))


def _ids(row: str) -> list[str]:
    """The complaints of a row: one, or several to be taken together."""
    return row.removeprefix("symptom:").split("+")
