"""I already know something: any check that bears on the case, found by a word and answered at once."""

from __future__ import annotations

from collections.abc import Iterable

from textual import on
from textual.widget import Widget

from diagnose.finding.reading import trade_reader
from diagnose.sitting.sitting import Sitting
from diagnose.sitting.view import said
from diagnose.tui.screens.page import Page
from diagnose.tui.text import assemble, one_line
from diagnose.tui.widgets.pick_list import PickList, Row


class Known(Page[str]):
    """Dismissed with the check to answer."""

    def __init__(self, sitting: Sitting) -> None:
        super().__init__("Call › I already know something")
        self._sitting = sitting

    def body(self) -> Iterable[Widget]:
        yield PickList(
            known_rows(self._sitting),
            hint="What is it about? Type a word of it.",
            reader=trade_reader(self.desk.trees),
        )

    @on(PickList.Picked)
    def _picked(self, event: PickList.Picked) -> None:
        self.dismiss(event.id)


def known_rows(sitting: Sitting) -> list[Row]:
    trees, answers = sitting.call.trees, sitting.call.state.answers
    rows = []
    for identity in sitting.bearing():
        check = trees.checks[identity]
        held = f"  (so far: {one_line(said(check, answers[identity], sitting.units))})" if identity in answers else ""
        unit = f"  [{check.unit}]" if check.unit else ""
        shown = assemble(one_line(check.text), (unit, "$text-muted"), (held, "bold"))
        rows.append(Row(identity, shown, " ".join(check.answers)))
    return rows
