"""I already know something: any check that bears on the case, found by a word and answered at once."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from textual import on
from textual.widget import Widget

from diagnose.tui.screens.page import Page
from diagnose.tui.text import assemble, one_line
from diagnose.tui.view import Units, said
from diagnose.tui.widgets.pick_list import PickList, Row

if TYPE_CHECKING:
    from diagnose.calls.call import Call


class Known(Page[str]):
    """Dismissed with the check to answer."""

    def __init__(self, call: Call, units: Units) -> None:
        super().__init__("Call › I already know something")
        self._call, self._units = call, units

    def body(self) -> Iterable[Widget]:
        yield PickList(known_rows(self._call, self._units), hint="What is it about? Type a word of it.")

    @on(PickList.Picked)
    def _picked(self, event: PickList.Picked) -> None:
        self.dismiss(event.id)


def bearing(call: Call) -> list[str]:
    """The checks a person can answer that bear on the case, the most telling first."""
    from diagnose.reasoning.walk import inputs_of

    trees, tables = call.trees, call.situation.tables
    telling = {candidate.way.goal: candidate.information for candidate in call.planner.candidates}
    found = dict.fromkeys(sorted(tables, key=lambda check: (-telling.get(check, 0.0), trees.checks[check].text)))
    for check in list(found):
        found |= dict.fromkeys(inputs_of(trees, trees.checks[check]))
    return [check for check in found if trees.checks[check].kind != "computed"]


def known_rows(call: Call, units: Units) -> list[Row]:
    trees, answers = call.trees, call.state.answers
    rows = []
    for identity in bearing(call):
        check = trees.checks[identity]
        so_far = f"  (so far: {one_line(said(check, answers[identity], units))})" if identity in answers else ""
        unit = f"  [{check.unit}]" if check.unit else ""
        shown = assemble(one_line(check.text), (unit, "$text-muted"), (so_far, "bold"))
        rows.append(Row(identity, shown, " ".join(check.answers)))
    return rows
